"""Recipes and plugins: stage order, precedence of settings, and plugins that misbehave."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from clothpath.contracts import Settings
from clothpath.curves import polygon
from clothpath.design import Design, Piece
from clothpath.findings import Outcome, Refusal
from clothpath.jobs.config import RecipeFile
from clothpath.pipeline import designed
from clothpath.recipe import NO_SETTINGS, Layer, Recipe, resolved, settings_from_arguments
from clothpath.regions import region
from clothpath.registry import Registry, installed, reader_for, with_files

RECIPE = [{"use": "separate"}, {"use": "scale-to-spec"}, {"use": "mirror"}, {"use": "nest"}]


def settled(
    steps: list[dict[str, Any]],
    machine: Layer = NO_SETTINGS,
    layers: tuple[Layer, ...] = (),
    supplied: Layer = NO_SETTINGS,
    arguments: Layer = NO_SETTINGS,
    registry: Registry | None = None,
) -> Recipe:
    recipe = RecipeFile.model_validate({"schema": "clothpath/recipe@1", "step": steps})
    return resolved(recipe, "my.toml", registry or installed(), machine, layers, supplied, arguments)


def spacing(recipe: Recipe) -> float:
    return float(recipe.stage("layout")[0].settings.spacing)  # type: ignore[attr-defined]


def test_later_places_overrule_earlier_ones() -> None:
    # design.md section 6: plugin default < machine profile < recipe < catalog < design < size < --set
    def layer(where: str, length: str) -> Layer:
        return Layer(where, {"nest": {"spacing": length}})

    machine, places = (
        layer("machine", "2 mm"),
        [layer("catalog", "4 mm"), layer("design", "5 mm"), layer("size", "6 mm")],
    )
    assert spacing(settled(RECIPE)) == pytest.approx(25.4 / 8)  # common practice: 1/8 in between fused pieces
    assert spacing(settled(RECIPE, machine)) == 2
    own = [*RECIPE[:3], {"use": "nest", "spacing": "3 mm"}]
    assert spacing(settled(own, machine)) == 3
    for n in (1, 2, 3):
        assert spacing(settled(own, machine, tuple(places[:n]))) == 3 + n
    assert spacing(settled(own, machine, tuple(places), NO_SETTINGS, layer("--set", "7 mm"))) == 7


def test_what_the_catalog_says_goes_to_the_steps_that_ask() -> None:
    supplied = Layer("catalog", {"": {"width": "6 in", "fabric": {"coral": {"color": "#d9583b"}}}})
    separate, scale, *_ = settled(RECIPE, supplied=supplied).steps
    assert scale.settings.width.mm == pytest.approx(152.4)  # type: ignore[attr-defined]
    assert list(separate.settings.fabric) == ["coral"]  # type: ignore[attr-defined]
    over = settings_from_arguments(["scale-to-spec.width=8 in"])
    assert settled(RECIPE, supplied=supplied, arguments=over).steps[1].settings.width.mm == pytest.approx(203.2)  # type: ignore[attr-defined]


def test_turned_edges_imply_bare_cloth_unless_anybody_says_otherwise() -> None:
    """Fusible web is not pressed to cloth whose edges are turned under (common practice)."""
    turned: list[dict[str, Any]] = [*RECIPE[:2], {"use": "turn-under"}, *RECIPE[2:]]

    def preparation(steps: list[dict[str, Any]], *said: str) -> object:
        return settled(steps, arguments=settings_from_arguments(said)).steps[0].settings.preparation  # type: ignore[attr-defined]

    assert preparation(RECIPE) is None
    assert preparation(turned) == "bare"
    assert preparation(turned, "separate.preparation=fused") == "fused"
    (told,) = settled(turned).findings
    assert (told.code, told.severity, "turn-under" in told.message, "bare" in told.message) == (
        "implied", "note", True, True
    )  # fmt: skip
    assert settled([{"use": "separate", "preparation": "bare"}, *turned[1:]]).findings == ()
    assert settled([*RECIPE[:2], {"use": "inset"}, *RECIPE[2:]]).findings == ()


@pytest.mark.parametrize(
    ("steps", "code", "told"),
    [
        ([{"use": "nest"}, {"use": "mirror"}], "stage-order", "design steps first"),
        ([{"use": "seperate"}], "unknown-step", 'Did you mean "separate"'),
        ([{"use": "mirror"}, {"use": "mirror"}], "step-twice", "id ="),
        ([{"use": "nest", "spcing": "1/8 in"}], "unknown-key", 'Did you mean "spacing"'),
        ([{"use": "nest", "spacing": 3}], "wrong-value", "no unit"),
        ([{"use": "nest", "spacing": "3 px"}], "wrong-value", "no fixed size"),
        ([{"use": "separate", "by": "colour"}], "wrong-value", 'Did you mean "color"'),
    ],
)
def test_a_wrong_recipe_is_refused_with_the_remedy(steps: list[dict[str, Any]], code: str, told: str) -> None:
    with pytest.raises(Refusal) as caught:
        settled(steps)
    finding = caught.value.findings[0]
    assert finding.code == code
    assert "my.toml" in finding.where
    assert told in f"{finding.message} {finding.hint}"


def test_a_step_may_stand_twice_under_two_ids() -> None:
    recipe = settled([{"use": "mirror"}, {"use": "mirror", "id": "again", "wrong-side-up": ["a"]}])
    assert [step.key for step in recipe.steps] == ["mirror", "again"]


def test_settings_for_a_step_that_is_not_there_are_told() -> None:
    with pytest.raises(Refusal) as caught:
        settled(RECIPE, arguments=settings_from_arguments(["nst.copies=2"]))
    assert (caught.value.findings[0].code, caught.value.findings[0].where) == ("unknown-step", "--set")


@pytest.mark.parametrize(
    ("argument", "told"),
    [
        ("underlap.over=window,tower", 'For example: --set underlap.over=\'[["window", "tower"]]\''),
        (
            "turn-under.by-fabric='coral=0.2 mm'",
            'For example: --set turn-under.by-fabric=\'{"coral" = "3/16 in", "shell" = "1/8 in"}\'',
        ),
    ],
)
def test_a_wrong_argument_is_told_with_one_that_works(argument: str, told: str) -> None:
    steps = [{"use": "separate"}, {"use": "underlap"}, {"use": "turn-under"}, {"use": "nest"}]
    with pytest.raises(Refusal) as caught:
        settled(steps, arguments=settings_from_arguments([argument]))
    (found,) = caught.value.findings
    assert found.hint == told
    example = told.partition("--set ")[2].replace("'", "")
    assert settled(steps, arguments=settings_from_arguments([example])).steps


def test_a_machine_cannot_set_a_design_step() -> None:
    with pytest.raises(Refusal) as caught:
        settled(RECIPE, machine=Layer("mat.toml", {"scale-to-spec": {"width": "4 in"}}))
    assert caught.value.findings[0].code == "machine-sets-design"


class _Fake:
    summary = "for the test"
    stage = "design"
    settings = Settings

    def __init__(self, name: str, lengths: str = "", answer: Any = None) -> None:
        self.name, self.lengths, self.answer = name, lengths, answer

    def apply(self, design: Design, settings: Settings) -> Any:
        if isinstance(self.answer, BaseException):
            raise self.answer
        return self.answer


def _registry(*fakes: _Fake) -> Registry:
    return Registry({}, {fake.name: fake for fake in fakes}, {}, {})  # type: ignore[dict-item]


def test_a_fixed_length_must_not_be_scaled_afterwards() -> None:
    registry = _registry(_Fake("tuck", "absolute"), _Fake("grow", "rescales"))
    with pytest.raises(Refusal) as caught:
        settled([{"use": "tuck"}, {"use": "grow"}], registry=registry)
    assert caught.value.findings[0].code == "length-scaled"
    assert settled([{"use": "grow"}, {"use": "tuck"}], registry=registry).steps


PIECE = Piece("a", "a", region(polygon([0j, 1 + 0j, 1j])), "a")


@pytest.mark.parametrize(
    ("answer", "code"),
    [
        (ValueError("boom"), "plugin-failed"),
        (RecursionError(), "plugin-failed"),
        (BaseException("a panic from a compiled library"), "plugin-failed"),
        (None, "plugin-nonsense"),
        (Outcome("no design"), "plugin-nonsense"),
    ],
)
def test_a_plugin_that_misbehaves_is_named(answer: Any, code: str) -> None:
    steps = settled([{"use": "odd"}], registry=_registry(_Fake("odd", answer=answer))).steps
    with pytest.raises(Refusal) as caught:
        designed(Design("crab", (PIECE,)), steps)
    assert caught.value.findings[0].code == code
    assert '"odd"' in caught.value.findings[0].message


def test_the_built_in_plugins_load_like_anybody_elses() -> None:
    registry = installed()
    assert registry.findings == ()
    assert {"svg", "dxf"} <= set(registry.readers)
    assert {"svg", "dxf", "pdf", "hpgl"} <= set(registry.writers)
    assert {"svg", "dxf", "pdf", "hpgl"} <= set(registry.measurers)


def test_a_plugin_file_joins_in_and_a_broken_one_stops_nobody(tmp_path: Path) -> None:
    good, broken = tmp_path / "halve.py", tmp_path / "broken.py"
    good.write_text(
        "from clothpath.contracts import Settings, hookimpl\n"
        "from clothpath.curves import Affine\n"
        "from clothpath.design import mapped\n"
        "from clothpath.findings import Outcome\n"
        "class Halve:\n"
        "    name, summary, stage, settings = 'halve', 'Half the size', 'design', Settings\n"
        "    def apply(self, design, settings): return Outcome(mapped(design, Affine.scale(0.5)))\n"
        "@hookimpl\n"
        "def clothpath_transforms(): return [Halve()]\n"
    )
    broken.write_text("1 / 0\n")
    registry = with_files((good, broken))
    assert "halve" in registry.transforms
    assert "separate" in registry.transforms
    assert [finding.code for finding in registry.findings] == ["plugin-broken"]
    half = designed(Design("crab", (PIECE,)), settled([{"use": "halve"}], registry=registry).steps).value
    assert half.finished_box.width == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("head", "told"),
    [
        (b"", "an empty file"),
        (b"   \n", "an empty file"),
        (b"\x89PNG\r\n\x1a\n....", "PNG picture"),  # signature: PNG specification, 5.2
        (b"\xff\xd8\xff\xe0", "JPEG picture"),
        (b"%PDF-1.7", "PDF"),  # ISO 32000, 7.5.2
        (b"hello", "no drawing"),
        (b"<html></html>", "not an SVG drawing"),
    ],
)
def test_what_is_no_drawing_is_told_by_what_it_looks_like(head: bytes, told: str) -> None:
    with pytest.raises(Refusal) as caught:
        reader_for(installed(), head, "picture.svg")
    assert told in caught.value.findings[0].message
    assert caught.value.findings[0].where == "picture.svg"


def test_two_readers_equally_sure_are_an_error_that_names_both() -> None:
    class Claims:
        settings = Settings

        def __init__(self, name: str) -> None:
            self.name = name

        def recognizes(self, head: bytes) -> float:
            return 0.5

    registry = Registry({"one": Claims("one"), "two": Claims("two")}, {}, {}, {})  # type: ignore[dict-item]
    with pytest.raises(Refusal, match="one and two"):
        reader_for(registry, b"x", "file")
