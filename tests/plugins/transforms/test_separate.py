"""separate, scale-to-spec and mirror: fabrics, size and orientation as section 6 of the design defines them."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clothpath.curves import circle, open_path, polygon
from clothpath.design import Design, Drawn, Fabric, Marking, Piece, Source
from clothpath.findings import Outcome, Refusal
from clothpath.plugins.transforms.mirror import Mirror, MirrorSettings
from clothpath.plugins.transforms.scale_to_spec import ScaleToSpec, ScaleToSpecSettings
from clothpath.plugins.transforms.separate import Separate, SeparateSettings
from clothpath.regions import region, region_area


def square(name: str, left: float, fill: str, layer: str = "", size: float = 10.0, order: int = 1) -> Piece:
    corners = [complex(left, 0), complex(left + size, 0), complex(left + size, size), complex(left, size)]
    drawn = Drawn(fill=fill, layer=layer, groups=(layer,) if layer else (), element=name)
    return Piece(name, name, region(polygon(corners)), "guess", order=order, drawn=drawn)


def picture(*pieces: Piece, markings: tuple[Marking, ...] = ()) -> Design:
    return Design("crab", pieces, markings, (Fabric("guess", "guess"),))


CRAB = picture(
    square("shell", 0, "#cc5533", "body", order=1),
    square("claw", 20, "#cc5533", "claws", order=2),
    square("eye", 2, "#ffffff", "body", size=4, order=3),
    square("background", 50, "#dde8ee", "behind", order=4),
)


def separated(design: Design, **settings: Any) -> Outcome[Design]:
    return Separate().apply(design, SeparateSettings.model_validate(settings))


def test_by_color_puts_pieces_of_one_color_together() -> None:
    done = separated(CRAB, by="color").value
    assert done.pieces[0].fabric == done.pieces[1].fabric
    assert len({piece.fabric for piece in done.pieces}) == 3
    assert [fabric.key for fabric in done.fabrics] == list(dict.fromkeys(piece.fabric for piece in done.pieces))


def test_by_layer_puts_pieces_of_one_layer_together() -> None:
    done = separated(CRAB, by="layer").value
    assert [piece.fabric for piece in done.pieces] == ["body", "claws", "body", "behind"]


def test_the_closest_selector_wins() -> None:
    fabric = {
        "red": {"color": "#c53"},
        "claws": {"layer": "claws", "color": "#aa0000"},
        "white": {"pieces": ["eye"], "color": "#ffffff"},
        "blue": {"color": "#dde8ee"},
    }
    done = separated(CRAB, fabric=fabric).value
    assert [piece.fabric for piece in done.pieces] == ["red", "claws", "white", "blue"]
    assert {fabric.key: fabric.color for fabric in done.fabrics}["claws"] == "#aa0000"


def test_black_lines_only_are_told_apart_by_piece_ids() -> None:
    black = picture(*(replace(p, drawn=Drawn(stroke="#000000", element=p.id)) for p in CRAB.pieces))
    fabric = {"shell": {"pieces": ["shell", "claw"]}, "rest": {"pieces": ["eye", "background"]}}
    assert [piece.fabric for piece in separated(black, fabric=fabric).value.pieces] == [
        "shell",
        "shell",
        "rest",
        "rest",
    ]


def test_what_is_omitted_is_not_cut_and_what_is_marked_lies_on_its_piece() -> None:
    outcome = separated(CRAB, by="color", omit=["piece:background"], mark=["color:#ffffff"])
    done = outcome.value
    assert [piece.id for piece in done.cut_pieces] == ["shell", "claw"]
    assert [(marking.id, marking.on, marking.role) for marking in done.markings] == [("eye", "shell", "mark")]
    assert not outcome.findings


def test_a_closer_role_overrules_a_wider_one() -> None:
    done = separated(CRAB, mark=["layer:body"], omit=["piece:eye", "piece:background"]).value
    assert [piece.id for piece in done.cut_pieces] == ["claw"]
    assert [marking.id for marking in done.markings] == ["shell"]


def test_a_marking_on_no_piece_is_told() -> None:
    line = Marking("smile", "smile", open_path(100 + 100j, [(120 + 100j,)]))
    outcome = separated(replace(CRAB, markings=(line,)))
    assert outcome.value.markings[0].on is None
    assert [finding.code for finding in outcome.findings] == ["marking-on-nothing"]


def test_fabrics_say_how_the_cloth_is_treated() -> None:
    fabric = {
        "red": {"color": "#cc5533", "paper": "keep", "label": "Coral"},
        "white": {"color": "#ffffff", "preparation": "bare"},
        "blue": {"color": "#dde8ee", "grain": "directional"},
    }
    red, white, blue = separated(CRAB, fabric=fabric).value.fabrics
    assert (red.label, red.paper, red.grain) == ("Coral", "keep", "any")  # fused: any turn (common practice)
    assert (white.preparation, white.grain) == ("bare", "straight")  # bare: quarter turns (common practice)
    assert blue.grain == "directional"


@pytest.mark.parametrize(
    ("settings", "code", "told"),
    [
        ({"fabric": {"a": {"pieces": ["shel"]}}}, "unknown-piece", 'Did you mean "shell"'),
        ({"mark": ["piece:eyes"]}, "unknown-piece", 'Did you mean "eye"'),
        ({"fabric": {"a": {"label": "A"}}}, "fabric-without-rule", "color, layer, group or pieces"),
        ({"omit": ["layer:body", "layer:claws", "layer:behind"]}, "nothing-to-cut", "selectors"),
    ],
)
def test_what_cannot_be_separated_is_refused(settings: dict[str, Any], code: str, told: str) -> None:
    with pytest.raises(Refusal) as caught:
        separated(CRAB, **settings)
    finding = caught.value.findings[0]
    assert finding.code == code
    assert told in f"{finding.message} {finding.hint}"


def test_pieces_that_no_fabric_names_and_fabrics_without_pieces_are_told() -> None:
    found = separated(CRAB, fabric={"red": {"color": "#cc5533"}}).findings
    assert [finding.code for finding in found] == ["piece-without-fabric"]
    every = {"red": {"color": "#cc5533"}, "white": {"color": "#ffffff"}, "blue": {"color": "#dde8ee"}}
    found = separated(CRAB, fabric=every | {"green": {"color": "#00ff00"}}).findings
    assert [(finding.code, finding.severity) for finding in found] == [("fabric-unused", "warning")]


def test_a_mistyped_color_is_an_error_that_shows_both_values() -> None:
    with pytest.raises(Refusal) as caught:
        separated(CRAB, fabric={"red": {"color": "#cc5534"}, "white": {"color": "#ffffff"}})
    (finding,) = caught.value.findings
    assert (finding.code, finding.severity) == ("fabric-unused", "error")
    assert "fabric.red" in finding.where
    assert "#cc5533" in finding.hint
    assert "#cc5534" in finding.hint


def test_a_mistyped_layer_is_an_error_that_names_the_nearest() -> None:
    with pytest.raises(Refusal) as caught:
        separated(CRAB, fabric={"red": {"layer": "claw"}})
    assert 'Did you mean "claws"' in caught.value.findings[0].hint


def test_bare_cloth_has_no_paper_to_keep() -> None:
    with pytest.raises(Refusal) as caught:
        separated(CRAB, fabric={"red": {"color": "#cc5533", "preparation": "bare", "paper": "keep"}})
    (finding,) = caught.value.findings
    assert 'preparation = "bare"' in finding.message
    assert 'paper = "keep"' in finding.message


def test_a_recipe_says_how_all_are_prepared_and_a_fabric_may_say_otherwise() -> None:
    fabric = {"red": {"color": "#cc5533"}, "white": {"color": "#ffffff", "preparation": "fused"}}
    red, white, guess = separated(CRAB, preparation="bare", fabric=fabric).value.fabrics
    assert (red.preparation, red.grain) == ("bare", "straight")  # bare: quarter turns (common practice)
    assert (white.preparation, white.grain) == ("fused", "any")
    assert (guess.preparation, guess.grain) == ("bare", "straight")
    assert {each.preparation for each in separated(CRAB).value.fabrics} == {"fused"}
    assert {each.preparation for each in separated(CRAB, by="color", preparation="bare").value.fabrics} == {"bare"}


def test_of_bare_cloth_no_paper_is_told() -> None:
    bare = separated(CRAB, preparation="bare").value
    (finding,) = Mirror().apply(bare, MirrorSettings()).findings
    assert (finding.code, finding.severity) == ("laid-assumed", "note")
    assert "paper" not in finding.hint
    assert "mirror.wrong-side-up=guess" in finding.hint
    (finding,) = Mirror().apply(CRAB, MirrorSettings()).findings
    assert finding.severity == "warning"  # a forgotten word about paper ruins cloth
    assert "keep their paper" in finding.hint


def test_a_grain_that_was_stated_stays_when_the_preparation_changes() -> None:
    known = replace(CRAB, fabrics=(Fabric("guess", "guess", grain="directional"),))
    (fabric,) = separated(known, preparation="bare").value.fabrics
    assert (fabric.preparation, fabric.grain) == ("bare", "directional")


def test_paper_that_is_kept_contradicts_a_recipe_for_bare_cloth() -> None:
    with pytest.raises(Refusal) as caught:
        separated(CRAB, preparation="bare", fabric={"red": {"color": "#cc5533", "paper": "keep"}})
    (finding,) = caught.value.findings
    assert finding.code == "bare-with-paper"
    assert "recipe" in finding.message
    assert 'preparation = "fused"' in finding.hint


FRAMED = picture(
    square("sky", -10, "#dde8ee", size=80),
    replace(square("shell", 0, "#cc5533", order=2), region=region(circle(20 + 20j, 12))),
)


def backgrounds(design: Design, **settings: Any) -> list[str]:
    return [f.hint for f in separated(design, **settings).findings if f.code == "looks-like-background"]


def test_a_rectangle_behind_the_picture_is_cut_and_told() -> None:
    outcome = separated(FRAMED)
    assert [piece.id for piece in outcome.value.cut_pieces] == ["sky", "shell"]
    (finding,) = outcome.findings
    assert "3 1/8 in (80 mm) wide" in finding.message
    assert 'omit = ["piece:sky"]' in finding.hint
    assert "--set separate.omit=piece:sky" in finding.hint


def test_a_rectangle_as_large_as_the_page_is_a_background_though_pieces_run_out_of_it() -> None:
    wide = replace(FRAMED.pieces[1], region=region(circle(70 + 20j, 12)))
    beyond = replace(FRAMED, pieces=(FRAMED.pieces[0], wide))
    assert not backgrounds(beyond)
    assert backgrounds(replace(beyond, source=Source(size_mm=(80.0, 80.0))))


def test_what_is_no_background() -> None:
    assert not backgrounds(FRAMED, omit=["piece:sky"])
    assert not backgrounds(FRAMED, fabric={"sky": {"pieces": ["sky"]}, "red": {"color": "#cc5533"}})  # stated
    disk = replace(FRAMED.pieces[0], region=region(circle(20 + 20j, 40)))
    assert not backgrounds(replace(FRAMED, pieces=(disk, FRAMED.pieces[1])))
    assert not backgrounds(replace(FRAMED, pieces=FRAMED.pieces[:1]))  # the only piece
    assert not backgrounds(CRAB)  # the first is a square that does not hold the rest


# --- scale-to-spec


def scaled(design: Design, **settings: str) -> Outcome[Design]:
    return ScaleToSpec().apply(design, ScaleToSpecSettings.model_validate(settings))


WIDE = picture(square("a", 3, "#111111"), square("b", 33, "#222222"))  # 40 mm wide, 10 mm high


@pytest.mark.parametrize(
    ("settings", "width_mm"),
    [({"width": "8 in"}, 203.2), ({"height": "1 in"}, 101.6), ({"width": "8 in", "height": "2 in"}, 203.2)],
)
def test_the_finished_size_is_met_and_proportions_are_kept(settings: dict[str, str], width_mm: float) -> None:
    box = scaled(WIDE, **settings).value.finished_box
    assert box.width == pytest.approx(width_mm, abs=1e-9)
    assert box.width / box.height == pytest.approx(4, abs=1e-12)
    assert (box.left, box.bottom) == pytest.approx((0, 0), abs=1e-9)


def test_what_is_omitted_does_not_count() -> None:
    crab = separated(CRAB, omit=["piece:background"]).value
    assert scaled(crab, width="6 in").value.finished_box.width == pytest.approx(152.4)
    assert crab.finished_box.width == pytest.approx(30)


@pytest.mark.parametrize(
    ("height", "passes"),
    [
        # printed sizes are rounded to 1/8 or 1/4 in, so proportions are off by up to half of that (common practice);
        # at a width of 8 in the height is 2 in
        ("2 1/16 in", False),  # stated in sixteenths: 1/32 in may be off, 1/16 in is
        ("2 1/8 in", False),  # stated in eighths: 1/16 in may be off, 1/8 in is
        ("1 7/8 in", False),
        ("2 1/4 in", False),
        ("52 mm", False),  # 50.8 mm as drawn: 0.5 mm may be off
        ("51 mm", True),
        ("5.1 cm", True),
    ],
)
def test_two_sizes_agree_within_half_of_the_last_stated_fraction(height: str, passes: bool) -> None:
    if passes:
        found = scaled(WIDE, width="8 in", height=height).findings
        assert [finding.code for finding in found] == ["size-residual"]
    else:
        with pytest.raises(Refusal, match="other proportions") as caught:
            scaled(WIDE, width="8 in", height=height)
        assert "8 in" in caught.value.findings[0].message
        assert height in caught.value.findings[0].message


@pytest.mark.parametrize(
    ("width_mm", "told"),
    [
        (40 * 96 / 72, "72 px"),
        (40 * 96 / 90, "90 px"),
        (40 * 25.4, "inches were taken for millimeters"),
        (400, "centi"),
    ],
)
def test_a_factor_that_is_a_known_mix_up_is_named(width_mm: float, told: str) -> None:
    found = scaled(WIDE, width=f"{width_mm:.4f} mm").findings
    assert [finding.code for finding in found] == ["size-mix-up"]
    assert told in found[0].message


def test_without_a_stated_size_the_drawing_keeps_its_own() -> None:
    outcome = scaled(WIDE)
    assert outcome.value.finished_box.width == pytest.approx(40)
    assert [finding.code for finding in outcome.findings] == ["size-as-drawn"]


@pytest.mark.parametrize("width", ["0 in", "-3 in", "1000000 m"])
def test_a_size_that_cannot_be_is_refused(width: str) -> None:
    with pytest.raises(Refusal):
        scaled(WIDE, width=width)


@given(st.floats(1, 2000))
def test_areas_grow_with_the_square_of_the_size(width: float) -> None:
    done = scaled(WIDE, width=f"{width:.6f} mm").value
    assert region_area(done.pieces[0].region) == pytest.approx(100 * (float(f"{width:.6f}") / 40) ** 2, rel=1e-9)


# --- mirror

FABRICS = (
    Fabric("coral", "Coral", paper="keep"),
    Fabric("sand", "Sand", paper="leave"),
    Fabric("linen", "Linen", preparation="bare"),
)
LAID = Design("crab", (Piece("a", "a", region(circle(0j, 5)), "coral"),), (), FABRICS)


def mirrored(design: Design, *wrong_side_up: str) -> Outcome[Design]:
    return Mirror().apply(design, MirrorSettings.model_validate({"wrong-side-up": wrong_side_up}))


def test_paper_up_is_reversed_and_right_side_up_is_not() -> None:
    # common practice: web pressed to the wrong side; paper up on the mat: cut reversed; right side up: not reversed
    outcome = mirrored(LAID)
    assert [fabric.laid for fabric in outcome.value.fabrics] == ["wrong-side-up", "right-side-up", "right-side-up"]
    assert [fabric.reversed for fabric in outcome.value.fabrics] == [True, False, False]
    assert [finding.code for finding in outcome.findings] == ["laid-assumed"]


def test_mirror_touches_no_geometry_and_so_cannot_reverse_twice() -> None:
    once = mirrored(LAID).value
    assert once.pieces == LAID.pieces
    assert mirrored(once).value == once


def test_a_call_may_say_which_fabrics_lie_wrong_side_up() -> None:
    outcome = mirrored(LAID, "linen", "sand")
    assert [fabric.laid for fabric in outcome.value.fabrics] == ["wrong-side-up"] * 3
    assert [finding.code for finding in outcome.findings] == ["laid-overruled"]


def test_a_fabric_that_is_not_there_is_told_with_the_nearest() -> None:
    with pytest.raises(Refusal) as caught:
        mirrored(LAID, "corral")
    assert 'Did you mean "coral"' in caught.value.findings[0].hint


GUESSED = replace(LAID, fabrics=(Fabric("green-3a7a3a", "green"), Fabric("gray-808080", "gray")))


@pytest.mark.parametrize("said", ["green-3a7a3a", "green", "GREEN", "green-3", "gre"])
def test_a_fabric_is_known_by_its_label_or_by_how_its_key_begins(said: str) -> None:
    assert [fabric.reversed for fabric in mirrored(GUESSED, said).value.fabrics] == [True, False]


def test_a_word_that_may_mean_several_fabrics_is_refused_with_their_keys() -> None:
    with pytest.raises(Refusal) as caught:
        mirrored(GUESSED, "gr")
    assert caught.value.findings[0].code == "fabric-ambiguous"
    assert "green-3a7a3a, gray-808080" in caught.value.findings[0].hint


def test_what_was_assumed_names_keys_to_type() -> None:
    (finding,) = mirrored(GUESSED).findings
    assert "green-3a7a3a, gray-808080" in finding.message
    assert "--set mirror.wrong-side-up=green-3a7a3a" in finding.hint
