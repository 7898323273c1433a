"""What a person is told beside the machine: fabrics told apart, warnings together, how cloth runs and is cut.

An arrow on the back of a directional print, before the print is out of sight, is common practice.
"""

from __future__ import annotations

from dataclasses import replace

from clothpath.design import Fabric
from clothpath.findings import note, warning
from clothpath.layout import Swatch
from clothpath.pages.handling import fabric_names, grain_words, look_outs, margin_words, piece_words
from clothpath.units import both


def test_fabrics_of_one_label_say_what_differs() -> None:
    keeps = Fabric("green", "Green", laid="wrong-side-up")
    leaves = Fabric("green-2", "Green", laid="right-side-up")
    names = fabric_names([keeps, leaves, Fabric("sand", "Sand")])
    assert names == {"green": "Green (wrong side up)", "green-2": "Green (right side up)", "sand": "Sand"}
    bare = Fabric("green-3", "green", laid="right-side-up", preparation="bare")
    assert fabric_names([leaves, bare]) == {"green-2": "Green (with web)", "green-3": "green (without web)"}
    assert len(set(fabric_names([keeps, Fabric("twin", "Green", laid="wrong-side-up")]).values())) == 2


def test_warnings_of_one_kind_stand_together_and_notes_are_left_out() -> None:
    found = [
        warning("narrow", "One.", hint="Widen it."),
        note("told", "Two."),
        warning("open", "Three.", "a/b.svg: line 3"),
        warning("narrow", "Four.", hint="Widen it."),
        warning("narrow", "One.", hint="Widen it."),
    ]
    first, second = look_outs(found)
    assert (first.messages, first.hint) == (("One.", "Four."), "Widen it.")
    assert (second.messages, second.hint) == (("b.svg: line 3: Three.",), "")


def test_what_holds_of_many_files_is_told_once() -> None:
    twice = [warning("passes", "Cut twice.", f"out/crab-{fabric}.dxf", "Set it.") for fabric in ("a", "b", "c")]
    (one,) = look_outs(twice)
    assert one.messages == ("crab-a.dxf, crab-b.dxf and crab-c.dxf: Cut twice.",)
    (many,) = look_outs(warning("passes", "Cut twice.", f"{n}.dxf") for n in range(9))
    assert many.messages == ("0.dxf, 1.dxf, 2.dxf, 3.dxf and 5 more: Cut twice.",)


def test_a_piece_called_as_its_cloth_is_named_once() -> None:
    sky = Fabric("sky", "Sky")
    assert piece_words("sky", sky) == ("Sky",)
    assert piece_words("cloud", sky) == ("cloud", "Sky")


def test_an_arrow_is_marked_on_what_hides_the_print() -> None:
    def said(fabric: Fabric) -> tuple[str, ...]:
        assert fabric.laid is not None
        return grain_words(fabric, Swatch(fabric.key, fabric.laid, 0, 0, 100, 50, 90.0))

    up = Fabric("fish", "Fish", grain="directional", laid="right-side-up")
    assert said(up) == ("the top of the print toward the left",)
    bare = Fabric("fish", "Fish", grain="directional", laid="wrong-side-up", preparation="bare")
    assert said(bare)[1] == "mark an arrow on the back of the cloth first, toward the top of the print"


def test_what_is_added_to_a_fabric_s_pieces_or_taken_off_is_told() -> None:
    red = Fabric("red", "Red")
    told = [margin_words(replace(red, margin=by)) for by in (6.35, -3.175, 0.0)]
    assert told == [f"includes {both(6.35)} to turn under", f"{both(3.175)} less all round, for the satin stitch", ""]
