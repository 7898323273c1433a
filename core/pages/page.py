"""Pages for people: self-contained HTML from the templates that ship.

Every value is escaped; a page loads nothing from elsewhere and holds no script. Where the inches of a size are not the
millimeters beside them, the page says "about".
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any, Final

from clothpath.findings import counted
from clothpath.units import as_inches, as_millimeters, as_typed, as_typed_mm, both, cutting_size, cutting_size_mm

if TYPE_CHECKING:
    from jinja2 import Environment

__all__ = ["about", "page"]

EXACT_MM: Final = 0.15
"""Inches that are off by no more are exact for a person with a ruler."""
SIXTEENTH_MM: Final = 25.4 / 16


def about(mm: float) -> str:
    """A length for a person of either habit: "4 3/8 in (111.1 mm)", "about 5 in (126.8 mm)"."""
    off = abs(mm - round(mm / SIXTEENTH_MM) * SIXTEENTH_MM)
    return f"about {both(mm)}" if off > EXACT_MM else both(mm)


def page(template: str, **values: Any) -> bytes:
    """The page made from `shared/templates/<template>.html.j2`, in UTF-8.

    Raises:
        jinja2.TemplateError: the template does not fit the values.
    """
    return _environment().get_template(f"{template}.html.j2").render(**values).encode()


@lru_cache(maxsize=1)
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("clothpath.shared", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters |= {
        "about": about,
        "counted": counted,
        "inches": as_inches,
        "millimeters": as_millimeters,
        "typed": as_typed,
        "typed_mm": as_typed_mm,
        "to_cut": cutting_size,
        "to_cut_mm": cutting_size_mm,
    }
    return environment
