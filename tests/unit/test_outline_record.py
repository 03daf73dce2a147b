"""A drawing as data: all keys there, numbers as geometry says, every fault with place and remedy."""

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from scalegen.errors import Fault, PatternError
from scalegen.model import OutlineSource
from scalegen.outline.choose import contours_of
from scalegen.outline.drawing import Drawing
from scalegen.outline.join import Gap, Piece
from scalegen.outline.ring import Ring
from scalegen.outline.survey import Survey, survey_drawing
from scalegen.report.outline_record import (
    AMBIGUOUS,
    CROSSES,
    DOUBTFUL,
    GAP,
    NOT_CLOSED,
    NOT_THERE,
    READING,
    REFUSED,
    outline_record,
    refused_record,
)
from scalegen.shop import load_shop

KEYS = {
    *("units", "contours", "chosen", "choices", "holes"),
    *("gaps", "open_ends", "branches", "crossings", "findings"),
}
FINDING_KEYS = {"code", "level", "about", "where", "message", "remedy"}
FILE = OutlineSource(path=Path("folder/tang.dxf"))


def box(x: float, y: float, long: float, wide: float) -> Ring:
    """A rectangle."""
    return Ring.from_rows([(x, y), (x + long, y), (x + long, y + wide), (x, y + wide)])


def tang(x: float = 0, y: float = 0) -> Ring:
    """Straight sides of 100 mm, 25 mm apart, and half circles at both ends."""
    return Ring.from_rows([(x, y, 0), (x + 100, y, 1), (x + 100, y + 25, 0), (x, y + 25, 1)])


def circle(x: float, y: float, d: float) -> Ring:
    """A full circle."""
    return Ring.from_rows([(x - d / 2, y, 1), (x + d / 2, y, 1)])


def drawing(*rings: Ring, open_chains: tuple[list[tuple[float, float, float]], ...] = ()) -> Drawing:
    """A drawing of closed rings and open chains."""
    pieces = [Piece(rows=ring.rows, closed=True, name="LWPOLYLINE") for ring in rings]
    pieces += [Piece(rows=np.array(rows, dtype=float), closed=False, name="LINE") for rows in open_chains]
    return Drawing(pieces=tuple(pieces), units="millimetres ($INSUNITS = 4)")


def recorded(*rings: Ring, **others: tuple[list[tuple[float, float, float]], ...]) -> dict[str, Any]:
    """The record of a drawing, by way of its JSON text."""
    record = outline_record(survey_drawing(drawing(*rings, **others)), FILE, load_shop(None))
    data: dict[str, Any] = json.loads(json.dumps(record, allow_nan=False))
    return data


def test_all_keys_are_there_and_sizes_are_those_of_geometry() -> None:
    """Area and perimeter must be those of a slot and of circles, and every key of the contract be there.

    Source: slot of length l, width w: w l + pi w^2 / 4 and 2 l + pi w (elementary geometry).
    """
    record = recorded(circle(20, 12, 3.2), tang(), circle(80, 12, 6.0))
    assert set(record) == KEYS
    slot, large, small = record["contours"]
    assert slot["area_mm2"] == pytest.approx(100 * 25 + math.pi * 25**2 / 4, rel=1e-12)
    assert slot["perimeter_mm"] == pytest.approx(200 + 25 * math.pi, rel=1e-12)
    assert large["area_mm2"] == pytest.approx(math.pi * 9, rel=1e-12)
    assert small["perimeter_mm"] == pytest.approx(math.pi * 3.2, rel=1e-12)
    assert slot["bounds_mm"] == pytest.approx([-12.5, 0, 112.5, 25])
    assert [c["number"] for c in record["contours"]] == [1, 2, 3]
    assert [c["segments"] for c in record["contours"]] == [4, 2, 2]
    assert [c["inside_of"] for c in record["contours"]] == [None, 1, 1]
    assert [c["role"] for c in record["contours"]] == ["outline", "hole", "hole"]
    assert (record["chosen"], record["choices"], record["findings"]) == (1, [], [])


def test_sizes_taken_together_are_those_of_each_ring() -> None:
    """Working on all rings at once must give what each ring says of itself, whatever its bulges."""
    rng = np.random.default_rng(5)
    turns = np.linspace(0, 2 * np.pi, 12, endpoint=False)
    rings = []
    for count in range(3, 12):
        far = rng.uniform(5, 9, count)
        points = far[:, None] * np.column_stack([np.cos(turns[:count]), np.sin(turns[:count])])
        rings.append(Ring.from_rows(np.column_stack([points, rng.uniform(-0.3, 0.3, count)])))
    found = Survey(units="mm", contours=contours_of(rings))
    for contour, data in zip(found.contours, outline_record(found, FILE)["contours"], strict=True):
        assert data["area_mm2"] == pytest.approx(contour.ring.area_mm2, rel=1e-9)
        assert data["perimeter_mm"] == pytest.approx(contour.ring.perimeter_mm, rel=1e-9)


def test_holes_come_with_the_hardware_that_fits() -> None:
    """A hole as the #30 drill leaves it must name the 1/8 in pin first; without tables, nothing.

    Source: ASME B94.11M, #30 = 0.1285 in (from public copies of the table).
    """
    rings = tang(), circle(40, 12, 0.1285 * 25.4)
    (hole,) = recorded(*rings)["holes"]
    assert hole["at_mm"] == pytest.approx([40, 12])
    assert hole["diameter_mm"] == pytest.approx(3.2639)
    assert hole["hardware"][0] == "pin 1/8in"
    assert outline_record(survey_drawing(drawing(*rings)), FILE)["holes"][0]["hardware"] == []


def test_two_equal_contours_are_asked_about() -> None:
    """Nothing must be chosen between equals; both are candidates, and a stop says what to do."""
    record = recorded(tang(), tang(0, 60), circle(300, 0, 5))
    (stop,) = (f for f in record["findings"] if f["level"] == "stop")
    assert (record["chosen"], record["choices"]) == (None, [1, 2])
    assert [c["role"] for c in record["contours"]] == ["candidate", "candidate", "other"]
    assert set(stop) == FINDING_KEYS
    assert stop["code"] == AMBIGUOUS
    assert stop["where"] == "tang.dxf"
    assert "--contour" in stop["remedy"]


def test_a_page_border_is_called_one() -> None:
    """A sheet of paper around the outline must be a border, and what lies beside the outline left out."""
    record = recorded(box(-50, -50, 297, 210), tang(), box(150, 100, 20, 10))
    assert [c["role"] for c in record["contours"]] == ["border", "outline", "left out"]
    assert {f["level"] for f in record["findings"]} == {"note"}


def test_a_closed_gap_is_told_once_with_its_place() -> None:
    """A gap of 0.02 mm must be one warning where it is, and not be told again among the notes."""
    chain = [(0.0, 0.0, 0.0), (100.0, 0.0, 0.0), (100.0, 25.0, 0.0), (0.0, 25.0, 0.0), (0.0, 0.02, 0.0)]
    record = recorded(open_chains=(chain,))
    assert record["chosen"] == 1
    assert record["gaps"] == [{"at_mm": pytest.approx([0, 0.01]), "size_mm": pytest.approx(0.02)}]
    (finding,) = (f for f in record["findings"] if "gap" in f["message"])
    assert (finding["code"], finding["level"]) == (GAP, "warning")
    assert finding["where"] == "x = 0.000, y = 0.010 mm"
    assert "0.0200 mm" in finding["message"]


@pytest.mark.parametrize(("size_mm", "level"), [(0.0051, "warning"), (0.005, "note"), (1e-6, "note")])
def test_gaps_within_the_reading_tolerance_are_only_noted(size_mm: float, level: str) -> None:
    """A gap that is not wider than curves are rounded by must not be a warning."""
    found = Survey(
        units="mm", contours=contours_of([tang()]), chosen=1, gaps=(Gap(at_mm=(0, 0), size_mm=size_mm),)
    )
    assert [f["level"] for f in outline_record(found, FILE)["findings"]] == [level]


def test_very_many_gaps_stay_readable() -> None:
    """All gaps must be in the data, but only the widest have their own findings; one counts the rest."""
    gaps = tuple(Gap(at_mm=(float(k), 0.0), size_mm=1e-4 * (k + 1)) for k in range(300))
    record = outline_record(Survey(units="mm", contours=contours_of([tang()]), chosen=1, gaps=gaps), FILE)
    findings = record["findings"]
    assert len(record["gaps"]) == 300
    assert len(findings) == 201
    assert findings[0]["message"] == "closed a gap of 0.0300 mm"
    assert findings[-1]["message"].startswith("closed 100 more gaps of up to 0.010000 mm")


def test_an_open_chain_is_a_stop_with_both_ends() -> None:
    """A chain that does not close must be refused with its ends and the first one as the place."""
    record = recorded(open_chains=([(0.0, 0.0, 0.0), (50.0, 0.0, 0.0), (50.0, 20.0, 0.0)],))
    assert record["contours"] == []
    assert sorted(record["open_ends"]) == [[0, 0], [50, 20]]
    stop = record["findings"][0]
    assert (stop["code"], stop["level"]) == (NOT_CLOSED, "stop")
    assert stop["where"].startswith("x = ")


def test_a_contour_that_crosses_itself_is_a_stop_with_the_place() -> None:
    """Two lobes that cross at (50, 10) must be refused there.

    Source: lines y = x / 5 and y = 20 - x / 5 meet at x = 50 (elementary geometry).
    """
    bow = Ring.from_rows([(0, 0), (100, 20), (110, 10), (100, 0), (0, 20)])
    record = recorded(bow)
    assert record["chosen"] is None
    assert record["crossings"] == [pytest.approx([50, 10])]
    assert record["findings"][0]["code"] == CROSSES
    assert record["findings"][0]["where"] == "x = 50.000, y = 10.000 mm"


def test_doubt_and_a_number_that_is_not_there_have_codes_of_their_own() -> None:
    """An open chain around a small contour, and contour 7 of one, must not be mistaken for other faults."""
    chain = [(-20.0, -20.0, 0.0), (120.0, -20.0, 0.0), (120.0, 60.0, 0.0), (-20.0, 60.0, 0.0)]
    assert recorded(circle(50, 10, 6), open_chains=(chain,))["findings"][0]["code"] == DOUBTFUL
    found = survey_drawing(drawing(tang()), contour=7)
    assert outline_record(found, FILE)["findings"][0]["code"] == NOT_THERE


def test_notes_are_notes() -> None:
    """What the reader has to say must come as notes, word for word."""
    found = Survey(units="mm", contours=contours_of([tang()]), chosen=1, notes=("left out: 3 TEXT",))
    (note,) = outline_record(found, FILE)["findings"]
    assert (note["code"], note["level"], note["message"]) == (READING, "note", "left out: 3 TEXT")


def test_typed_rows_are_named_by_their_field() -> None:
    """Where there is no file, the stop must name the field of the pattern."""
    found = Survey(units="mm", contours=contours_of([tang()]), reason="there is no contour 2", remedy="x")
    assert outline_record(found, OutlineSource())["findings"][0]["where"] == "tang.outline"


def test_a_refused_file_has_the_same_keys() -> None:
    """A file that cannot be read must give the same keys, no contours, and its message as a stop."""
    error = PatternError("this is no drawing", where="tang.dxf", remedy="save it as DXF")
    record = refused_record(error)
    assert set(record) == KEYS
    assert (record["units"], record["chosen"], record["contours"]) == (None, None, [])
    (stop,) = record["findings"]
    assert set(stop) == FINDING_KEYS
    assert (stop["code"], stop["level"], stop["where"]) == (REFUSED, "stop", "tang.dxf")
    assert (stop["message"], stop["remedy"]) == ("this is no drawing", "save it as DXF")


def test_every_fault_of_a_refused_file_is_a_finding() -> None:
    """Faults must come one by one, each with field or line, and the common remedy where they have none."""
    faults = (
        Fault(file="t.csv", field="", found='"3,5" is no number', allowed="use a point", line=4),
        Fault(file="t.csv", field="row[2]", found="only one number", allowed="", hint="give x and y"),
    )
    stops = refused_record(PatternError("2 faults", faults=faults, remedy="look at the file"))["findings"]
    assert [f["where"] for f in stops] == ["line 4", "row[2]"]
    assert [f["message"] for f in stops] == ['"3,5" is no number; use a point', "only one number"]
    assert [f["remedy"] for f in stops] == ["look at the file", "give x and y"]
