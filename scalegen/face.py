"""The face of a scale as a surface: how high the outer side lies above every point of the plan.

A crown is part of a cylinder, a swell a natural cubic spline along the handle. Both together simply add up,
so the face is as smooth as its parts: tangent everywhere, and without jumps of curvature.
"""

import math
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from scalegen.errors import GeometryError
from scalegen.model import Crown, Face
from scalegen.outline.measure import sampled
from scalegen.outline.ring import FloatArray, Ring

_SAMPLE_MM = 0.5
_ROOM_SHARE = 0.9
_STRAIGHT_SHARE = 0.98


@dataclass(frozen=True, kw_only=True, eq=False)
class FaceShape:
    """Height of the face above the finished back (z = 0) as a function of x and y, all in mm.

    Attributes:
        thickness_mm: Height on the crown line where the handle is thickest.
        crown_mm: Radius of the crown, 0 without one.
        point: (2,) a point of the crown line.
        angle_rad: Direction of the crown line against +x.
        stations: (k, 3) of the swell: x, how much lower the face lies there than at its thickest, and the
            second derivative of that in 1/mm; (0, 3) without a swell.
    """

    thickness_mm: float
    crown_mm: float
    point: FloatArray
    angle_rad: float
    stations: FloatArray

    @property
    def is_flat(self) -> bool:
        """Whether it is one plane."""
        return self.crown_mm == 0 and not len(self.stations)

    def height_mm(self, points: FloatArray) -> FloatArray:
        """Heights (k,) of the face above points (k, 2)."""
        return self.thickness_mm - self.drop_mm(points)

    def drop_mm(self, points: FloatArray) -> FloatArray:
        """How much lower than ``thickness_mm`` the face lies at points (k, 2); (k,)."""
        drop = np.zeros(len(points))
        if self.crown_mm:
            beside = np.abs(self.beside_mm(points))
            # Far outside the handle the cylinder ends; the face goes on straight there.
            far = _STRAIGHT_SHARE * self.crown_mm
            off = np.minimum(beside, far)
            root = np.sqrt(self.crown_mm**2 - off**2)
            # R - sqrt(R^2 - q^2), written so that it loses no digits on a flat crown.
            drop += off**2 / (self.crown_mm + root) + (beside - off) * off / root
        if len(self.stations):
            drop += spline_at(self.stations, points[:, 0])
        return drop

    def highest_mm(self, low_x: float, high_x: float) -> float:
        """Height that the face nowhere stands above between two x."""
        if not len(self.stations):
            return self.thickness_mm
        return self.thickness_mm + spline_most(self.stations * [1.0, -1.0, -1.0], low_x, high_x)

    def beside_mm(self, points: FloatArray) -> FloatArray:
        """Signed distances (k,) of points (k, 2) from the crown line in the plan, positive to its left."""
        across = np.array([-math.sin(self.angle_rad), math.cos(self.angle_rad)])
        beside: FloatArray = (points - self.point) @ across
        return beside

    def moved_to(self, thickness_mm: float) -> "FaceShape":
        """The same face at another thickness."""
        return replace(self, thickness_mm=thickness_mm)


def flat_face(thickness_mm: float) -> FaceShape:
    """A face that is one plane."""
    return FaceShape(
        thickness_mm=thickness_mm, crown_mm=0.0, point=np.zeros(2), angle_rad=0.0, stations=np.empty((0, 3))
    )


def face_shape(face: Face, thickness_mm: float | None, available_mm: float, finished: Ring) -> FaceShape:
    """Settle a face on a finished outline.

    Args:
        face: As the pattern says it.
        thickness_mm: The pattern's thickness, or None for all there is.
        available_mm: All there is.
        finished: Finished outline.

    Returns:
        The face. With a swell of given thicknesses its thickness is the largest along the handle, which
        may be a hair more than the largest station.

    Raises:
        GeometryError: The crown is rounder than the handle is wide.
    """
    x0, y0, x1, y1 = finished.bounds_mm
    thickness = available_mm if thickness_mm is None else thickness_mm
    stations = np.empty((0, 3))
    if face.swell:
        typed = np.array(face.swell)
        bent = natural_spline(typed[:, 0], typed[:, 1])
        most = spline_most(bent, x0, x1)
        thickness = available_mm if thickness_mm is None else most
        stations = np.column_stack([bent[:, 0], most - bent[:, 1], -bent[:, 2]])
    point, angle, radius = np.array([(x0 + x1) / 2, (y0 + y1) / 2]), 0.0, 0.0
    if face.crown is not None:
        angle = face.crown.angle_rad
        if face.crown.at_mm is not None:
            point[1] = face.crown.at_mm
        radius = _crown_radius_mm(face.crown, point, finished)
    return FaceShape(thickness_mm=thickness, crown_mm=radius, point=point, angle_rad=angle, stations=stations)


def crown_height_mm(shape: FaceShape, finished: Ring) -> float:
    """How much lower the crown lies at the widest place of an outline than on the crown line; 0 without."""
    if not shape.crown_mm:
        return 0.0
    half = _half_width_mm(shape.point, shape.angle_rad, finished)
    return half**2 / (shape.crown_mm + math.sqrt(max(0.0, shape.crown_mm**2 - half**2)))


def _crown_radius_mm(crown: Crown, point: FloatArray, finished: Ring) -> float:
    half = _half_width_mm(point, crown.angle_rad, finished)
    if crown.radius_mm is not None:
        radius = crown.radius_mm
    else:
        height = crown.height_mm or 0.0
        radius = (half**2 + height**2) / (2 * height)
    if half > _ROOM_SHARE * radius or (crown.height_mm or 0.0) > half:
        raise GeometryError(
            f"the crown's radius of {radius:.2f} mm does not reach over the handle, which goes"
            f" {half:.2f} mm to one side of the crown line",
            where="scale.crown",
            remedy=f"use a radius above {half / _ROOM_SHARE:.1f} mm, or a smaller height",
        )
    return radius


def _half_width_mm(point: FloatArray, angle_rad: float, finished: Ring) -> float:
    across = np.array([-math.sin(angle_rad), math.cos(angle_rad)])
    return float(np.abs((sampled(finished, _SAMPLE_MM) - point) @ across).max())


# ------------------------------------------------------------------------------------------- the swell


def natural_spline(x: FloatArray, y: FloatArray) -> FloatArray:
    """The natural cubic spline through points: straight beyond both ends.

    Args:
        x: (k,) growing.
        y: (k,).

    Returns:
        (k, 3) x, y and the second derivative.

    Source: the tridiagonal equations for second derivatives of any textbook on numerical analysis.
    """
    bend = np.zeros(len(x))
    if len(x) > 2:
        step = np.diff(x)
        slope = np.diff(y) / step
        matrix = np.diag((step[:-1] + step[1:]) / 3)
        matrix += np.diag(step[1:-1] / 6, 1) + np.diag(step[1:-1] / 6, -1)
        bend[1:-1] = np.linalg.solve(matrix, np.diff(slope))
    return np.column_stack([x, y, bend])


def spline_at(spline: FloatArray, x: FloatArray) -> FloatArray:
    """Values (n,) of a natural cubic spline (k, 3) at x (n,)."""
    if len(spline) == 1:
        return np.full(len(x), spline[0, 1])
    knots, values, bends = spline.T
    k = np.clip(np.searchsorted(knots, x) - 1, 0, len(knots) - 2)
    step = knots[k + 1] - knots[k]
    inner = np.clip(x, knots[0], knots[-1])
    a, b = (knots[k + 1] - inner) / step, (inner - knots[k]) / step
    cubic = ((a**3 - a) * bends[k] + (b**3 - b) * bends[k + 1]) * step**2 / 6
    slope = (values[k + 1] - values[k]) / step
    slope = slope + ((3 * b**2 - 1) * bends[k + 1] - (3 * a**2 - 1) * bends[k]) * step / 6
    height: FloatArray = a * values[k] + b * values[k + 1] + cubic + slope * (x - inner)
    return height


def spline_most(spline: FloatArray, low: float, high: float) -> float:
    """The largest value of a natural cubic spline (k, 3) between two x."""
    inside = spline[(spline[:, 0] > low) & (spline[:, 0] < high), 0]
    ends = np.concatenate([[low], inside, [high]])
    places = [ends]
    for a, b in pairwise(ends.tolist()):
        # A cubic through four of its points tells where its slope is nothing.
        s = np.linspace(0.0, 1.0, 4)
        cubic = np.polynomial.Polynomial.fit(s, spline_at(spline, a + (b - a) * s), 3, domain=[0, 1])
        roots = cubic.deriv().roots()
        real = np.real(roots[np.abs(np.imag(roots)) < 1e-9])
        places.append(a + (b - a) * np.clip(real, 0.0, 1.0))
    return float(spline_at(spline, np.concatenate(places)).max())
