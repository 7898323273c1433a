"""What is written is what stands in golden/, byte for byte; `golden_files.py` says how to renew it."""

import pytest
from golden_files import CUT_FILES, FOLDER, made


@pytest.mark.parametrize("name", [*CUT_FILES, "crab-cut-list.csv", "crab-model.json"])
def test_same_bytes_as_ever(name: str) -> None:
    assert made()[name] == (FOLDER / name).read_bytes()


def test_nothing_stands_there_that_is_not_written() -> None:
    assert {path.name for path in FOLDER.iterdir()} == made().keys()
