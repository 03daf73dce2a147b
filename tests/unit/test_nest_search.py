"""The search: counts, distances, groups, repeats, stops."""

import math

import numpy as np
import pytest
import shapely
from shapely import affinity

from scalegen.errors import UsageError
from scalegen.nest.records import Board, Body, Part, Result, Shape, Spot
from scalegen.nest.search import search
from scalegen.sheet import grid

SPACING_MM = 4.0
OUTLINE = np.array([[0, -5], [30, -8], [44, -9], [50, 0], [44, 8], [20, 6], [0, 5]], dtype=float)
SHAPES = (Shape(key="L", points_mm=OUTLINE), Shape(key="R", points_mm=OUTLINE * [1.0, -1.0]))
SLAB = shapely.box(10.0, 5.0, 170.0, 95.0)
HALF = (0.0, math.pi)


def _bodies(count: int | None = None, angles: tuple[float, ...] = HALF) -> list[Body]:
    return [
        Body(key=key, parts=(Part(shape=key),), group="pair", angles_rad=angles, count=count) for key in "LR"
    ]


def _boards(region: shapely.Polygon, many: int = 1) -> list[Board]:
    return [Board(key=f"sheet-{k}", region=region) for k in range(1, many + 1)]


def _laid(spot: Spot) -> shapely.Polygon:
    shape = shapely.Polygon(next(s.points_mm for s in SHAPES if s.key == spot.body))
    turned = affinity.rotate(shape, spot.angle_rad, origin=(0, 0), use_radians=True)
    return affinity.translate(turned, spot.x_mm, spot.y_mm)


def _check(result: Result, boards: list[Board]) -> None:
    """Measure a layout with shapely alone."""
    for board in boards:
        parts = [_laid(spot) for spot in result.spots if spot.board == board.key]
        for k, part in enumerate(parts):
            assert board.region.buffer(1e-6).covers(part)
            assert all(part.distance(other) >= SPACING_MM - 1e-6 for other in parts[:k])


@pytest.mark.parametrize(("effort", "count"), [("quick", None), ("normal", 4), ("thorough", 4)])
def test_every_layout_keeps_its_distances(effort: str, count: int | None) -> None:
    """By shapely's measure all parts are on the board and the spacing apart, whole pairs only."""
    boards = _boards(SLAB.difference(shapely.Point(60, 40).buffer(9)))
    result = search(_bodies(count), boards, shapes=SHAPES, spacing_mm=SPACING_MM, effort=effort)
    _check(result, boards)
    assert result.found >= 3
    assert sorted((s.number, s.body) for s in result.spots) == [
        (n, b) for n in range(1, result.found + 1) for b in "LR"
    ]
    assert result.found <= result.bound.groups


def test_the_same_seed_gives_the_same_layout() -> None:
    """Two runs agree to the last bit."""
    first, second = (
        search(_bodies(), _boards(SLAB), shapes=SHAPES, spacing_mm=SPACING_MM, effort="quick", seed=5)
        for _ in range(2)
    )
    assert first == second


def test_a_count_is_kept_and_spread_over_few_boards() -> None:
    """Nine pairs go on two boards that take five or more each, and partners share a board."""
    boards = _boards(SLAB, 3)
    result = search(_bodies(count=9), boards, shapes=SHAPES, spacing_mm=SPACING_MM, effort="quick")
    _check(result, boards)
    assert result.found == 9 == result.wanted
    assert result.boards == ("sheet-1", "sheet-2")
    for number in range(1, 10):
        assert len({spot.board for spot in result.spots if spot.number == number}) == 1


def test_nothing_fits_a_board_that_is_too_small() -> None:
    """A board shorter than the part takes none, which is proven."""
    result = search(_bodies(), _boards(shapely.box(0, 0, 40, 90)), shapes=SHAPES, spacing_mm=1.0)
    assert (result.found, result.bound.groups, result.spots) == (0, 0, ())
    assert result.proven


def test_stop_ends_with_the_best_so_far() -> None:
    """A stop at once still gives the plain start, and says that it was stopped."""
    result = search(
        _bodies(), _boards(SLAB), shapes=SHAPES, spacing_mm=SPACING_MM, stop=lambda: True, effort="thorough"
    )
    assert result.stopped
    assert result.found >= 1
    _check(result, _boards(SLAB))


def test_progress_tells_what_is_found_and_never_more_than_the_limit() -> None:
    """Every report has found below the limit, and found never falls."""
    told: list[tuple[int, int]] = []
    search(
        _bodies(),
        _boards(SLAB),
        shapes=SHAPES,
        spacing_mm=SPACING_MM,
        effort="quick",
        progress=lambda found, most, trying: told.append((found, most)) if trying else None,
    )
    assert told
    assert all(found < most for found, most in told)
    assert [found for found, _ in told] == sorted(found for found, _ in told)


def test_a_sound_start_is_never_beaten_downwards() -> None:
    """Given a layout that took a search, even one that is stopped at once keeps it."""
    best = search(_bodies(), _boards(SLAB), shapes=SHAPES, spacing_mm=SPACING_MM, effort="quick")
    again = search(
        _bodies(),
        _boards(SLAB),
        shapes=SHAPES,
        spacing_mm=SPACING_MM,
        effort="quick",
        starts=[best.spots],
        stop=lambda: True,
    )
    assert again.found >= best.found
    _check(again, _boards(SLAB))


def test_an_unsound_start_is_passed_over() -> None:
    """A layout whose parts lie on one another is not taken over."""
    heap = [
        Spot(body=key, board="sheet-1", number=n, form=0, angle_rad=0.0, x_mm=20.0, y_mm=30.0)
        for n in range(1, 30)
        for key in "LR"
    ]
    result = search(
        _bodies(), _boards(SLAB), shapes=SHAPES, spacing_mm=SPACING_MM, effort="quick", starts=[heap]
    )
    assert result.found < 29
    _check(result, _boards(SLAB))


def test_mixed_groups_keep_their_own_numbers() -> None:
    """Two kinds of groups with counts are both placed in full."""
    single = Body(key="single", parts=(Part(shape="L"),), group="spare", angles_rad=HALF, count=2)
    boards = _boards(SLAB, 2)
    result = search([*_bodies(2), single], boards, shapes=SHAPES, spacing_mm=SPACING_MM, effort="quick")
    assert result.found == 4
    assert sorted(spot.number for spot in result.spots if spot.body == "single") == [1, 2]


@pytest.mark.parametrize(
    ("change", "match"),
    [
        ({"key": "L"}, "two of body 'L'"),
        ({"count": 3}, "different counts"),
        ({"angles_rad": ()}, "no angle"),
        ({"parts": (Part(shape="X"),)}, "no shape 'X'"),
    ],
)
def test_bodies_that_do_not_fit_together_are_refused(change: dict[str, object], match: str) -> None:
    """Each wrong argument ends in one error that names it."""
    words = {"key": "R", "parts": (Part(shape="R"),), "group": "pair", **change}
    with pytest.raises(UsageError, match=match):
        search([_bodies()[0], Body(**words)], _boards(SLAB), shapes=SHAPES, spacing_mm=1.0)


@pytest.mark.parametrize("pad_right", [False, True])
def test_never_fewer_than_rows_of_boxes(pad_right: bool) -> None:
    """A sheet cut to measure for a grid of boxes beside a pad takes at least as many pairs as that grid."""
    room = 3 * (50 + SPACING_MM) - SPACING_MM, 5 * (17 + SPACING_MM) - SPACING_MM
    left, right = (
        grid.Shape(side=side, bounds_mm=shapely.Polygon(s.points_mm).bounds, points_mm=s.points_mm)
        for side, s in zip(("left", "right"), SHAPES, strict=True)
    )
    field = grid.Field(
        length_mm=room[0],
        width_mm=room[1],
        spacing_mm=SPACING_MM,
        pad_length_mm=15.0,
        pad_width_mm=15.0,
        pad_gap_mm=SPACING_MM,
        pad_right=pad_right,
    )
    corner = room[0] - 15.0 if pad_right else 0.0
    region = shapely.box(0, 0, *room).difference(
        shapely.box(corner, 0, corner + 15.0, 15.0).buffer(SPACING_MM, join_style="mitre")
    )
    result = search(_bodies(), _boards(region), shapes=SHAPES, spacing_mm=SPACING_MM, stop=lambda: True)
    assert result.found >= len(grid.grid_spots(left, right, field)) // 2 >= 6


@pytest.mark.parametrize("side", [(120.0, 70.0), (150.0, 62.0)])
def test_more_effort_never_finds_fewer(side: tuple[float, float]) -> None:
    """What less effort found is where more begins, so its count is no lower, and no limit is passed."""
    boards = _boards(shapely.box(0, 0, *side))
    found = [
        search(_bodies(), boards, shapes=SHAPES, spacing_mm=SPACING_MM, effort=effort)
        for effort in ("quick", "normal")
    ]
    for result in found:
        _check(result, boards)
        assert result.found <= result.bound.groups
    assert found[0].found <= found[1].found
    assert found[0].moves < found[1].moves or found[0].found == found[0].bound.groups
