"""Path data: every command, packed numbers, faults; and how curves become lines and arcs."""

import math

import numpy as np
import pytest

from scalegen.outline.join import Piece
from scalegen.outline.svg_path import read_path
from scalegen.outline.svg_refit import bent_of, careful_piece, plain_piece
from scalegen.outline.svg_segments import Arc, Bezier, Line, Subpath


def svg_piece(subpath: Subpath, name: str, tolerance_mm: float) -> Piece | None:
    """The piece that a drawing of one subpath gives."""
    bent = bent_of(subpath, name)
    return plain_piece(bent, tolerance_mm) or careful_piece(bent, tolerance_mm)


def one(text: str) -> Subpath:
    """The only subpath of path data without fault."""
    data = read_path(text, 1000)
    assert not data.fault
    (subpath,) = data.subpaths
    return subpath


@pytest.mark.parametrize(
    ("short", "long"),
    [
        ("m1 2 3 4 5 6", "M1 2 L4 6 L9 12"),
        ("M1 2h3v4H0V1", "M1 2 L4 2 L4 6 L0 6 L0 1"),
        ("M1,2.5.5-3e0", "M1 2.5 L.5 -3"),
        ("M0 0c1 1 2 2 3 0s2-2 3 0", "M0 0 C1 1 2 2 3 0 C4 -2 5 -2 6 0"),
        ("M0 0q1 2 2 0t2 0", "M0 0 Q1 2 2 0 Q3 -2 4 0"),
        ("M5 5S1 1 2 2", "M5 5 C5 5 1 1 2 2"),
        ("M5 5T7 7", "M5 5 Q5 5 7 7"),
        ("M0 0a5 5 0 1125 25", "M0 0 A5 5 0 1 1 25 25"),
        ("M0 0a5,5,0,01.5.5", "M0 0 A 5 5 0 0 1 0.5 0.5"),
    ],
)
def test_short_forms_mean_the_long_ones(short: str, long: str) -> None:
    """Relative, repeated, smooth and packed commands draw what their long form draws."""
    assert one(short) == one(long)


def test_after_z_the_pen_is_where_the_subpath_began() -> None:
    """Commands after Z without a move go on from the start of the closed subpath."""
    first, second = read_path("M1 1h2v2z h-1 v-1", 99).subpaths
    assert first.closed
    assert (second.start, second.segments[0], second.closed) == ((1.0, 1.0), Line(end=(0.0, 1.0)), False)


@pytest.mark.parametrize(
    "text", ["L1 1", "M0 0L1", "M0 0 X", "M0 0A1 1 0 2 0 3 3", "M0 0 1e999 0", "M0 0z 5"]
)
def test_faults_are_said_with_their_place(text: str) -> None:
    """Anything that is not path data stops the reading and names the character."""
    assert "character" in read_path(text, 99).fault


def test_numbers_are_never_split() -> None:
    """A number left over is a fault; it does not lend its last digit to a missing one."""
    data = read_path("M10 20 30", 99)
    assert data.fault
    assert not data.subpaths


def test_degenerate_arcs() -> None:
    """A radius of zero makes a line, equal ends make nothing (SVG 1.1, F.6.2)."""
    assert one("M0 0A0 5 0 0 1 9 0").segments == (Line(end=(9.0, 0.0)),)
    assert not read_path("M1 1A5 5 0 0 1 1 1", 9).subpaths


def test_lines_and_round_arcs_are_kept_exactly() -> None:
    """A slot of lines and half circles comes out as two lines and two bulges of one."""
    piece = svg_piece(one("M0 0H20A5 5 0 0 1 20 10H0A5 5 0 0 1 0 0Z"), "path", 0.005)
    assert piece is not None
    assert piece.closed
    assert np.abs(piece.rows - [[0, 0, 0], [20, 0, 1], [20, 10, 0], [0, 10, 1]]).max() < 1e-12


def test_straight_beziers_become_lines() -> None:
    """Cubics and quadratics whose control points lie on the chord are straight."""
    piece = svg_piece(one("M0 0C3 0 6 0 9 0Q9 2 9 5Z"), "path", 0.005)
    assert piece is not None
    assert np.abs(piece.rows - [[0, 0, 0], [9, 0, 0], [9, 5, 0]]).max() < 1e-12


def test_corner_between_beziers_is_kept() -> None:
    """Where two cubics meet at an angle, the corner is a point of the piece."""
    piece = svg_piece(one("M0 0C10 8 20 8 30 0C20-8 10-8 0 0Z"), "path", 0.005)
    assert piece is not None
    for corner in ([0, 0], [30, 0]):
        assert np.hypot(*(piece.rows[:, :2] - corner).T).min() < 1e-9


def test_four_cubics_make_a_circle() -> None:
    """Four cubics with the usual handles are a circle again, within their own error."""
    k = 4 / 3 * (math.sqrt(2) - 1)
    text = f"M1 0C1 {k} {k} 1 0 1S-1 {k}-1 0S{-k}-1 0-1S1 {-k} 1 0Z"
    piece = svg_piece(one(text), "path", 0.005)
    assert piece is not None
    assert piece.rows[:, 2] == pytest.approx([1, 1])
    assert abs(piece.rows[0, 0] - piece.rows[1, 0]) / 2 == pytest.approx(1, abs=3e-4)


def test_ellipse_is_not_taken_for_a_circle() -> None:
    """An oval one part in a hundred out of round stays an oval."""
    oval = Arc(center=(0, 0), u=(2.02, 0), v=(0, 2), start_rad=0, sweep_rad=2 * math.pi, end=(2.02, 0))
    piece = svg_piece(Subpath(start=(2.02, 0), segments=(oval,), closed=True), "ellipse", 0.005)
    assert piece is not None
    assert len(piece.rows) > 2


def test_box_holds_the_curve() -> None:
    """The points that tell where a subpath is reach as far as its curves."""
    arc = Arc(center=(0, 0), u=(3, 0), v=(0, 2), start_rad=0, sweep_rad=math.pi, end=(-3, 0))
    points = Subpath(
        start=(3, 0), segments=(arc, Bezier(first=(0, 9), second=(1, 1), end=(2, 2))), closed=False
    ).points()
    assert points.max(axis=0).tolist() == [3, 9]
