"""The version of Clothpath, alone in a module so that asking for it imports nothing else."""

VERSION = "0.1.0"
