"""What a drawing holds, at a terminal: first whether it can be used, then tables of bounded length."""

import io
from typing import Any

import pytest
from rich.console import Console

from scalegen.errors import PatternError
from scalegen.model import OutlineSource
from scalegen.outline.choose import contours_of
from scalegen.outline.ring import Ring
from scalegen.outline.survey import Survey
from scalegen.report.outline_record import outline_record, refused_record
from scalegen.report.outline_views import print_outline


def box(x: float, long: float) -> Ring:
    """A rectangle 20 mm wide."""
    return Ring.from_rows([(x, 0), (x + long, 0), (x + long, 20), (x, 20)])


def shown(record: dict[str, Any], width: int = 120, file: str = "tang.dxf") -> str:
    """What a person sees on a terminal so wide."""
    out = io.StringIO()
    print_outline(record, file, Console(file=out, width=width))
    return out.getvalue()


def many(chosen: int | None, count: int = 50) -> dict[str, Any]:
    """A record of so many rectangles, the largest 1000 mm long."""
    rings = [box(0, 1000 - k) for k in range(count)]
    found = Survey(units="millimetres (stated)", contours=contours_of(rings), chosen=chosen)
    return outline_record(found, OutlineSource())


def test_the_first_line_says_that_it_can_be_used() -> None:
    """Size, unit and how the unit is known must stand on the first line."""
    first = shown(many(1, 1)).splitlines()[0]
    expected = "the outline is contour 1, 1000.000 x 20.000 mm, read in millimetres (stated)"
    assert first == f"tang.dxf: can be used as it is; {expected}"


def test_the_first_line_asks_where_there_are_two_answers() -> None:
    """Contours that could be meant must be named with the option that chooses one."""
    rings = contours_of([box(0, 50), box(100, 50)])
    found = Survey(units="mm", contours=rings, choices=(1, 2), reason="two", remedy="say which")
    lines = shown(outline_record(found, OutlineSource())).splitlines()
    assert lines[0] == "tang.dxf: say which contour is the outline: --contour 1 or 2; read in mm"
    assert sum("could be it" in line for line in lines) == 2


def test_long_tables_are_cut_but_never_the_outline() -> None:
    """Of 50 contours 30 rows must be shown, the chosen one among them, and the rest counted."""
    text = shown(many(45))
    firsts = [line.split()[0] for line in text.splitlines() if line.strip()]
    rows = [first for first in firsts if first.isdigit()]
    assert "45" in rows
    assert len(rows) == 30
    assert "  and 20 more" in text


@pytest.mark.parametrize("width", [80, 120])
def test_tables_fit_the_terminal(width: int) -> None:
    """No line may be longer than the terminal is wide, nor a number be cut."""
    text = shown(many(1), width)
    assert max(map(len, text.splitlines())) <= width
    assert "1000.000" in text
    assert "…" not in text


def test_a_refused_file_says_why_and_what_to_do() -> None:
    """Place, message and remedy of a refusal must be printed."""
    text = shown(refused_record(PatternError("no drawing", where="line 3", remedy="save it again")))
    assert "cannot be used as it is; not read" in text
    assert "why: line 3: no drawing" in text
    assert "what to do: save it again" in text


def test_signs_that_would_steer_the_terminal_are_spelt_out() -> None:
    """An escape sign in a file name or unit must not reach the terminal."""
    found = Survey(units="mm\x1b[31m", contours=contours_of([box(0, 50)]), chosen=1)
    assert "\x1b" not in shown(outline_record(found, OutlineSource()), file="a\x1b[2J.dxf")
