"""Designs out of a JSON file of the whole model, as the writer of the same name makes it."""

from __future__ import annotations

import json
from typing import Any, Final

from clothpath.contracts import Settings, hookimpl
from clothpath.design import Design
from clothpath.files.modelfile import MODEL_SCHEMA, ModelError, designs_from
from clothpath.findings import Outcome, Refusal, error

__all__ = ["JsonReader"]

SURE: Final = 0.95
"""Confidence in a file that names the schema where it begins."""


class JsonReader:
    """Reads JSON."""

    name: Final = "json"
    summary: Final = "A whole model as JSON"
    settings: Final = Settings

    def recognizes(self, head: bytes) -> float:
        """Sure of a file that begins with the schema's name."""
        start = head.removeprefix(b"\xef\xbb\xbf").lstrip()
        return SURE if start.startswith(b"{") and MODEL_SCHEMA.encode() in start[:200] else 0.0

    def read(self, data: bytes, settings: Settings) -> Outcome[Design]:
        """The design of the model.

        Raises:
            Refusal: the file is no JSON, no model, or holds several designs.
        """
        try:
            designs = designs_from(_loaded(data))
        except ModelError as fault:
            raise Refusal(
                error("not-a-model", f"The file is no model: {fault}.", hint="Write it again with format json.")
            ) from None
        if len(designs) != 1:
            names = ", ".join(design.name for design in designs) or "none"
            raise Refusal(
                error(
                    "several-designs",
                    f"The file holds {len(designs)} designs ({names}), and a drawing is one.",
                    hint="Write a file for each design.",
                )
            )
        return Outcome(designs[0])


def _loaded(data: bytes) -> Any:
    """The plain data.

    Raises:
        Refusal: it is no JSON.
    """
    try:
        return json.loads(data)
    except json.JSONDecodeError as fault:
        raise Refusal(
            error("not-json", f"The file is no JSON: {fault.msg}.", f"line {fault.lineno}, column {fault.colno}")
        ) from None
    except (UnicodeDecodeError, RecursionError, ValueError) as fault:
        raise Refusal(error("not-json", f"The file is no JSON: {fault}.")) from None


@hookimpl
def clothpath_readers() -> list[JsonReader]:
    """The JSON reader."""
    return [JsonReader()]
