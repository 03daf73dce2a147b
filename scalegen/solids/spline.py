"""B-spline curves and surfaces through points of the shapes we know, of degree five.

Everything is interpolated at the Greville points of its own knots. Curves and surfaces over the same knots
through the same points then have the same poles along their common border, so that neighbours share their
edges to the last digit, and whatever is linear in the parameters comes out exactly linear.
"""

from functools import cache

import numpy as np
from OCP.Geom import Geom_BSplineCurve, Geom_BSplineSurface
from OCP.Geom2d import Geom2d_BSplineCurve
from OCP.gp import gp_Pnt, gp_Pnt2d
from OCP.TColgp import TColgp_Array1OfPnt, TColgp_Array1OfPnt2d, TColgp_Array2OfPnt
from OCP.TColStd import TColStd_Array1OfInteger, TColStd_Array1OfReal

from scalegen.outline.ring import FloatArray

DEGREE = 5


def even_knots(spans: int, degree: int = DEGREE) -> FloatArray:
    """Clamped knots on [0, 1] with evenly spaced spans."""
    return np.concatenate([np.zeros(degree), np.linspace(0.0, 1.0, spans + 1), np.ones(degree)])


def greville(knots: FloatArray, degree: int = DEGREE) -> FloatArray:
    """Places (n,) that belong to the n poles of a spline."""
    n = len(knots) - degree - 1
    return np.array([knots[i + 1 : i + degree + 1].mean() for i in range(n)])


def basis(knots: FloatArray, at: FloatArray, degree: int = DEGREE) -> FloatArray:
    """Basis functions (m, n) at places (m,). Source: the Cox-de Boor recursion."""
    intervals = len(knots) - 1
    last = int(np.searchsorted(knots, knots[-1], "left")) - 1
    which = np.clip(np.searchsorted(knots, at, "right") - 1, 0, last)
    table: FloatArray = np.zeros((len(at), intervals))
    table[np.arange(len(at)), which] = 1.0
    for d in range(1, degree + 1):
        table = _raised(table, knots, at, d)
    return table


def _raised(table: FloatArray, knots: FloatArray, at: FloatArray, degree: int) -> FloatArray:
    """Basis functions of one degree more."""
    width = knots[degree:] - knots[:-degree]
    inverse = np.where(width > 0, 1.0 / np.where(width > 0, width, 1.0), 0.0)
    rise = (at[:, None] - knots[:-degree]) * inverse
    fall = (inverse > 0) - rise
    n = len(knots) - 1 - degree
    raised: FloatArray = rise[:, :n] * table[:, :n] + fall[:, 1 : n + 1] * table[:, 1 : n + 1]
    return raised


@cache
def _inverse(knots: bytes, degree: int) -> FloatArray:
    values: FloatArray = np.frombuffer(knots, dtype=np.float64)
    square = basis(values, greville(values, degree), degree)
    return np.asarray(np.linalg.inv(square), dtype=np.float64)


def poles_through(points: FloatArray, knots: FloatArray, degree: int = DEGREE) -> FloatArray:
    """Poles (n, d) of the spline through points (n, d) at the Greville places; the ends exactly."""
    poles: FloatArray = _inverse(knots.tobytes(), degree) @ points
    poles[0], poles[-1] = points[0], points[-1]
    return poles


def curve_3d(poles: FloatArray, knots: FloatArray, degree: int = DEGREE) -> Geom_BSplineCurve:
    """A kernel curve from poles (n, 3)."""
    table = TColgp_Array1OfPnt(1, len(poles))
    for i, pole in enumerate(poles.tolist()):
        table.SetValue(i + 1, gp_Pnt(*pole))
    return Geom_BSplineCurve(table, *_knots(knots), degree)


def curve_2d(poles: FloatArray, knots: FloatArray, degree: int = DEGREE) -> Geom2d_BSplineCurve:
    """A kernel curve in a surface's parameters from poles (n, 2)."""
    table = TColgp_Array1OfPnt2d(1, len(poles))
    for i, pole in enumerate(poles.tolist()):
        table.SetValue(i + 1, gp_Pnt2d(*pole))
    return Geom2d_BSplineCurve(table, *_knots(knots), degree)


def straight_2d(start: FloatArray, end: FloatArray, first: float, last: float) -> Geom2d_BSplineCurve:
    """A straight line in a surface's parameters, from parameter ``first`` to ``last``."""
    return curve_2d(np.array([start, end]), np.array([first, first, last, last]), 1)


def surface_through(
    points: FloatArray,
    u_knots: FloatArray,
    v_knots: FloatArray,
    u_range: tuple[float, float] = (0.0, 1.0),
    v_range: tuple[float, float] = (0.0, 1.0),
) -> Geom_BSplineSurface:
    """A kernel surface through points (n, m, 3) at the Greville places of its knots.

    Args:
        points: (n, m, 3).
        u_knots: Knots on [0, 1] for n poles.
        v_knots: Knots on [0, 1] for m poles.
        u_range: What the knots are stretched to.
        v_range: The same the other way.
    """
    u_inverse, v_inverse = (_inverse(knots.tobytes(), DEGREE) for knots in (u_knots, v_knots))
    poles = np.einsum("ij,jkc,lk->ilc", u_inverse, points, v_inverse, optimize=True)
    table = TColgp_Array2OfPnt(1, poles.shape[0], 1, poles.shape[1])
    for i, row in enumerate(poles.tolist()):
        for j, pole in enumerate(row):
            table.SetValue(i + 1, j + 1, gp_Pnt(*pole))
    u = _knots(u_range[0] + u_knots * (u_range[1] - u_range[0]))
    v = _knots(v_range[0] + v_knots * (v_range[1] - v_range[0]))
    return Geom_BSplineSurface(table, u[0], v[0], u[1], v[1], DEGREE, DEGREE)


def _knots(knots: FloatArray) -> tuple[TColStd_Array1OfReal, TColStd_Array1OfInteger]:
    values, counts = np.unique(knots, return_counts=True)
    reals, integers = TColStd_Array1OfReal(1, len(values)), TColStd_Array1OfInteger(1, len(values))
    for i, (value, count) in enumerate(zip(values.tolist(), counts.tolist(), strict=True)):
        reals.SetValue(i + 1, value)
        integers.SetValue(i + 1, count)
    return reals, integers
