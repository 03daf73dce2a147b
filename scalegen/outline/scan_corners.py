"""Sharp corners put back that the blur of a scan has rounded.

On either side of a corner the edge is followed from a little way off, where the blur of the corner does not
reach, and carried on to where both meet. Blur with standard deviation s draws the edge away from a corner
that turns by t by about 0.8 s tan(t / 2) (the mean size of a normal variable is 0.8 s); a contour that keeps
farther off than that was rounded on the tang itself and stays as it is.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from scalegen.outline.pieces import IntArray
from scalegen.outline.ring import FloatArray

LEAST_TURN_RAD = 0.3

_WINDOW = 10  # points on either side over which a direction is taken
_LONG = (160, 80, 40, 20)  # points over which a straight branch is followed, longest first
_BENT = (64, 40)  # points over which a curved one is, as far as a parabola follows it
_SHORT = 24  # points that are taken when none of these will do
_FEWEST = 5
# Points that a blurred edge gives are not independent: errors of neighbours go together.
_OFF_NOISE = 2.0
_SAG_NOISE = 8.0
_OFF_FACTOR = 1.6
_NOISY_PX = 0.05
_STEEPEST_RAD = 2.5


@dataclass(frozen=True, kw_only=True, eq=False)
class Corner:
    """A corner put back.

    Attributes:
        at: Place (2,) mm.
        index: The contour's point nearest to it.
        first: Points (k, 2) mm that stand for those just before it.
        second: Points (k, 2) mm that stand for those just after it.
    """

    at: FloatArray
    index: int
    first: FloatArray
    second: FloatArray


@dataclass(frozen=True, kw_only=True, eq=False)
class _Branch:
    """One side of a corner: y is a polynomial of x in a frame of its own, x towards the corner."""

    origin: FloatArray
    along: FloatArray
    factors: FloatArray
    far: float

    def at(self, x: FloatArray) -> FloatArray:
        """Points (n, 2) at x (n,)."""
        y = np.polynomial.polynomial.polyval(x, self.factors)
        left = np.array([-self.along[1], self.along[0]])
        out: FloatArray = self.origin + x[:, None] * self.along + y[:, None] * left
        return out

    def heading(self, x: float) -> FloatArray:
        """Direction (2,) at x, with a step of 1 along x."""
        left = np.array([-self.along[1], self.along[0]])
        out: FloatArray = self.along + np.polynomial.polynomial.polyval(x, _slopes(self.factors)) * left
        return out


def _slopes(factors: FloatArray) -> FloatArray:
    """Factors of the derivative."""
    slopes: FloatArray = factors[1:] * np.arange(1, len(factors))
    return slopes


def gap_points(blur_px: float, noise_px: float) -> int:
    """How many points on either side of a corner are left out because its blur reaches them.

    At twice the blur from a right-angled corner the edge is still drawn in by 0.03 of the blur (the product
    of two normal distributions, worked out by hand). Where single points are surer than that the gap is
    wider; where they are not, it costs less than carrying a noisy edge on over a longer way.

    Args:
        blur_px: Standard deviation of the blur the edges show.
        noise_px: Standard deviation of single points across the edge.
    """
    noisy = noise_px > _NOISY_PX
    return int(np.ceil(2.0 * blur_px)) + 1 if noisy else int(np.ceil(2.5 * blur_px)) + 2


def find_corners(points: FloatArray, blur_px: float, pixel_mm: float, noise_mm: float) -> list[Corner]:
    """Find and put back the sharp corners of a closed contour.

    Args:
        points: float64 (n, 2) mm, about one point a pixel.
        blur_px: Standard deviation of the blur the edges show.
        pixel_mm: Size of a pixel.
        noise_mm: Standard deviation of single points across the edge.

    Returns:
        Corners in the order of the points.
    """
    gap = gap_points(blur_px, noise_mm / pixel_mm)
    rough = _candidates(points, gap)
    corners = []
    for k, index in enumerate(rough):
        before = (index - rough[k - 1]) % len(points) or len(points)
        after = (rough[(k + 1) % len(rough)] - index) % len(points) or len(points)
        corner = _corner(points, index, (before - 2 * gap, after - 2 * gap), gap, noise_mm)
        if corner is not None and _is_sharp(points, corner, blur_px * pixel_mm, pixel_mm / 4 + 2 * noise_mm):
            corners.append(corner[0])
    corners.sort(key=lambda corner: corner.index)
    near = 2 * gap + _FEWEST
    if len(corners) > 1:
        steps = np.diff([c.index for c in corners], append=corners[0].index + len(points))
        corners = [c for c, step in zip(corners, steps, strict=True) if step >= near]
    return corners


def _candidates(points: FloatArray, gap: int) -> list[int]:
    """Points where the directions a little way before and after differ, the strongest of each group."""
    n = len(points)
    if n < 4 * (gap + _WINDOW):
        return []
    around = np.arange(n)[:, None]
    before = _directions(points[(around - gap - np.arange(_WINDOW)[::-1]) % n])
    after = _directions(points[(around + gap + np.arange(_WINDOW)) % n])
    turn = np.angle(after * np.conj(before))
    size = np.abs(turn)
    # The middle of a corner's plateau of equal turn, not just any place on it.
    kernel = np.ones(2 * gap + 1) / (2 * gap + 1)
    level = np.convolve(np.concatenate([size[-gap:], size, size[:gap]]), kernel, mode="valid")
    free = size > LEAST_TURN_RAD
    reach = gap + _WINDOW - 2
    found = []
    for k in np.argsort(-level, kind="stable"):
        if not free[k]:
            continue
        found.append(int(k))
        free[(k + np.arange(-reach, reach + 1)) % n] = False
    return sorted(found)


def _directions(windows: FloatArray) -> npt.NDArray[np.complex128]:
    """Unit complex numbers (n,): the main direction of each window (n, k, 2), along its travel."""
    off = windows - windows.mean(axis=1, keepdims=True)
    xy = off[..., 0] * off[..., 1]
    angle = 0.5 * np.arctan2(2 * xy.sum(axis=1), (off[..., 0] ** 2 - off[..., 1] ** 2).sum(axis=1))
    step = windows[:, -1] - windows[:, 0]
    along = np.cos(angle) * step[:, 0] + np.sin(angle) * step[:, 1]
    out: npt.NDArray[np.complex128] = np.exp(1j * np.where(along < 0, angle + np.pi, angle))
    return out


def _corner(
    points: FloatArray, index: int, room: tuple[int, int], gap: int, noise_mm: float
) -> tuple[Corner, float] | None:
    """Both branches carried on to where they meet; and the angle they turn by there."""
    n, found = len(points), None
    for _ in range(2):
        first = _branch(points, index - gap, -1, room[0], noise_mm)
        second = _branch(points, index + gap, 1, room[1], noise_mm)
        if first is None or second is None:
            return None
        met = _meet(first, second)
        if met is None:
            return None
        x, y = met
        place = first.at(np.array([x]))[0]
        window = (index + np.arange(-2 * gap, 2 * gap + 1)) % n
        index = int(window[np.hypot(*(points[window] - place).T).argmin()])
        corner = Corner(
            at=place,
            index=index,
            first=first.at(np.linspace(0.0, x, gap + 1)[1:-1]),
            second=second.at(np.linspace(0.0, y, gap + 1)[1:-1])[::-1],
        )
        a, b = first.heading(x), -second.heading(y)
        found = corner, float(abs(np.arctan2(a[0] * b[1] - a[1] * b[0], a @ b)))
    return found


def _branch(points: FloatArray, start: int, way: int, room: int, noise_mm: float) -> _Branch | None:
    """The edge from a point away from the corner: a straight line as far as it goes, else a parabola."""
    n = len(points)
    for degree, counts in ((1, _LONG), (2, _BENT)):
        most = min(room, n // 2)
        for count in sorted(
            {k for k in (*counts, most) if counts[-1] <= k <= min(counts[0], most)}, reverse=True
        ):
            near = points[(start + way * np.arange(count)) % n][::-1]
            branch, off = _fitted(near, degree)
            finer, _ = _fitted(near, degree + 1)
            # What the next power adds between the ends is this, by Chebyshev's polynomials.
            sag = abs(float(finer.factors[degree + 1])) * (branch.far / 2) ** (degree + 1) / 2 ** (degree - 1)
            if off < _OFF_NOISE * noise_mm and sag < _SAG_NOISE * noise_mm / np.sqrt(count):
                return branch
    count = min(_SHORT, room, n // 2)
    if count < _FEWEST:
        return None
    near = points[(start + way * np.arange(count)) % n][::-1]
    bent, _ = _fitted(near, 2)
    sag = abs(float(bent.factors[2])) * (bent.far / 2) ** 2
    clear = count >= 2 * _FEWEST and sag > 2 * _SAG_NOISE * noise_mm / np.sqrt(count)
    return bent if clear else _fitted(near, 1)[0]


def _fitted(near: FloatArray, degree: int) -> tuple[_Branch, float]:
    """A branch through points that lead to the corner, the last one at x = 0; and how far they are off."""
    along = near[-1] - near[0]
    along = along / max(float(np.hypot(*along)), 1e-12)
    off = near - near[-1]
    x, y = off @ along, off @ np.array([-along[1], along[0]])
    far = max(float(np.abs(x).max()), 1e-12)
    powers = np.vander(x / far, degree + 1, increasing=True)
    factors = np.linalg.lstsq(powers, y, rcond=None)[0]
    rms = float(np.sqrt(np.mean((powers @ factors - y) ** 2)))
    full = np.zeros(4)
    full[: degree + 1] = factors / far ** np.arange(degree + 1)
    return _Branch(origin=near[-1], along=along, factors=full, far=far), rms


def _meet(first: _Branch, second: _Branch) -> tuple[float, float] | None:
    """Where two branches meet: x along each, by Newton's method; None when they don't, nearby."""
    x, y = 0.0, 0.0
    for _ in range(20):
        off = second.at(np.array([y]))[0] - first.at(np.array([x]))[0]
        a, b = first.heading(x), second.heading(y)
        across = a[0] * b[1] - a[1] * b[0]
        if abs(across) < 1e-6:
            return None
        dx = float(off[0] * b[1] - off[1] * b[0]) / across
        dy = float(off[0] * a[1] - off[1] * a[0]) / across
        x, y = x + dx, y + dy
        if max(abs(x), abs(y)) > max(first.far, second.far):
            return None
        if max(abs(dx), abs(dy)) < 1e-9:
            return (x, y) if x > 0 and y > 0 else None
    return None


def _is_sharp(points: FloatArray, found: tuple[Corner, float], blur_mm: float, slack_mm: float) -> bool:
    """Whether blur alone explains how far the contour keeps off the corner."""
    corner, turn = found
    off = float(np.hypot(*(points[corner.index] - corner.at)))
    by_blur = 0.8 * blur_mm * np.tan(min(turn, _STEEPEST_RAD) / 2)
    return turn > LEAST_TURN_RAD and off <= _OFF_FACTOR * by_blur + slack_mm


def stretches(points: FloatArray, corners: list[Corner], gap: int) -> list[FloatArray]:
    """The contour from corner to corner, each (k, 2) with a corner at either end; one closed if none."""
    if not corners:
        return [points]
    n, out = len(points), []
    for k, corner in enumerate(corners):
        following = corners[(k + 1) % len(corners)]
        count = (following.index - corner.index) % n or n
        inner: IntArray = (corner.index + np.arange(gap, count - gap + 1)) % n
        parts = [corner.at[None], corner.second, points[inner], following.first, following.at[None]]
        out.append(np.vstack(parts))
    return out
