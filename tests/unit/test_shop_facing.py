"""What facing and flattening leave of a blank. All numbers worked by hand from those given here."""

import pytest

from scalegen.model import JobSpec, Reading
from scalegen.shop import load_shop, resolve_stack
from scalegen.shop.facing import Facing
from scalegen.shop.measured import Measured, measured_blank

SHOP = load_shop(None)
LINER_OFF = 0.1651  # 0.0065 in, of the starter table
FACE_OFF = 0.3048  # 0.012 in

TAPERED = tuple(
    Reading(thickness_mm=6.8 + 0.0005 * x, x_mm=x, y_mm=y)
    for x in (50.0, 150.0, 250.0)
    for y in (20.0, 130.0)
)


def judged(stock: str = "paper-six", *, need: float = 6.3, back: float = 0.1, spec: JobSpec) -> Measured:
    """A blank of liner 0.8, film 0.1 and face 6.0 mm, 300 mm x 150 mm, or of another stack, judged."""
    stack = resolve_stack(SHOP, stock, spec.measured_mm)
    return measured_blank(SHOP, stack, spec, need_mm=need, back_allowance_mm=back)


def measured(*readings: Reading, sheets: tuple[float, ...] = ()) -> JobSpec:
    """A job with readings at places."""
    return JobSpec(
        readings=readings,
        measured_mm=tuple(each.thickness_mm for each in readings),
        sheets_measured_mm=sheets,
    )


def left(facing: Facing) -> list[tuple[float, float]]:
    """Least and most left of each layer."""
    return [(layer.least_left_mm, layer.most_left_mm) for layer in facing.layers]


def test_not_measured_goes_by_the_worst_case() -> None:
    """Faced by 6.9 - 6.3 = 0.6 mm, give or take 0.4699; a thick liner leaves the less of the face."""
    blank = judged(spec=JobSpec())
    facing = blank.facing
    assert blank.report is None
    assert (facing.faced_least_mm, facing.faced_most_mm) == pytest.approx((0.6 - 0.4699, 0.6 + 0.4699))
    assert facing.enough_everywhere
    liner, film, face = left(facing)
    assert liner == pytest.approx((0.7 - LINER_OFF, 0.7 + LINER_OFF))
    assert film == pytest.approx((0.1, 0.1))
    assert face == pytest.approx((5.4 - LINER_OFF, 5.4 + LINER_OFF))


def test_not_measured_may_lack_by_the_tolerances() -> None:
    """A need of 6.8 mm is under the nominal 6.9 mm and over the worst case of 6.4301 mm."""
    facing = judged(need=6.8, spec=JobSpec()).facing
    assert not facing.enough_everywhere
    assert facing.faced_least_mm == pytest.approx(6.9 - 0.4699 - 6.8)
    # The thinnest face sheet, 5.6952 mm, need not be faced at all on a liner that is not thick.
    assert left(facing)[-1] == pytest.approx((6.0 - FACE_OFF, 5.9 + LINER_OFF))


def test_a_plane_is_followed_into_the_corners() -> None:
    """6.825 to 6.925 mm was read from x = 50 to 250; the corners at 0 and 300 have 6.8 and 6.95 mm."""
    facing = judged(spec=measured(*TAPERED)).facing
    assert (facing.least_mm, facing.most_mm) == pytest.approx((6.8, 6.95))
    assert (facing.faced_least_mm, facing.faced_most_mm) == pytest.approx((0.5, 0.65))
    # What is over 0.9 mm of liner and glue is face all over, faced down to 6.3 mm.
    assert left(facing)[-1] == pytest.approx((5.4 - LINER_OFF, 5.4 + LINER_OFF))


def test_measured_sheets_leave_the_taper_to_the_glue() -> None:
    """A face known to be 6 mm loses what is faced, 0.5 to 0.65 mm; the films are 0.02 to 0.17 mm."""
    facing = judged(spec=measured(*TAPERED, sheets=(0.78, 6.0))).facing
    liner, film, face = left(facing)
    assert liner == pytest.approx((0.68, 0.68))
    assert film == pytest.approx((0.02, 0.17))
    assert face == pytest.approx((5.35, 5.5))
    assert [layer.bonded_mm for layer in facing.layers] == pytest.approx([0.78, 6.875 - 6.78, 6.0])


def test_too_thin_in_places() -> None:
    """Of 6.1 and 6.4 mm read, 6.1 lacks 0.2 mm of the 6.3 needed, and its face is not faced at all."""
    facing = judged(spec=JobSpec(measured_mm=(6.1, 6.4))).facing
    assert not facing.enough_everywhere
    assert (facing.faced_least_mm, facing.faced_most_mm) == pytest.approx((-0.2, 0.1))
    assert left(facing)[-1] == pytest.approx((6.1 - 0.9 - LINER_OFF, 5.4 + LINER_OFF))


def test_sheets_alone_add_up_with_the_film_of_the_tables() -> None:
    """0.81 + 0.1 + 5.97 mm is what there is until the blank is measured, and that is asked for."""
    blank = judged(spec=JobSpec(sheets_measured_mm=(0.81, 5.97)))
    assert (blank.facing.least_mm, blank.facing.most_mm) == pytest.approx((6.88, 6.88))
    assert left(blank.facing)[-1] == pytest.approx((5.97 - 0.58, 5.97 - 0.58))
    assert [finding.code for finding in blank.findings] == ["bond-unknown"]


def test_a_spacer_keeps_its_thickness() -> None:
    """Between liner and face nothing is cut: 0.5 mm of spacer, measured 0.52, stay 0.52 mm."""
    spec = JobSpec(measured_mm=(8.0,), sheets_measured_mm=(0.8, 0.52, 6.45))
    facing = judged("maple-spacer", need=7.0, spec=spec).facing
    assert [layer.kind for layer in facing.layers] == ["liner", "bond", "spacer", "bond", "face"]
    assert left(facing)[2] == pytest.approx((0.52, 0.52))
    assert left(facing)[1] == pytest.approx(((8.0 - 7.77) / 2, (8.0 - 7.77) / 2))
    assert left(facing)[4] == pytest.approx((5.45, 5.45))


def test_nothing_is_left_of_a_liner_that_is_flattened_away() -> None:
    """A back allowance of 0.9 mm takes a liner of 0.8 mm whole: 0 is left, not less."""
    facing = judged(back=0.9, spec=JobSpec(measured_mm=(6.9,), sheets_measured_mm=(0.8, 6.0))).facing
    assert left(facing)[0] == (0.0, 0.0)
