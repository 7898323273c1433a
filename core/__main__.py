"""The entry point; asking for the version loads nothing else."""

from __future__ import annotations

import sys


def main() -> int:
    """Run the command line; the result is the exit status."""
    if sys.argv[1:] == ["--version"]:
        from clothpath.version import VERSION

        print(f"clothpath {VERSION}")
        return 0
    from clothpath.cli import run

    return run(sys.argv[1:])


if __name__ == "__main__":
    sys.exit(main())
