"""The quick search gives the same bytes in every process, whatever the order of its hashes."""

import os
import subprocess
import sys
from pathlib import Path

SCRIPT = """
from nesting_shapes import heart, leaf, star
from clothpath.nesting import Part, candidates, fill, fit, strip
hearts, leaves = Part("heart", heart(20), (), None, 3), Part("leaf", leaf(50, 12), (), None, 4)
parts = [hearts, leaves, Part("star", star(20, 9), (), (0.0,), 2)]
print(strip(parts, 150, 3.175, 6.35))
print(candidates(parts, 300, 300, 3.175, 6.35))
print(fit(parts, 120, 120, 3.175, 6.35))
print(fill(parts[:1], 200, 200, 3.175))
"""


def run(seed: str) -> bytes:
    env = {**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": str(Path(__file__).parent)}
    return subprocess.run([sys.executable, "-c", SCRIPT], env=env, capture_output=True, check=True).stdout


def test_two_processes_agree_to_the_byte() -> None:
    first = run("1")
    assert first.count(b"Packing(") >= 4
    assert run("2") == first
