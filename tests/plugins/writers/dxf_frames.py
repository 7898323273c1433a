"""Makes the frames of DXF files that ship in shared/dxf: what ezdxf writes of a drawing without layers and lines.

Run it after ezdxf has changed what it writes: python tests/plugins/writers/dxf_frames.py
"""

from __future__ import annotations

import io
import logging
import re
from pathlib import Path

import ezdxf
from ezdxf import options
from ezdxf.colors import DXF_DEFAULT_COLORS, int2rgb

FOLDER = Path(__file__).parents[3] / "shared" / "dxf"
VERSIONS = ("R12", "R2000", "R2010")
PLACE = r"\{[$a-zA-Z ]+\}"
VARIABLES = ("$EXTMIN", "$EXTMAX", "$LIMMAX", "$INSUNITS", "$MEASUREMENT", "$HANDSEED")


def frame(version: str) -> str:
    """The text, with {names} where something goes; the first line gives the model space's and the first free handle."""
    log = logging.getLogger("ezdxf")
    before = options.write_fixed_meta_data_for_testing, log.disabled
    options.write_fixed_meta_data_for_testing = True  # no clock, no GUID
    log.disabled = True  # it warns that R12 has no unit, which is known
    try:
        document = ezdxf.new(version)
        document.layers.add("sample", color=99)
        stream = io.StringIO()
        document.write(stream)
    finally:
        options.write_fixed_meta_data_for_testing, log.disabled = before
    text = _sorted_classes(stream.getvalue())
    assert not re.search(PLACE, text)
    seed = _value_of(text, "$HANDSEED").split()[1]
    for variable in VARIABLES:
        text = text.replace(f"  9\n{variable}\n{_value_of(text, variable)}", f"  9\n{variable}\n{{{variable}}}\n")
    table_at = text.index("  0\nTABLE\n  2\nLAYER\n")
    entry_at = text.rindex("  0\nLAYER\n", 0, text.index("\nsample\n"))
    entry_end = text.index("  0\nENDTAB\n", entry_at)
    entry = re.sub(r"\n  5\n[0-9A-F]+\n", "\n  5\n{handle}\n", text[entry_at:entry_end], count=1)
    entry = entry.replace("\nsample\n", "\n{name}\n").replace(" 62\n99\n", " 62\n{color}\n")
    table = re.sub(r"\n 70\n(\d+)\n", "\n 70\n{layer count}\n", text[table_at:entry_at], count=1)
    text = f"{text[:table_at]}{table}{{layers}}\n{text[entry_end:]}"
    text = text.replace("  2\nENTITIES\n", "  2\nENTITIES\n{entities}\n")
    return f"{document.modelspace().layout_key} {seed}\n{entry}{{frame}}\n{text}"


def palette() -> str:
    """Red, green and blue of color numbers 1 to 249, a line each."""
    return "".join("{} {} {}\n".format(*int2rgb(value)[:3]) for value in DXF_DEFAULT_COLORS[1:250])


def _sorted_classes(text: str) -> str:
    """ezdxf writes the classes in the order of a set, which differs from run to run."""
    start = text.find("  2\nCLASSES\n") + len("  2\nCLASSES\n")
    if start < len("  2\nCLASSES\n"):
        return text
    end = text.index("  0\nENDSEC\n", start)
    mark = "  0\nCLASS\n"
    return text[:start] + "".join(mark + entry for entry in sorted(text[start:end].split(mark)[1:])) + text[end:]


def _value_of(text: str, variable: str) -> str:
    """The lines of a header variable's value; nothing if the file does not have it."""
    match = re.search(rf"  9\n{re.escape(variable)}\n((?:(?!  9\n|  0\n).*\n.*\n)*)", text)
    return match.group(1) if match else ""


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for version in VERSIONS:
        (FOLDER / f"frame-{version}.txt").write_text(frame(version), newline="")
    (FOLDER / "colors.txt").write_text(palette(), newline="")
