"""What readings of a bonded blank tell."""

import math

import pytest

from scalegen.errors import UsageError
from scalegen.model import Adhesive, SheetStock
from scalegen.shop.blank import BlankReport, blank_findings, blank_report
from scalegen.shop.readings import Reading

GLUE = Adhesive(name="glue", density_g_cm3=1.15, bond_mm=0.1, waste=2.0, color="#ffffff", price_per_g=None)


def sheet(thickness_mm: float, tolerance_mm: float = 0.1, name: str = "sheet") -> SheetStock:
    """A sheet of which only thickness and tolerance matter."""
    return SheetStock(
        name=name,
        kind="face",
        material="test",
        thickness_mm=thickness_mm,
        tolerance_mm=tolerance_mm,
        length_mm=300.0,
        width_mm=150.0,
        density_g_cm3=1.5,
        color="#808080",
        price=None,
    )


THREE = (sheet(1.0, 0.1, "liner"), sheet(0.8, 0.1, "spacer"), sheet(5.0, 0.2, "face"))


def bare(*thicknesses_mm: float) -> list[Reading]:
    """Readings without places."""
    return [Reading(thickness_mm=each) for each in thicknesses_mm]


def tilted(misread_mm: float = 0.0) -> list[Reading]:
    """Six readings of a blank that gains 0.2 mm over 200 mm; the fourth may be misread."""
    places = [(x, y) for x in (0.0, 100.0, 200.0) for y in (0.0, 50.0)]
    return [
        Reading(
            x_mm=x,
            y_mm=y,
            thickness_mm=7.0 + 0.001 * x - 0.0004 * y + (misread_mm if k == 3 else 0.0),
            line=k + 2,
        )
        for k, (x, y) in enumerate(places)
    ]


def test_plain_figures() -> None:
    """Count, smallest, mean and spread are those of the readings; sheets and two films add up."""
    report = blank_report(THREE, GLUE, bare(7.0, 7.2, 7.1))
    assert (report.count, report.used_mm, report.used_without_outliers_mm) == (3, 7.0, 7.0)
    assert report.mean_mm == pytest.approx(7.1)
    assert report.spread_mm == pytest.approx(0.2)
    assert report.nominal_mm == pytest.approx(1.0 + 0.8 + 5.0 + 2 * 0.1)
    assert report.off_nominal_mm == pytest.approx(0.1)
    assert (report.plane, report.outliers, report.bond_mm) == (None, (), None)
    assert report.along_x_mm_per_100_mm is None
    assert report.across_y_mm_per_100_mm is None


def test_an_outlier_is_told_and_not_dropped() -> None:
    """The smallest of all readings still counts, with what it would be otherwise beside it."""
    report = blank_report(THREE, GLUE, bare(7.0, 7.01, 6.5, 7.02, 7.0, 7.01))
    assert report.outliers == (2,)
    assert report.used_mm == 6.5
    assert report.used_without_outliers_mm == 7.0
    assert report.mean_mm == pytest.approx((7.0 + 7.01 + 6.5 + 7.02 + 7.0 + 7.01) / 6)
    assert report.mean_without_outliers_mm == pytest.approx(7.008)
    assert report.spread_mm == pytest.approx(0.52)


def test_slopes_are_those_of_the_sound_readings() -> None:
    """A misread place is left out of the plane: 0.1 mm per 100 mm along, -0.04 across."""
    report = blank_report(THREE, GLUE, tilted(0.5))
    assert report.outliers == (3,)
    assert report.along_x_mm_per_100_mm == pytest.approx(0.1)
    assert report.across_y_mm_per_100_mm == pytest.approx(-0.04)


def test_the_film_of_glue_follows_from_the_sheets() -> None:
    """What the blank has more than its sheets is shared by the two films, outliers aside."""
    readings = bare(7.1, 7.1, 7.1, 7.1, 8.5)
    report = blank_report(THREE, GLUE, readings, (1.02, 0.79, 5.03))
    assert report.outliers == (4,)
    assert report.bond_lines == 2
    assert report.bond_mm == pytest.approx((7.1 - 6.84) / 2)
    assert blank_findings(report, readings)[0].code == "reading-outlier"
    assert len(blank_findings(report, readings)) == 1


def test_one_sheet_has_no_film() -> None:
    """A single sheet has no bond line and so no film to speak of."""
    report = blank_report([sheet(5.0)], GLUE, bare(5.1), (5.0,))
    assert (report.bond_lines, report.bond_mm, report.nominal_mm) == (0, None, 5.0)


def test_no_room_for_glue_is_told() -> None:
    """Sheets that add up to more than the blank give a film below 0 and a warning with the gap."""
    readings = bare(6.8, 6.8)
    report = blank_report(THREE, GLUE, readings, (1.0, 0.8, 5.05))
    assert report.bond_mm == pytest.approx(-0.025)
    (finding,) = blank_findings(report, readings)
    assert finding.code == "bond-below-zero"
    assert "0.05 mm more than the blank" in finding.message


def test_shares_of_the_tolerances() -> None:
    """0.1 over nominal is a quarter of 0.4 worst case, and 0.1 / sqrt(0.06) of the likely one."""
    report = blank_report(THREE, GLUE, bare(7.1))
    assert report.share_of_worst_case == pytest.approx(0.25)
    assert report.share_of_root_sum_square == pytest.approx(0.1 / math.sqrt(0.06))
    assert blank_report(THREE, GLUE, bare(6.9)).share_of_worst_case == pytest.approx(-0.25)


def test_sheets_without_tolerances_have_no_share() -> None:
    """Where no tolerance is known, none is made up."""
    report = blank_report([sheet(5.0, 0.0)], GLUE, bare(5.1))
    assert (report.share_of_worst_case, report.share_of_root_sum_square) == (None, None)


def messages(report: BlankReport, readings: list[Reading]) -> list[str]:
    """The messages of a report."""
    return [finding.message for finding in blank_findings(report, readings)]


def test_the_message_says_which_reading_and_how_far() -> None:
    """The reading's number, line, thickness and distance from the others' plane are told, and its place."""
    readings = tilted(0.5)
    report = blank_report(THREE, GLUE, readings)
    assert messages(report, readings) == ["reading 4 (line 5), 7.58 mm, stands 0.5 mm above the others"]
    (finding,) = blank_findings(report, readings)
    assert finding.where == "x = 100 mm, y = 50 mm"
    assert finding.remedy == "measure there again"
    assert finding.level == "warning"


def test_the_message_without_line_or_place() -> None:
    """A reading typed on the command line has no line, and in inches it is told in inches."""
    readings = bare(7.0, 7.0, 7.0, 7.0, 6.492)
    report = blank_report(THREE, GLUE, readings)
    (finding,) = blank_findings(report, readings, "in")
    assert finding.message == "reading 5, 0.2556 in, stands 0.02 in below the others"
    assert finding.where == ""


def test_measuring_again_settles_it() -> None:
    """With the reading put right there is nothing to say."""
    readings = tilted()
    assert blank_findings(blank_report(THREE, GLUE, readings), readings) == ()


@pytest.mark.parametrize(
    ("sheets", "readings", "of_sheets", "words"),
    [
        ((), bare(7.0), (), "no sheets"),
        (THREE, [], (), "no readings"),
        (THREE, bare(7.0), (1.0, 5.0), "liner, spacer, face"),
        (THREE, bare(7.0), (1.0, 0.8, math.nan), '"face" is not a thickness'),
        (THREE, bare(7.0), (1.0, 0.0, 5.0), '"spacer" is not a thickness'),
    ],
)
def test_refused(
    sheets: tuple[SheetStock, ...], readings: list[Reading], of_sheets: tuple[float, ...], words: str
) -> None:
    """Nothing to judge, or readings of sheets that do not go with the sheets, is refused with the reason."""
    with pytest.raises(UsageError) as caught:
        blank_report(sheets, GLUE, readings, of_sheets)
    assert words in str(caught.value)


@pytest.mark.parametrize(
    ("face_mm", "told"), [(4.9, False), (5.0, False), (5.01, True), (4.69, True), (4.7, False), (5.09, True)]
)
def test_a_film_far_from_its_table_is_told(face_mm: float, told: bool) -> None:
    """Films of 0.1 mm may come out as 0.05 to 0.2 mm; beyond that both films are told in one finding."""
    readings = bare(6.9)
    report = blank_report(THREE, GLUE, readings, (1.0, 0.8, face_mm))
    assert report.film_mm == 0.1
    assert report.bond_mm == pytest.approx((5.1 - face_mm) / 2)
    assert [finding.code for finding in blank_findings(report, readings)] == ["bond-unlike-table"] * told


def test_one_reading_for_three_sheets_is_counted_right() -> None:
    """The message has one reading, not one readings, and names the sheets from back to face."""
    with pytest.raises(UsageError) as caught:
        blank_report(THREE, GLUE, bare(7.0), (1.0,))
    assert caught.value.message == "1 reading of sheets for a stack of 3"
    assert caught.value.remedy.endswith("from back to face: liner, spacer, face")
