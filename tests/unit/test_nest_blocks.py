"""Rows nested into piles and piles set side by side: against closed forms, plain counting and shapely."""

import itertools
import math
from random import Random

import numpy as np
import pytest
import shapely

from benchmarks.nest_jobs import JOBS, SPACING_MM
from scalegen.nest.blocks import Blocks, whole
from scalegen.nest.fields import ground
from scalegen.nest.fill import Work, _Attempt, _filled_up
from scalegen.nest.gaps import SLICE_MM, gaps
from scalegen.nest.hall import SCALES, hall
from scalegen.nest.layout import Rest, keeps_distance
from scalegen.nest.meetings import Meetings
from scalegen.nest.poses import Pose, outlines, poses
from scalegen.nest.records import Board, Body, Part, Shape
from scalegen.nest.rows import PUSHES, Kind, rises
from scalegen.nest.search import search
from scalegen.nest.table import Piece, Table

GRAIN, QUARTERS = (0.0, math.pi), tuple(k * math.pi / 2 for k in range(4))
SIDE = 32.0
HIGH = SIDE * math.sqrt(0.75)
TRIANGLE = [[0.0, 0.0], [SIDE, 0.0], [SIDE / 2, HIGH]]
BLADE = [[0, 1], [30, 0], [52, 3], [60, 9], [48, 13], [20, 14], [0, 11]]
HOOK = [[0, 0], [40, 0], [40, 9], [12, 7], [12, 22], [30, 20], [31, 28], [0, 30]]


def bodies(points: object, turns: tuple[float, ...], *, two: bool = True) -> tuple[list[Body], list[Shape]]:
    """A shape, and its mirror image where there are two."""
    left = np.asarray(points, dtype=np.float64)
    shapes = [Shape(key="L", points_mm=left), Shape(key="R", points_mm=left * [1.0, -1.0])]
    keys = "LR" if two else "L"
    return [Body(key=k, parts=(Part(shape=k),), group="pair", angles_rad=turns) for k in keys], shapes


def laid(
    points: object,
    region: shapely.Polygon,
    turns: tuple[float, ...],
    spacing_mm: float,
    *,
    two: bool = True,
    most: int = 10**6,
) -> tuple[Table, Work, list[tuple[Rest, ...]]]:
    """Blocks on a board."""
    laid_bodies, shapes = bodies(points, turns, two=two)
    board = Board(key="b", region=region)
    room = hall(laid_bodies, shapes, spacing_mm, SCALES["quick"], [board])
    table = room.tables([board])[0]
    work = Work(members=room.groups, left={"pair": 10**6}, order=("pair",), level=True, most=most)
    return table, work, Blocks(work, spacing_mm, room.meetings).laid(table)


def ways(points: object, turns: tuple[float, ...], spacing_mm: float) -> list[Pose]:
    """Poses of a shape and of its mirror image."""
    laid_bodies, shapes = bodies(points, turns)
    return [pose for one in poses(laid_bodies, outlines(shapes, spacing_mm, 0.0), {}) for pose in one]


def test_a_triangle_sinks_beside_one_turned_round() -> None:
    """Over an upright equilateral triangle one turned round rests at h (1 - 2 |d| / s) (closed form)."""
    laid_bodies, shapes = bodies(TRIANGLE, GRAIN, two=False)
    up, down = poses(laid_bodies, outlines(shapes, 0.0, 0.0), {})[0]
    at = np.linspace(-0.95, 0.95, 39) * SIDE
    found = rises(Meetings().between(up, down), 0, at)
    assert found == pytest.approx(HIGH * (1 - 2 * np.abs(at) / SIDE), abs=1e-4)  # corners are on a lattice


def test_a_box_rests_on_a_box_or_passes_it() -> None:
    """Over a box of height b one rests at b + s as long as the two overlap along, and beyond is nothing."""
    pose = ways([[0, 0], [40, 0], [40, 12], [0, 12]], (0.0,), 3.0)[0]
    found = rises(Meetings().between(pose, pose), 0, np.array([-43.5, -39.0, 0.0, 25.0, 39.0, 43.5]))
    assert found[1:5] == pytest.approx(15.0, abs=1e-6)
    assert (found[[0, 5]] < -1e6).all()


@pytest.mark.parametrize(("points", "single"), [(BLADE, True), (BLADE, False), (HOOK, True)])
def test_piles_are_the_lowest_of_all_piles(points: object, single: bool) -> None:
    """No pile of three rows, of all there are, is lower than the one kept for its counts (plain counting)."""
    some = ways(points, GRAIN, 4.5)
    meetings, pushes = Meetings(), 3
    kind = Kind(some, (0, 1), 0, meetings)
    found = kind.piles(pushes, single=single, high_mm=1e3)
    shifts = (0.0,) if single else (0.0, kind.pitch_mm, -kind.pitch_mm)
    over = {}
    for one, other in itertools.product(range(len(some)), repeat=2):
        sums = meetings.between(some[one], some[other])
        for step in range(-pushes, pushes + 1):
            at = np.array([step * kind.push_mm + shift for shift in shifts])
            over[one, other, step] = float(rises(sums, 0, at).max()) + 2e-6
    lowest: dict[tuple[int, int], float] = {}
    for rows in itertools.product(itertools.product(range(len(some)), range(pushes + 1)), repeat=3):
        (p, a), (q, b), (r, c) = rows
        up = max(over[p, q, b - a] + over[q, r, c - b], over[p, r, c - a])
        first = sum(some[k].body == 0 for k, _ in rows)
        high = up + some[r].size_mm[1]
        lowest[first, 3 - first] = min(high, lowest.get((first, 3 - first), math.inf))
    for counts in ((1, 2), (2, 1)):
        assert found[counts].high_mm == pytest.approx(lowest[counts], abs=1e-9)
        assert len(found[counts].rows) == 3


def test_gaps_are_what_shapely_leaves() -> None:
    """Over any stretch a gap is where shapely finds nothing missing from the board; nothing more is free."""
    spread = Random(5)  # noqa: S311  # a test
    for _ in range(12):
        cut = [
            shapely.Point(spread.uniform(0, 150), spread.uniform(0, 90)).buffer(spread.uniform(4, 20))
            for _ in range(4)
        ]
        region = shapely.box(0, 0, 150, 90).difference(shapely.union_all(cut))
        region = max(shapely.get_parts(region), key=shapely.area)
        place = ground(Board(key="b", region=region))
        for axis in (0, 1):
            free = gaps(place, axis)
            first = spread.randrange(free.slices - 30)
            last = first + spread.randrange(1, 30)
            ends = [first * SLICE_MM, min(last * SLICE_MM, free.length_mm)]
            found = free.between(first, last)
            want = _free(region, place.x_mm, place.y_mm, axis, ends)
            assert len(found) == len(want)
            assert np.array(found) == pytest.approx(np.array(want), abs=1e-5)


def _free(
    region: shapely.Polygon, x_mm: float, y_mm: float, axis: int, ends: list[float]
) -> list[tuple[float, float]]:
    """What no part that the board lacks reaches across a stretch."""
    x1, y1 = region.bounds[2:]
    low, high = (y_mm, y1) if axis == 0 else (x_mm, x1)
    begin = x_mm if axis == 0 else y_mm
    band = (ends[0] + begin + 1e-7, low - 1, ends[1] + begin - 1e-7, high + 1)
    stretch = shapely.box(*band) if axis == 0 else shapely.box(band[1], band[0], band[3], band[2])
    across = shapely.LineString([(low, 0), (high, 0)])
    for part in shapely.get_parts(shapely.box(*region.bounds).difference(region)):
        inside = part.intersection(stretch)
        if inside.area > 1e-9:
            a, b = (inside.bounds[1], inside.bounds[3]) if axis == 0 else (inside.bounds[0], inside.bounds[2])
            across = across.difference(shapely.LineString([(a, 0), (b, 0)]))
    parts = [part.bounds for part in shapely.get_parts(across) if part.length > 1e-6]
    return sorted((part[0] - low, part[2] - low) for part in parts)


@pytest.mark.parametrize(
    ("size", "sheet", "spacing"),
    [((30, 10), (95, 55), 0.0), ((40, 14), (123, 46), 4.0), ((25, 12), (81.01, 57.01), 3.0)],
)
def test_boxes_go_as_often_as_they_fit(
    size: tuple[float, float], sheet: tuple[float, float], spacing: float
) -> None:
    """Boxes that keep their direction: floor((L + s)/(a + s)) x floor((W + s)/(b + s)) (closed form)."""
    a, b = size
    region = shapely.box(0, 0, *sheet)
    _, _, made = laid([[0, 0], [a, 0], [a, b], [0, b]], region, GRAIN, spacing, two=False)
    rows = math.floor((sheet[1] + spacing) / (b + spacing))
    assert len(made[0]) == math.floor((sheet[0] + spacing) / (a + spacing)) * rows


def test_a_row_across_takes_what_is_left_at_the_end() -> None:
    """Boxes of 40 x 10 mm on 50 x 40 mm: four along and one across, all of the board (closed form)."""
    region = shapely.box(0, 0, 50, 40)
    _, _, made = laid([[0, 0], [40, 0], [40, 10], [0, 10]], region, QUARTERS, 0.0, two=False)
    assert len(made[0]) == 5


def test_triangles_in_a_strip_fill_it() -> None:
    """2 n equilateral triangles go in a strip as high as they are and (n + 1/2) sides long (closed form)."""
    for n in (2, 3, 5):
        region = shapely.box(0, 0, (n + 0.5) * SIDE + 0.02, HIGH + 0.02)
        _, _, made = laid(TRIANGLE, region, GRAIN, 0.0, two=False)
        assert len(made[0]) == 2 * n


@pytest.mark.parametrize("points", [BLADE, HOOK, TRIANGLE])
@pytest.mark.parametrize("turns", [GRAIN, QUARTERS])
def test_every_layout_keeps_its_distances(points: object, turns: tuple[float, ...]) -> None:
    """On boards with a pad, a flaw and a slant, shapely finds all on the board and far enough apart."""
    whole_sheet = shapely.box(0, 0, 210, 150)
    regions = [
        whole_sheet.difference(shapely.box(0, 0, 24, 24)),
        whole_sheet.difference(shapely.Point(100, 70).buffer(18)),
        shapely.Polygon([(0, 0), (200, 20), (180, 130), (30, 150)]),
    ]
    for region in regions:
        table, work, made = laid(points, region, turns, 4.5)
        assert len(made) == 2
        for rests in made:
            assert len(rests) >= 4
            assert keeps_distance(table.place, rests, 4.5)
        counts = [whole(table, work, rests).counts["pair"] for rests in made]
        assert counts == sorted(counts, reverse=True)


def test_no_more_is_laid_than_is_wanted() -> None:
    """Where three pairs will do, the line stops: no whole group more is handed on, and it is shorter."""
    region = shapely.box(0, 0, 300, 150)
    _, _, much = laid(BLADE, region, GRAIN, 4.5)
    table, work, made = laid(BLADE, region, GRAIN, 4.5, most=3)
    assert whole(table, work, made[0]).counts == {"pair": 3}
    ends = [max(rest.x_mm + rest.pose.size_mm[0] for rest in rests) for rests in (made[0], much[0])]
    assert ends[0] < ends[1]


def test_nothing_is_laid_of_more_than_one_group() -> None:
    """Mixed work is left to others."""
    laid_bodies, shapes = bodies(BLADE, GRAIN)
    board = Board(key="b", region=shapely.box(0, 0, 200, 150))
    room = hall(laid_bodies, shapes, 4.5, SCALES["quick"], [board])
    work = Work(members={"a": (0,), "b": (1,)}, left={"a": 3, "b": 3}, order=("a", "b"), level=True, most=6)
    assert Blocks(work, 4.5, room.meetings).laid(room.tables([board])[0]) == []


def test_rows_are_pushed_no_further_than_they_may() -> None:
    """Pushes stay within what was allowed, and are there where they help."""
    kind = Kind(ways(BLADE, GRAIN, 4.5), (0, 1), 0, Meetings())
    flat = kind.piles(0, single=True, high_mm=1e3)[2, 2]
    free = kind.piles(PUSHES - 1, single=True, high_mm=1e3)[2, 2]
    assert {row.push for row in flat.rows} == {0}
    assert max(row.push for row in free.rows) <= PUSHES - 1
    assert free.high_mm < flat.high_mm


def test_spread_rows_of_diamonds_sink_between_one_another() -> None:
    """Diamonds w x h, 1.2 w apart: the next row rises 0.4 h, the one after clears the first at h (closed)."""
    w, h, m = 30.0, 20.0, 4
    diamond = [[0, h / 2], [w / 2, 0], [w, h / 2], [w / 2, h]]
    region = shapely.box(0, 0, w + (m - 0.5) * 1.2 * w, 2.4 * h + 0.01)
    laid_bodies, shapes = bodies(diamond, (0.0,), two=False)
    board = Board(key="b", region=region)
    room = hall(laid_bodies, shapes, 0.0, SCALES["quick"], [board])
    table = room.tables([board])[0]
    work = Work(members=room.groups, left={"pair": 10**6}, order=("pair",), level=True, most=10**6)
    rests = next(rests for rests in Blocks(work, 0.0, room.meetings).spread(table) if len(rests) == 4 * m)
    assert sorted({round(rest.y_mm / h, 3) for rest in rests}) == [0.0, 0.4, 1.0, 1.4]
    assert keeps_distance(table.place, rests, 0.0)


def test_spread_rows_leave_out_what_is_off_the_board() -> None:
    """Beside a pad nothing reaches beyond the board (shapely)."""
    region = shapely.box(0, 0, 210, 150).difference(shapely.box(0, 0, 30, 30))
    laid_bodies, shapes = bodies(BLADE, QUARTERS)
    board = Board(key="b", region=region)
    room = hall(laid_bodies, shapes, 4.5, SCALES["quick"], [board])
    table = room.tables([board])[0]
    work = Work(members=room.groups, left={"pair": 10**6}, order=("pair",), level=True, most=10**6)
    made = Blocks(work, 4.5, room.meetings).spread(table)
    assert len(made[0]) >= len(made[-1]) >= 4
    for rest in itertools.chain(*made):
        outline = shapely.Polygon(rest.pose.exact_mm[0] + (rest.x_mm, rest.y_mm))
        assert outline.difference(region).area < 1e-6


def test_a_body_too_many_makes_room_for_one_too_few() -> None:
    """Of three lefts where two and a right are wanted, the third is a right in the same box, turned alike."""
    laid_bodies, shapes = bodies(BLADE, GRAIN)
    board = Board(key="b", region=shapely.box(0, 0, 210, 100))
    room = hall(laid_bodies, shapes, 4.5, SCALES["quick"], [board])
    table = room.tables([board])[0]
    begin = tuple(Piece(body=0, pose=k % 2, x=int(68 * k / table.step_mm), y=12) for k in range(3))
    attempt = _Attempt(begin=begin, moves=1, gently=True)
    pieces = _filled_up(table, attempt, [0, 0, 1], Random(0))  # noqa: S311  # a test
    assert pieces[:2] == list(begin[:2])
    assert (pieces[2].body, pieces[2].x, pieces[2].y) == (1, begin[2].x, begin[2].y)
    assert table.pose(pieces[2]).angle_rad == table.pose(begin[2]).angle_rad


@pytest.mark.parametrize("number", [1, 12, 16])
def test_a_quick_search_holds_no_less_than_blocks(number: int) -> None:
    """What blocks alone lay is where a quick search begins."""
    job = JOBS[number]
    room = hall(job.bodies(), job.shapes, SPACING_MM, SCALES["quick"], job.boards())
    table = room.tables(job.boards())[0]
    work = Work(members=room.groups, left={"pair": 10**6}, order=("pair",), level=True, most=10**6)
    blocks = whole(table, work, Blocks(work, SPACING_MM, room.meetings).laid(table)[0]).counts["pair"]
    found = search(job.bodies(), job.boards(), shapes=job.shapes, spacing_mm=SPACING_MM, effort="quick")
    assert found.found >= blocks >= 1
