"""JSON of the whole model: designs, layout and cut plan, readable again by the reader of the same name."""

from __future__ import annotations

import json
from typing import Final

from clothpath.contracts import Document, Settings, hookimpl
from clothpath.cutplan import CutPlan
from clothpath.files.modelfile import as_plain
from clothpath.findings import Outcome

__all__ = ["JsonWriter"]


class JsonWriter:
    """Writes JSON."""

    name: Final = "json"
    summary: Final = "The whole model as JSON, readable again"
    settings: Final = Settings

    def compose(self, plan: CutPlan, settings: Settings) -> Outcome[tuple[Document, ...]]:
        """One file."""
        data = json.dumps(as_plain(plan), ensure_ascii=False, allow_nan=False, separators=(",", ":"))
        return Outcome((Document("model.json", data.encode() + b"\n"),))


@hookimpl
def clothpath_writers() -> list[JsonWriter]:
    """The JSON writer."""
    return [JsonWriter()]
