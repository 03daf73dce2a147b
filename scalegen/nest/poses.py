"""Bodies turned every way they may be, with the polygons that stand for them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from scalegen.errors import UsageError
from scalegen.nest.grown import fewer_corners, grown
from scalegen.nest.lattice import counter_clockwise, snap, turned
from scalegen.nest.records import Body, Part, Shape
from scalegen.outline.ring import FloatArray


@dataclass(frozen=True, kw_only=True, eq=False)
class Outline:
    """One shape, ready to be turned.

    Attributes:
        exact_mm: float64 (n, 2) as given, counter-clockwise.
        bare_mm: float64 (m, 2), with fewer corners, for the edge of the board.
        grown_mm: float64 (k, 2), grown by half the spacing, for other parts.
    """

    exact_mm: FloatArray
    bare_mm: FloatArray
    grown_mm: FloatArray


@dataclass(frozen=True, kw_only=True, eq=False)
class Pose:
    """A body held one way and turned one way.

    Its place is where the lower left corner of its box lies.

    Attributes:
        body: Number of the body.
        form: Which of its forms.
        angle_rad: Turn of the body.
        origin_mm: The body's origin seen from the place.
        size_mm: Size of the box.
        bare_mm: Polygons of its parts, seen from the place.
        grown_mm: The same, grown by half the spacing.
        exact_mm: The polygons as given, seen from the place.
        kind: Number of this geometry; poses that look the same share it.
        low_mm: Lower left corner of the box round what is grown, seen from the place.
        high_mm: Upper right corner of it.
    """

    body: int
    form: int
    angle_rad: float
    origin_mm: tuple[float, float]
    size_mm: tuple[float, float]
    bare_mm: tuple[FloatArray, ...]
    grown_mm: tuple[FloatArray, ...]
    exact_mm: tuple[FloatArray, ...]
    kind: int
    low_mm: tuple[float, float]
    high_mm: tuple[float, float]


def outlines(shapes: Sequence[Shape], spacing_mm: float, tolerance_mm: float) -> dict[str, Outline]:
    """Get shapes ready.

    Args:
        shapes: Shapes with different keys.
        spacing_mm: What must be free between two parts.
        tolerance_mm: How far corners may be moved out to have fewer of them.

    Returns:
        The outline for each key.
    """
    found: dict[str, Outline] = {}
    for shape in shapes:
        exact = counter_clockwise(np.asarray(shape.points_mm, dtype=np.float64))
        big = grown(exact, spacing_mm / 2, tolerance_mm, where=f"shape {shape.key}")
        bare = fewer_corners(counter_clockwise(snap(exact)), tolerance_mm)
        found[shape.key] = Outline(exact_mm=exact, bare_mm=bare, grown_mm=big)
    return found


def poses(
    bodies: Sequence[Body], ready: Mapping[str, Outline], kinds: dict[bytes, int]
) -> tuple[tuple[Pose, ...], ...]:
    """Every way each body may lie, ways that look the same only once.

    Args:
        bodies: What is to be laid.
        ready: Outlines of their shapes.
        kinds: Numbers of the geometries met so far; it learns new ones.

    Returns:
        For each body its poses, in the order of forms and angles.

    Raises:
        UsageError: A body names a shape that is not there.
    """
    return tuple(_body_poses(number, body, ready, kinds) for number, body in enumerate(bodies))


def _body_poses(
    number: int, body: Body, ready: Mapping[str, Outline], kinds: dict[bytes, int]
) -> tuple[Pose, ...]:
    """Poses of one body."""
    seen: set[int] = set()
    out: list[Pose] = []
    for form, parts in enumerate(body.forms):
        for angle in body.angles_rad:
            pose = make_pose(number, form, parts, angle, ready=ready, kinds=kinds)
            if pose.kind not in seen:
                seen.add(pose.kind)
                out.append(pose)
    return tuple(out)


def make_pose(
    number: int,
    form: int,
    parts: tuple[Part, ...],
    angle_rad: float,
    *,
    ready: Mapping[str, Outline],
    kinds: dict[bytes, int],
) -> Pose:
    """One way a body may lie; ``kinds`` learns new geometry.

    Args:
        number: Number of the body.
        form: Which of its forms.
        parts: Its parts in that form.
        angle_rad: Turn of the body.
        ready: Outlines of the shapes.
        kinds: Numbers of the geometries met so far.

    Returns:
        The pose.

    Raises:
        UsageError: A part's shape is not there.
    """
    missing = [part.shape for part in parts if part.shape not in ready]
    if missing:
        raise UsageError(f"there is no shape {missing[0]!r}", remedy="hand over every shape the bodies name")
    bare = [placed(part, ready[part.shape].bare_mm, angle_rad) for part in parts]
    big = [placed(part, ready[part.shape].grown_mm, angle_rad) for part in parts]
    low = snap(np.min([points.min(axis=0) for points in bare], axis=0))
    high = np.max([points.max(axis=0) for points in bare], axis=0)
    bare = [counter_clockwise(snap(points - low)) for points in bare]
    big = [counter_clockwise(snap(points - low)) for points in big]
    order = sorted(range(len(parts)), key=lambda k: big[k].tobytes())
    look = b"|".join(np.round(big[k] * 2**22).tobytes() for k in order)
    grown_low = np.min([points.min(axis=0) for points in big], axis=0)
    grown_high = np.max([points.max(axis=0) for points in big], axis=0)
    return Pose(
        body=number,
        form=form,
        angle_rad=angle_rad,
        origin_mm=(-float(low[0]), -float(low[1])),
        size_mm=(float(high[0] - low[0]), float(high[1] - low[1])),
        bare_mm=tuple(bare),
        grown_mm=tuple(big),
        exact_mm=tuple(placed(part, ready[part.shape].exact_mm, angle_rad) - low for part in parts),
        kind=kinds.setdefault(look, len(kinds)),
        low_mm=(float(grown_low[0]), float(grown_low[1])),
        high_mm=(float(grown_high[0]), float(grown_high[1])),
    )


def placed(part: Part, points_mm: FloatArray, angle_rad: float) -> FloatArray:
    """A part's polygon in the frame of its turned body.

    Args:
        part: How the part sits in its body.
        points_mm: float64 (n, 2) in the part's own frame.
        angle_rad: Turn of the body.

    Returns:
        float64 (n, 2).
    """
    if part.x_mm == 0 == part.y_mm:
        return turned(points_mm, part.angle_rad + angle_rad)
    return turned(turned(points_mm, part.angle_rad, part.x_mm, part.y_mm), angle_rad)
