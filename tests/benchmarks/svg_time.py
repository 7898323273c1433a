"""How long the SVG reader takes, against svgelements parsing the same files alone.

    npm install --prefix ../npm @twemoji/svg
    python tests/benchmarks/svg_time.py ../npm/node_modules/@twemoji/svg [--every 8] [--passes 3]

Both read each file of the folder in turn, in one process, so that they share what else the machine does. Prints the
processor time of each pass and of the best of all passes file by file, and their ratios; exit status 1 if one of the
ratios is over 1.
"""

from __future__ import annotations

import argparse
import io
import sys
import time
from collections.abc import Callable
from pathlib import Path

import svgelements

from clothpath.plugins.readers.svg import SvgReader, SvgSettings


def seconds(read: Callable[[bytes], object], data: bytes) -> float:
    """The processor time that one reading takes."""
    began = time.process_time()
    read(data)
    return time.process_time() - began


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--every", type=int, default=1, help="take only each n-th file")
    parser.add_argument("--passes", type=int, default=3)
    arguments = parser.parse_args()
    files = [file.read_bytes() for file in sorted(arguments.folder.glob("*.svg"))[:: arguments.every]]
    reader, settings = SvgReader(), SvgSettings()
    taken: list[list[tuple[float, float]]] = []
    ratios: list[float] = []

    def tell(name: str, times: list[tuple[float, float]]) -> None:
        ours, theirs = (sum(column) / len(files) * 1e3 for column in zip(*times, strict=True))
        ratios.append(ours / theirs)
        print(f"{name}: {ours:.2f} ms a file, svgelements {theirs:.2f} ms, ratio {ours / theirs:.2f}", flush=True)

    for number in range(1, arguments.passes + 1):
        taken.append(
            [
                (
                    seconds(lambda data: reader.read(data, settings), data),
                    seconds(lambda data: svgelements.SVG.parse(io.BytesIO(data)), data),
                )
                for data in files
            ]
        )
        tell(f"pass {number}", taken[-1])
    best = [(min(ours for ours, _ in each), min(theirs for _, theirs in each)) for each in zip(*taken, strict=True)]
    tell(f"best of {arguments.passes}", best)
    return 0 if max(ratios) <= 1 else 1


if __name__ == "__main__":
    sys.exit(main())
