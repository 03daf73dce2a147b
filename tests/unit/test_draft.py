"""The text of a new pattern file."""

import math
from pathlib import Path

import pytest

from scalegen.model import Edge, Front, OutlineSource, PinSpec, Units
from scalegen.pattern.draft import Draft, DraftPin, draft_text
from scalegen.pattern.read import parse_pattern
from scalegen.pattern.tables import PATTERN
from scalegen.sources import Hints, Marks, Placing, ScanSettings


def draft(source: OutlineSource, units: Units = "mm", pins: tuple[DraftPin, ...] = ()) -> Draft:
    """A draft with something in every place."""
    return Draft(
        name="wren",
        units=units,
        stock="paper-six",
        stocks=("paper-six", "linen-quarter"),
        outline=source,
        file="wren.csv",
        known="read in millimetres",
        tang_mm=2.54,
        tang_given=False,
        front=Front(
            at_mm=12.7, angle_rad=math.pi / 2, treatment="bevel", slope_rad=math.pi / 4, land_mm=1.27
        ),
        front_given=False,
        edge=Edge(treatment="round", size_mm=1.524),
        trim_mm=0.762,
        pins=pins,
    )


SOURCES = [
    OutlineSource(),
    OutlineSource(units="in", contour=3),
    OutlineSource(hints=Hints(smooth=True, tolerance_mm=0.0254)),
    OutlineSource(hints=Hints(smooth=False, scan=ScanSettings(dpi=300, tang="light"))),
    OutlineSource(hints=Hints(scan=ScanSettings(card=True))),
    OutlineSource(
        hints=Hints(
            scan=ScanSettings(marks=Marks(first_px=(1.5, 2.0), second_px=(300.0, 4.0), distance_mm=127.0))
        )
    ),
    OutlineSource(
        placing=Placing(rotate_rad=math.radians(-101.125), front="bottom", flip=True, zero="front")
    ),
]


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("source", SOURCES)
def test_what_is_written_is_read_again(tmp_path: Path, source: OutlineSource, units: Units) -> None:
    """The text must be a pattern again with the same numbers, whatever is said about the outline."""
    (tmp_path / "wren.csv").write_text("", encoding="utf-8")
    pins = (
        DraftPin(at_mm=(30.48, -1.27), found_mm=3.2, hardware=("pin 1/8in", "pin 3mm")),
        DraftPin(at_mm=(50.8, 0.0), found_mm=7.62),
        DraftPin(at_mm=(76.2, 2.54), found_mm=25.4, against="too large"),
    )
    pattern = parse_pattern(draft_text(draft(source, units, pins)), tmp_path / "wren.toml")
    assert pattern.outline.units == source.units
    assert pattern.outline.contour == source.contour
    assert pattern.outline.hints == source.hints
    assert pattern.outline.placing.rotate_rad == pytest.approx(source.placing.rotate_rad, abs=1e-12)
    assert pattern.outline.placing.front == source.placing.front
    assert pattern.outline.placing.zero == source.placing.zero
    assert pattern.tang_mm == pytest.approx(2.54)
    assert pattern.front.at_mm == pytest.approx(12.7)
    assert pattern.edge.size_mm == pytest.approx(1.524)
    assert pattern.pins == (
        PinSpec(at_mm=pytest.approx((30.48, -1.27)), hardware="pin 1/8in"),
        PinSpec(at_mm=pytest.approx((50.8, 0)), diameter_mm=pytest.approx(7.62)),
    )


def test_every_field_has_a_comment_and_guesses_are_called_so() -> None:
    """Each field stands beside words that explain it, and a guess says that it is one."""
    text = draft_text(draft(OutlineSource(), pins=(DraftPin(at_mm=(30, 0), found_mm=3),)))
    fields = [line for line in text.splitlines() if " = " in line and not line.startswith(("#", "at = ["))]
    assert len(fields) >= 14
    assert all("#" in line for line in fields)
    assert text.count("A GUESS") == 2


def test_without_holes_it_shows_how_a_pin_is_written() -> None:
    """An outline without holes must leave an example of a pin, as a comment."""
    assert '# hardware = "pin 1/8in"' in draft_text(draft(OutlineSource()))


def test_names_in_quotes_survive(tmp_path: Path) -> None:
    """A file name with a quote in it must come back as it was."""
    name = 'a "b".csv'
    (tmp_path / name).write_text("", encoding="utf-8")
    made = draft(OutlineSource())
    made = Draft(**{**{key: getattr(made, key) for key in made.__dataclass_fields__}, "file": name})
    assert parse_pattern(draft_text(made), tmp_path / "wren.toml").outline.path == tmp_path / name


def test_the_sections_are_those_of_a_pattern() -> None:
    """A draft must have every section that a pattern needs."""
    text = draft_text(draft(OutlineSource()))
    for entry in PATTERN.fields:
        if entry.table is not None and not entry.many:
            assert f"[{entry.name}]" in text
