"""Damage SVG drawings at random and read them: each must end in a design or in a refusal, within the limits.

    python tests/benchmarks/svg_fuzz.py --seconds 3600 [--seed 1] [FILE...]

Seeds are the cases of the reader's tests and the files given. Prints every input that raised anything else, took longer
than the limit, or took more memory; exit status 1 if there was one.
"""

from __future__ import annotations

import argparse
import random
import resource
import sys
import time
import traceback
from pathlib import Path

from clothpath.findings import Refusal
from clothpath.plugins.readers.svg import SvgReader, SvgSettings

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "plugins" / "readers"))
from svg_cases import CASES, document

LIMIT_S = 10.0
LIMIT_KIB = 1024 * 1024
SCRAPS = [
    *("<", ">", '"', "'", "&", "&amp;", "&#0;", "#", "%", "-", ";", "{", "}", "(", ")", "\0", "é", "]]>", "<!--", "/>"),
    *(
        "e9",
        "1e999",
        "1e30",
        "1e-30",
        "NaN",
        "Infinity",
        "0",
        "-1",
        "M",
        "z",
        "A1 1 0 0",
        "t9 9",
        "0 0 0 0",
        "calc(1px",
    ),
    *(
        "url(#s)",
        "url(#c)",
        "<g>",
        "</g>",
        "<use href='#s'/>",
        "!important",
        "inherit",
        "var(--x)",
        "objectBoundingBox",
    ),
    *(
        " transform='scale(0)'",
        " transform='matrix(1 2 2 4 0 0)'",
        " viewBox='0 0 0 0'",
        " clip-path='url(#c)'",
        " id='s'",
    ),
]


def damaged(text: str, pick: random.Random) -> str:
    """The text with a few cuts, scraps, repeats and exchanges."""
    for _ in range(pick.randint(1, 6)):
        at = pick.randrange(len(text) + 1)
        end = min(len(text), at + pick.choice((0, 0, 1, 2, 5, 20, 80)))
        what = pick.choice(("scrap", "scrap", "cut", "repeat", "digit", "move"))
        if what == "scrap":
            text = text[:at] + pick.choice(SCRAPS) + text[end:]
        elif what == "cut":
            text = text[:at] + text[end:]
        elif what == "repeat":
            text = text[:end] + text[at:end] * pick.choice((1, 3, 30)) + text[end:]
        elif what == "digit":
            text = "".join(pick.choice("0123456789.-e") if c.isdigit() and pick.random() < 0.1 else c for c in text)
        else:
            to = pick.randrange(len(text) + 1)
            text = text[:to] + text[at:end] + text[to:]
    return text


def fault_of(reader: SvgReader, settings: SvgSettings, text: str) -> str:
    """What went wrong, "" if all went well."""
    started = time.perf_counter()
    try:
        outcome = reader.read(text.encode("utf-8", "surrogatepass"), settings)
        if any(finding.severity == "error" for finding in outcome.findings):
            return "an error among the findings of a design"
    except Refusal as refusal:
        if not any(finding.severity == "error" for finding in refusal.findings):
            return "a refusal without an error"
    except Exception:
        return traceback.format_exc()
    taken = time.perf_counter() - started
    return f"took {taken:.1f} s" if taken > LIMIT_S else ""


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("files", nargs="*", type=Path)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    pick = random.Random(arguments.seed)
    seeds = [document(case) for case in CASES] + [file.read_text("utf-8") for file in arguments.files]
    reader, settings = SvgReader(), SvgSettings()
    ended = time.monotonic() + arguments.seconds
    tried = faults = 0
    while time.monotonic() < ended:
        text = damaged(pick.choice(seeds), pick)
        tried += 1
        fault = fault_of(reader, settings, text)
        if fault:
            faults += 1
            print(f"--- {fault}\n{text}\n")
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print(f"{tried} damaged drawings, {faults} faults, at most {most / 1024:.0f} MiB")
    return 1 if faults or most > LIMIT_KIB else 0


if __name__ == "__main__":
    sys.exit(main())
