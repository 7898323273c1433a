"""1,000 random jobs for `nest`, each checked by the checker of layouts; prints how many were laid and refused, and why.

python tests/benchmarks/layout_jobs.py [jobs]
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from pathlib import Path

from hypothesis import HealthCheck, given, settings

sys.path.insert(0, str(Path(__file__).parents[1] / "plugins" / "transforms"))

from job_strategies import Job, jobs  # type: ignore[import-not-found]

from clothpath.findings import Refusal
from clothpath.plugins.transforms.nest import Nest, NestSettings

EXPECTED = {"piece-too-large", "piece-larger-than-stock", "stock-short", "nothing-to-cut"}


def main(count: int) -> int:
    """Lays the jobs; 1 if any was refused for a reason that no person would understand."""
    seen: Counter[str] = Counter()
    milliseconds: list[float] = []

    @settings(max_examples=count, deadline=None, derandomize=True, database=None, suppress_health_check=HealthCheck)
    @given(jobs())
    def run(job: Job) -> None:
        start = time.perf_counter()
        try:
            Nest().apply(job.layout, NestSettings(**job.settings), job.layout.mat, job.stock)
            seen["laid"] += 1
            milliseconds.append((time.perf_counter() - start) * 1000)
        except Refusal as refusal:
            for code in {finding.code for finding in refusal.findings}:
                seen[code] += 1
                if code not in EXPECTED:
                    print(job, refusal.findings[:2], sep="\n")

    run()
    for code, number in seen.most_common():
        print(f"{number:6}  {code}")
    milliseconds.sort()
    if milliseconds:
        print(f"milliseconds a job: median {milliseconds[len(milliseconds) // 2]:.0f}, longest {milliseconds[-1]:.0f}")
    return int(any(code not in EXPECTED | {"laid"} for code in seen))


if __name__ == "__main__":
    raise SystemExit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000))
