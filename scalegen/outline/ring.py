"""The one 2D currency: a closed chain of straight lines and circular arcs."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from scalegen.errors import GeometryError

FloatArray = npt.NDArray[np.float64]

_COINCIDENT_MM = 1e-9
_LARGEST_MM = 1e5


@dataclass(frozen=True, eq=False)
class Ring:
    """A closed, counter-clockwise chain of lines and circular arcs.

    Row i holds the start point of segment i and its bulge, tan(theta / 4), where theta is the angle the
    segment turns through: 0 for a line, 1 for a half circle, negative for an arc that turns clockwise.
    The segment ends at the start of row i + 1; the last one closes the ring.

    Attributes:
        rows: float64 (n, 3) x, y, bulge in mm; read-only. Use :meth:`from_rows` for anything typed or read.

    Source: the bulge is that of the DXF reference, LWPOLYLINE group code 42.
    """

    rows: FloatArray

    def __post_init__(self) -> None:
        self.rows.setflags(write=False)

    @classmethod
    def from_rows(cls, rows: Sequence[Sequence[float]] | FloatArray, where: str = "outline") -> "Ring":
        """Check rows, drop a repeated end point, and turn the ring counter-clockwise.

        Args:
            rows: (n, 2) or (n, 3) x, y and optional bulge in mm; n >= 3, or n = 2 with an arc.
            where: Named in errors.

        Returns:
            The ring.

        Raises:
            GeometryError: Not finite, too few points, coincident neighbours, or no area. Self-crossing is
                not looked for here; see :func:`scalegen.outline.crossing.self_crossings`.
        """
        table = np.array(rows, dtype=np.float64)
        if table.ndim != 2 or table.shape[1] not in (2, 3):
            raise GeometryError("needs rows of x, y and optional bulge", where=where)
        if table.shape[1] == 2:
            table = np.column_stack([table, np.zeros(len(table))])
        if not np.isfinite(table).all():
            bad = int(np.argmin(np.isfinite(table).all(axis=1)))
            raise GeometryError("a coordinate is not a finite number", where=f"{where}[{bad}]")
        if np.abs(table[:, :2]).max(initial=0.0) > _LARGEST_MM:
            raise GeometryError(
                f"a coordinate is beyond {_LARGEST_MM / 1000:.0f} m; no handle is that large",
                where=where,
                remedy="check the unit of the outline",
            )
        if (
            len(table) > 1
            and table[-1, 2] == 0
            and np.hypot(*(table[-1, :2] - table[0, :2])) < _COINCIDENT_MM
        ):
            table = table[:-1]
        if len(table) < 2 or (len(table) == 2 and not table[:, 2].any()):
            raise GeometryError("needs at least three points, or two and an arc", where=where)
        gaps = np.hypot(*(np.roll(table, -1, axis=0) - table)[:, :2].T)
        if gaps.min() < _COINCIDENT_MM:
            bad = int(gaps.argmin())
            raise GeometryError(
                f"two neighbouring points coincide at x = {table[bad, 0]:.3f}, y = {table[bad, 1]:.3f}",
                where=f"{where}[{bad}]",
                remedy="remove one of them",
            )
        ring = cls(table)
        if ring.area_mm2 < 0:
            ring = ring.reversed()
        if ring.area_mm2 < 1e-12:
            raise GeometryError("encloses no area", where=where)
        return ring

    def __len__(self) -> int:
        return len(self.rows)

    def __repr__(self) -> str:
        x0, y0, x1, y1 = self.bounds_mm
        return f"Ring({len(self)} segments, {x1 - x0:.3f} x {y1 - y0:.3f} mm, {self.area_mm2:.3f} mm2)"

    # ------------------------------------------------------------------------------ segments

    @property
    def starts(self) -> FloatArray:
        """Start points of the segments, (n, 2)."""
        return self.rows[:, :2]

    @property
    def ends(self) -> FloatArray:
        """End points of the segments, (n, 2)."""
        return np.concatenate([self.rows[1:, :2], self.rows[:1, :2]])

    @property
    def bulges(self) -> FloatArray:
        """Bulges of the segments, (n,)."""
        return self.rows[:, 2]

    @property
    def sweeps(self) -> FloatArray:
        """Signed angles the segments turn through, (n,) rad; 0 for lines."""
        return 4.0 * np.arctan(self.bulges)

    @property
    def chords(self) -> FloatArray:
        """Straight distances from start to end, (n,)."""
        step = self.ends - self.starts
        chords: FloatArray = np.hypot(step[:, 0], step[:, 1])
        return chords

    @property
    def radii(self) -> FloatArray:
        """Signed radii, (n,): positive where the arc turns counter-clockwise, inf for lines."""
        b = self.bulges
        bent = np.where(b == 0, 1.0, b)
        radii: FloatArray = np.where(b == 0, np.inf, self.chords * (1 + b**2) / (4 * bent))
        return radii

    @property
    def centers(self) -> FloatArray:
        """Centres of the arcs, (n, 2); nan for lines."""
        b = self.bulges
        step = self.ends - self.starts
        left = np.column_stack([-step[:, 1], step[:, 0]])
        reach = np.where(b == 0, np.nan, (1 - b**2) / (4 * np.where(b == 0, 1.0, b)))
        centers: FloatArray = (self.starts + self.ends) / 2 + left * reach[:, None]
        return centers

    # ------------------------------------------------------------------------------ measures

    @property
    def area_mm2(self) -> float:
        """Signed area: the shoelace sum and one circular segment for each arc."""
        a, b = self.starts, self.ends
        polygon = 0.5 * float(np.sum(a[:, 0] * b[:, 1] - b[:, 0] * a[:, 1]))
        return polygon + float(np.sum(_segment_areas(self)))

    @property
    def perimeter_mm(self) -> float:
        """Length of all lines and arcs."""
        return float(np.sum(self.lengths))

    @property
    def lengths(self) -> FloatArray:
        """Lengths of the segments, (n,)."""
        half = np.abs(self.sweeps) / 2
        lengths: FloatArray = self.chords / np.sinc(half / np.pi)
        return lengths

    @property
    def bounds_mm(self) -> tuple[float, float, float, float]:
        """Smallest box: x and y of its lower left and upper right corner."""
        points = [self.starts]
        swept = self.sweeps
        arcs = np.flatnonzero(swept)
        first = self._headings()[arcs] - np.sign(swept[arcs]) * np.pi / 2
        for quarter in range(4):
            gap = quarter * np.pi / 2 - first
            turn = np.where(swept[arcs] > 0, gap, -gap) % (2 * np.pi)
            hit = turn < np.abs(swept[arcs])
            points.append(self._along(arcs[hit], (turn * np.sign(swept[arcs]))[hit]))
        low, high = np.vstack(points).min(axis=0), np.vstack(points).max(axis=0)
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])

    def _headings(self) -> FloatArray:
        """Angles (n,) of the tangents at the starts."""
        step = self.ends - self.starts
        heading: FloatArray = np.arctan2(step[:, 1], step[:, 0]) - self.sweeps / 2
        return heading

    def _along(self, index: npt.NDArray[np.intp], turn: FloatArray) -> FloatArray:
        """Points (k, 2) reached from the starts of arcs ``index`` (k,) by turning ``turn`` (k,), signed.

        Worked from the start along a chord, so that the digits of a very large radius are not lost.
        """
        angle = self._headings()[index] + turn / 2
        chord = self.radii[index] * turn * np.sinc(turn / (2 * np.pi))
        reached: FloatArray = self.starts[index] + chord[:, None] * np.column_stack(
            [np.cos(angle), np.sin(angle)]
        )
        return reached

    # ------------------------------------------------------------------------------ other forms

    def reversed(self) -> "Ring":
        """The same curve travelled the other way round."""
        return Ring(np.column_stack([self.ends[::-1], 0.0 - self.bulges[::-1]]))

    def flatten(self, tolerance_mm: float = 0.005) -> FloatArray:
        """Points on the ring whose chords stay within a distance of it.

        Args:
            tolerance_mm: Largest distance between a chord and its arc, above 0.

        Returns:
            float64 (m, 2), first point not repeated; every segment start is among them.
        """
        radii, swept = np.abs(self.radii), np.abs(self.sweeps)
        share = np.minimum(tolerance_mm / radii, 2.0)
        # 2 asin(sqrt(x / 2)) is acos(1 - x) without the loss of digits.
        step = np.maximum(4 * np.arcsin(np.sqrt(share / 2)), 1e-6)
        with np.errstate(divide="ignore", invalid="ignore"):
            counts = np.where(swept == 0, 1, np.maximum(2, np.ceil(swept / step))).astype(np.intp)
        index = np.repeat(np.arange(len(self)), counts)
        number = np.arange(len(index)) - np.repeat(np.cumsum(counts) - counts, counts)
        out = self.starts[index]
        inner = number > 0
        out[inner] = self._along(index[inner], (self.sweeps[index] * number / counts[index])[inner])
        return out


def segment_excess(turn: FloatArray) -> FloatArray:
    """The difference t - sin t for angles (n,) in rad; twice the area of a circular segment of radius 1.

    For small angles the series t^3/6 - t^5/120 keeps the digits that the difference would lose.
    """
    excess: FloatArray = np.where(
        np.abs(turn) < 1e-2, turn**3 / 6 - turn**5 / 120 + turn**7 / 5040, turn - np.sin(turn)
    )
    return excess


def _segment_areas(ring: Ring) -> FloatArray:
    """Signed areas between each arc and its chord, (n,) mm2."""
    t = ring.sweeps
    radii = np.where(t == 0, 0.0, ring.radii)
    return 0.5 * radii**2 * segment_excess(t)
