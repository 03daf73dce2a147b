"""How high above the bed the shaped places of a scale lie, and how far below them a round tip must go."""

import math
from dataclasses import dataclass

from scalegen.design import Scale
from scalegen.form.draped import draped_plan, is_draped
from scalegen.outline.measure import sampled

HOLD_MM = 0.5
"""What a round tip leaves standing beside a part when it runs below a bevel or a rounded front, so that the
parts are held until they are cut free. Common practice, no source."""

_SAMPLE_MM = 0.25


@dataclass(frozen=True, kw_only=True)
class Slope:
    """Where a treatment ends with a wall falling away under it: height above the bed, steepest angle."""

    low_mm: float
    steep_rad: float


@dataclass(frozen=True, kw_only=True)
class Heights:
    """The heights that the stages of a job go between, above the bed.

    Attributes:
        top_mm: Of the blank.
        faced_mm: Of the scale where it is thickest.
        low_mm: Lowest place that a front or edge treatment or a curved face reaches; ``faced_mm`` where there
            is none.
        slopes: Treatments that end over a wall.
        foot_mm: Radius of a rounded edge, which stands upright on its flange; 0 without one.
        flange_mm: Lowest place of that flange.
    """

    top_mm: float
    faced_mm: float
    low_mm: float
    slopes: tuple[Slope, ...] = ()
    foot_mm: float = 0.0
    flange_mm: float = 0.0

    @property
    def is_shaped(self) -> bool:
        """Whether there is anything to shape."""
        return self.low_mm < self.faced_mm - 1e-6

    def tip_low_mm(self, radius_mm: float) -> float:
        """How low the tip of a ball must come to finish every treatment down to its end.

        Args:
            radius_mm: Of the ball.

        Source: on a slope of angle a, a ball touches 1 - cos a of its radius above its tip.
        """
        wanted = [slope.low_mm - radius_mm * (1.0 - math.cos(slope.steep_rad)) for slope in self.slopes]
        return min(self.low_mm, max(min(wanted, default=math.inf), HOLD_MM))


def heights_of(scale: Scale) -> Heights:
    """The heights of a scale on its blank."""
    back, top = scale.back_allowance_mm, scale.thickness_mm
    front, edge = scale.pattern.front, scale.pattern.edge
    slopes: list[Slope] = []
    lows = [top]
    if front.treatment == "bevel":
        lows.append(front.land_mm)
        slopes.append(Slope(low_mm=back + front.land_mm, steep_rad=front.slope_rad))
    if front.treatment == "round":
        lows.append(top - front.radius_mm)
        slopes.append(Slope(low_mm=back + lows[-1], steep_rad=math.pi / 2))
    if is_draped(scale):
        plan = draped_plan(scale, finished=False)
        points = sampled(plan.outline(), _SAMPLE_MM)
        lows.append(float(scale.face.height_mm(points).min()) - plan.seat_drop_mm)
    elif edge.treatment == "round":
        lows.append(top - edge.size_mm)
    elif edge.treatment == "chamfer":
        lows.append(top - edge.size_mm - scale.pattern.trim_mm)
    if edge.treatment == "chamfer":
        slopes.append(Slope(low_mm=back + lows[-1], steep_rad=math.pi / 4))
    elif edge.treatment == "square" and scale.face.crown_mm:
        # A circle: how steep it is where it has dropped by so much.
        turn = math.acos(max(0.0, 1.0 - (top - lows[-1]) / scale.face.crown_mm))
        slopes.append(Slope(low_mm=back + lows[-1], steep_rad=turn))
    return Heights(
        top_mm=scale.stack.used_mm,
        faced_mm=back + top,
        low_mm=back + min(lows),
        flange_mm=back + lows[-1],
        slopes=tuple(slopes),
        foot_mm=_largest_edge_mm(scale) if edge.treatment == "round" else 0.0,
    )


def foot_height_mm(edge_mm: float, ball_mm: float) -> float:
    """How far above its flange a ball standing on it touches a round-over.

    Args:
        edge_mm: Radius of the round-over.
        ball_mm: Radius of the ball.

    Source: the line between the centres of two circles that touch; both stand on one level.
    """
    return edge_mm * ball_mm / (edge_mm + ball_mm)


def foot_width_mm(edge_mm: float, ball_mm: float) -> float:
    """How far inside the outline that touch is; see :func:`foot_height_mm`."""
    up = foot_height_mm(edge_mm, ball_mm)
    return edge_mm - math.sqrt(max(0.0, edge_mm**2 - up**2))


def _largest_edge_mm(scale: Scale) -> float:
    edge = scale.pattern.edge
    return max([edge.size_mm, *(size for _, size in (*edge.spine, *edge.belly))])
