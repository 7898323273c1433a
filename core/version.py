"""The version of Clothpath, alone in a module so that asking for it imports nothing else."""

from typing import Final

VERSION: Final = "0.1.0"
