"""A job from its drawing to its pages: what was noticed on the way reaches the person at the machine."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from clothpath.catalog import jobs_of
from clothpath.jobs.job import Job, run
from clothpath.recipe import NO_SETTINGS

TIDEPOOL = Path(str(files("clothpath.samples"))) / "tidepool" / "catalog.toml"


def crab() -> Job:
    return next(job for job in jobs_of(TIDEPOOL, ["mat-12x12"], NO_SETTINGS, ()) if job.design == "crab")


def test_warnings_and_the_title_reach_the_job_sheet() -> None:
    result = run(crab())
    warnings = [finding for finding in result.findings if finding.severity == "warning"]
    assert warnings
    assert result.plan is not None
    (page,) = [file.data.decode() for file in result.files if file.format == "job-sheet"]
    assert "Job sheet: crab, small, for mat-12x12" in page
    for finding in set(warnings) & set(result.plan.findings):
        assert finding.hint.replace("&", "&amp;") in page
    (card,) = [file.data.decode() for file in result.files if file.format == "size-card"]
    assert "Size card: crab, small, for mat-12x12" in card
