"""The layers of a scale: where each lies, and which of them have an outline of their own."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from scalegen.errors import GeometryError
from scalegen.model import LayerKind, Liner, Pattern, Stack
from scalegen.outline.beside import beside
from scalegen.outline.front import front_curve
from scalegen.outline.ring import Ring


@dataclass(frozen=True, kw_only=True)
class Span:
    """One layer's place in the scale: ``bottom_mm`` to ``top_mm`` above the finished back (z = 0)."""

    name: str
    kind: LayerKind
    bottom_mm: float
    top_mm: float
    density_g_cm3: float
    color: str


@dataclass(frozen=True, kw_only=True, eq=False)
class Stepped:
    """Layers at the back with an outline of their own.

    It runs beside the finished outline at a constant distance and ends with it at the front, where all layers
    are finished together. Proud layers stand beyond tang and face, and get the trim allowance outside
    their own outline. Layers set in get none: nothing that stands in the step could be sanded off later.

    Attributes:
        step_mm: How far they stand beyond the finished outline; below 0 they are set in.
        count: How many of the scale's spans, from the back.
        top_mm: Height above the finished back that they reach up to.
        carried: Their finished outline, carried on ahead of the front.
        carried_as_cut: The same as cut.
        finished: Their finished outline.
        as_cut: Their outline as cut.
    """

    step_mm: float
    count: int
    top_mm: float
    carried: Ring
    carried_as_cut: Ring
    finished: Ring
    as_cut: Ring


def spans_of(stack: Stack, back_allowance_mm: float, thickness_mm: float) -> tuple[Span, ...]:
    """Layers of the as-cut scale; what is above the thickness is faced off."""
    spans = []
    bottom = -back_allowance_mm
    for layer in stack.layers:
        top = min(bottom + layer.thickness_mm, thickness_mm)
        if top - bottom > 1e-9:
            spans.append(
                Span(
                    name=layer.name,
                    kind=layer.kind,
                    bottom_mm=bottom,
                    top_mm=top,
                    density_g_cm3=layer.density_g_cm3,
                    color=layer.color,
                )
            )
        bottom = top
    # Where the stack falls short, checks say so; the shape stays what was asked for.
    spans[-1] = replace(spans[-1], top_mm=thickness_mm)
    return tuple(spans)


def stepped_of(pattern: Pattern, carried: Ring, stack: Stack, spans: Sequence[Span]) -> Stepped | None:
    """The layers at the back that get an outline of their own; None where the pattern asks for none.

    Args:
        pattern: As read.
        carried: Finished outline, carried on ahead of the front.
        stack: Blank, for messages.
        spans: Layers from back to face.

    Raises:
        GeometryError: There are no such layers, or their outline can't be made; names the place.
    """
    liner, front = pattern.liner, pattern.front
    if liner is None:
        return None
    count, curve = _stepped_count(liner, stack, spans), front_curve(front)
    wide, finished = beside(carried, curve, liner.step_mm, 0.0)
    cut_mm = liner.step_mm + (pattern.trim_mm if liner.step_mm > 0 else 0.0)
    wide_as_cut, as_cut = beside(carried, curve, cut_mm, front.allowance_mm)
    return Stepped(
        step_mm=liner.step_mm,
        count=count,
        top_mm=spans[count - 1].top_mm,
        carried=wide,
        carried_as_cut=wide_as_cut,
        finished=finished,
        as_cut=as_cut,
    )


def _stepped_count(liner: Liner, stack: Stack, spans: Sequence[Span]) -> int:
    """How many spans from the back are stepped; the film of glue above the topmost sheet is not.

    Raises:
        GeometryError: There is no such sheet, or none is left above.
    """
    sheets = [k for k, span in enumerate(spans) if span.kind != "bond"]
    first_other = next((k for k, at in enumerate(sheets) if spans[at].kind != "liner"), len(sheets))
    wanted = liner.sheets or first_other
    if not wanted:
        raise GeometryError(
            f'the sheet at the back of the stack "{stack.name}" is no liner, so nothing is stepped',
            where="scale.liner",
            remedy="say how many sheets from the back are meant, such as sheets = 1, or take another stack",
        )
    if wanted >= len(sheets):
        raise GeometryError(
            f"a step over {wanted} of the scale's {len(sheets)} sheets leaves none to step against",
            where="scale.liner.sheets",
            remedy="step fewer sheets, or leave the step out",
        )
    return sheets[wanted - 1] + 1
