"""What `plugins` tells of settings: lengths are stated with their unit, as a person states them."""

from __future__ import annotations

import jsonschema
import pytest

from clothpath.findings import Refusal
from clothpath.jobs.listing import plugins_document
from clothpath.registry import installed
from clothpath.report import plugins_text
from clothpath.units import parse_length


def test_default_lengths_are_text_with_a_unit_that_reads_back_as_the_default() -> None:
    found = 0
    registry = installed()
    for kind, table in (("steps", registry.transforms), ("writers", registry.writers), ("readers", registry.readers)):
        for told in plugins_document(registry)[kind]:
            jsonschema.Draft202012Validator.check_schema(told["settings"])
            defaults = table[told["name"]].settings()
            for name, field in type(defaults).model_fields.items():
                schema = told["settings"]["properties"][field.alias or name]
                if schema.get("format") == "length" and "default" in schema:
                    assert abs(parse_length(schema["default"]).mm - getattr(defaults, name)) < 1e-6
                    found += 1
    assert found > 20


def test_the_text_shows_them_as_a_ruler_does() -> None:
    said = plugins_text(plugins_document(installed()))
    assert "spacing [1/8 in]: least distance between two pieces" in said
    assert "safe-height [25 mm]: " in said
    assert "4.76" not in said


def test_named_plugins_are_listed_alone_and_an_unknown_name_is_told() -> None:
    document = plugins_document(installed(), ["svg", "mirror"])
    assert {kind: [each["name"] for each in document[kind]] for kind in ("readers", "steps", "writers")} == {
        "readers": ["svg"],
        "steps": ["mirror"],
        "writers": ["svg"],
    }
    with pytest.raises(Refusal, match="nets"):
        plugins_document(installed(), ["nets"])
