"""Which files a job consists of, and what goes into each: solids, places and drawings by file name."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox
from OCP.gp import gp_Pnt

from scalegen.design import Scale
from scalegen.export.avoid import avoid_parts
from scalegen.export.content import Content
from scalegen.export.drawings import sheet_drawing
from scalegen.machining.tabs import Tab
from scalegen.model import JobSpec, Side
from scalegen.outline.transform import moved
from scalegen.sheet.layout import SheetLayout
from scalegen.solids.parts import Instance, Part, Solid
from scalegen.solids.plate import plate
from scalegen.solids.scales import Body, ScaleSolids, tang_part

PAD_COLOR = "#8a8f98"
STOCK_COLOR = "#d9d4c7"
_APART_MM = 10.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Output:
    """One file: its name, the format that writes it, and what is in it."""

    name: str
    format: str
    content: Content


def outputs(
    scale: Scale,
    solids: ScaleSolids,
    layouts: Sequence[SheetLayout],
    spec: JobSpec,
    tabs: Mapping[str, Sequence[Tab]] | None = None,
    *,
    others: Sequence[tuple[Scale, ScaleSolids]] = (),
) -> Iterator[Output]:
    """All exchange files of a job that its formats ask for, in order.

    Args:
        scale: Its pattern's scale.
        solids: The solids of that.
        layouts: Its sheets.
        spec: Formats and units.
        tabs: Bridges by the sheets' names.
        others: Scales and solids of further patterns on the same sheets.
    """
    lots = [_Bodies.of(*each) for each in ((scale, solids), *others)]
    for lot in lots:
        yield from _pattern_outputs(lot, spec)
    further = {each.pattern.name: each for each, _ in others}
    for layout in layouts:
        here = [
            (lot, own)
            for lot in lots
            if (own := _of_pattern(layout, lot.scale.pattern.name, alone=len(lots) == 1)).placements
        ]
        places = [place for lot, own in here for place in lot.on_sheet(own)]
        pads, stock = _pad_parts(layout, scale.stack.used_mm), _stock_part(layout, scale.stack.used_mm)
        on_sheet = (*places, *(Instance(part=pad.name, label=pad.name) for pad in pads))
        apart = (Instance(part=stock.name, label=stock.name),)
        bridges = (tabs or {}).get(layout.name, ())
        avoid = avoid_parts(layout, scale.stack.used_mm, bridges)
        there = tuple(Instance(part=part.name, label=part.name) for part in avoid)
        if "step" in spec.formats:
            layered = [part for lot, _ in here for part in (lot.left, lot.right)]
            yield _step(layout.name, (*layered, *pads), on_sheet, spec)
            yield _step(f"{layout.name}-stock", (stock,), apart, spec)
            yield _step(f"{layout.name}-avoid", avoid, there, spec)
        if "stl" in spec.formats:
            whole = [part for lot, _ in here for part in lot.whole]
            yield _stl(layout.name, (*whole, *pads), on_sheet, spec)
            yield _stl(f"{layout.name}-stock", (stock,), apart, spec)
            yield _stl(f"{layout.name}-avoid", avoid, there, spec)
        if "dxf" in spec.formats:
            drawing = sheet_drawing(scale, layout, spec.file_units, bridges, further)
            content = Content(product=layout.name, drawing=drawing, units=spec.file_units)
            yield Output(name=f"{layout.name}.dxf", format="dxf", content=content)


def _of_pattern(layout: SheetLayout, name: str, *, alone: bool) -> SheetLayout:
    """A sheet with the scales of one pattern only; of a job of one pattern all are."""
    if alone:
        return layout
    return replace(layout, placements=tuple(each for each in layout.placements if each.pattern == name))


@dataclass(frozen=True, kw_only=True, eq=False)
class _Bodies:
    """One pattern's scales as parts, by layer and whole."""

    scale: Scale
    solids: ScaleSolids
    left: Part
    right: Part
    whole: tuple[Part, Part]

    @classmethod
    def of(cls, scale: Scale, solids: ScaleSolids) -> "_Bodies":
        """Those of a scale and its solids."""
        name = scale.pattern.name
        return cls(
            scale=scale,
            solids=solids,
            left=_layered(f"{name}-left", "left", solids.as_cut_left),
            right=_layered(f"{name}-right", "right", solids.as_cut_right),
            whole=(
                _whole(f"{name}-left", solids.as_cut_left),
                _whole(f"{name}-right", solids.as_cut_right),
            ),
        )

    def on_sheet(self, layout: SheetLayout) -> tuple[Instance, ...]:
        """The scales of a sheet that has no others."""
        return sheet_instances(layout, self.left.name, self.right.name, self.scale.back_allowance_mm)


def _pattern_outputs(lot: _Bodies, spec: JobSpec) -> Iterator[Output]:
    """The files of one pattern by itself."""
    name = lot.scale.pattern.name
    left, right = lot.left, lot.right
    alone = {part.name: (Instance(part=part.name, label=part.name),) for part in (left, right)}
    if "step" in spec.formats:
        yield _step(f"{name}-pair", (left, right), pair_instances(lot.scale, left.name, right.name), spec)
        yield _step(left.name, (left,), alone[left.name], spec)
        yield _step(right.name, (right,), alone[right.name], spec)
        yield _step(f"{name}-finished", *_finished(lot.scale, lot.solids), spec)
    if "stl" in spec.formats:
        for part in lot.whole:
            yield _stl(part.name, (part,), (Instance(part=part.name, label=part.name),), spec)


def pair_instances(scale: Scale, left: str, right: str) -> tuple[Instance, ...]:
    """Both scales of a pair on the bed, backs down, the right one below the left."""
    y0 = scale.footprint.bounds_mm[1]
    up = scale.back_allowance_mm
    return (
        Instance(part=left, label="left", z_mm=up),
        Instance(part=right, label="right", y_mm=2 * y0 - _APART_MM, z_mm=up),
    )


def sheet_instances(layout: SheetLayout, left: str, right: str, up_mm: float) -> tuple[Instance, ...]:
    """Every scale of a blank in its place; z = 0 is the blank's underside, x and y count from its origin."""
    names: dict[Side, str] = {"left": left, "right": right}
    found = []
    for place in layout.placements:
        x, y = layout.to_origin_frame(place.x_mm, place.y_mm)
        found.append(
            Instance(
                part=names[place.side],
                label=place.label,
                x_mm=x,
                y_mm=y,
                z_mm=up_mm,
                angle_rad=place.angle_rad,
            )
        )
    return tuple(found)


def _finished(scale: Scale, solids: ScaleSolids) -> tuple[tuple[Part, ...], tuple[Instance, ...]]:
    """The pair as on the knife: tang about z = 0, left scale above, right scale turned over below."""
    name = scale.pattern.name
    left = _layered(f"{name}-finished-left", "left", solids.finished_left)
    right = _layered(f"{name}-finished-right", "right", solids.finished_right)
    half = scale.pattern.tang_mm / 2
    tang = tang_part(scale)
    return (left, right, tang), (
        Instance(part=left.name, label="left", z_mm=half),
        Instance(part=right.name, label="right", z_mm=-half, flipped=True),
        Instance(part=tang.name, label="tang"),
    )


def _layered(name: str, side: Side, body: Body) -> Part:
    solids = tuple(
        Solid(name=f"{side} {solid.name}", color=solid.color, shape=solid.shape) for solid in body.layers
    )
    return Part(name=name, solids=solids)


def _whole(name: str, body: Body) -> Part:
    return Part(name=name, solids=(Solid(name=name, color=body.layers[-1].color, shape=body.whole),))


def _pad_parts(layout: SheetLayout, height_mm: float) -> tuple[Part, ...]:
    """Each pad at full height: "reference-pad", "reference-pad-2"..."""
    parts = []
    for number, pad in enumerate(layout.pads, 1):
        x, y = layout.to_origin_frame(pad.x_mm, pad.y_mm)
        shape = BRepPrimAPI_MakeBox(gp_Pnt(x, y, 0), pad.w_mm, pad.h_mm, height_mm).Shape()
        end = f"-{number}" if number > 1 else ""
        solid = Solid(name=f"reference pad{end.replace('-', ' ')}", color=PAD_COLOR, shape=shape)
        parts.append(Part(name=f"reference-pad{end}", solids=(solid,)))
    return tuple(parts)


def _stock_part(layout: SheetLayout, height_mm: float) -> Part:
    """The blank before anything is cut, with its holes."""
    x, y = layout.to_origin_frame(0.0, 0.0)
    if layout.outline is None and not layout.holes:
        shape = BRepPrimAPI_MakeBox(gp_Pnt(x, y, 0), layout.length_mm, layout.width_mm, height_mm).Shape()
    else:
        holes = [moved(hole, x, y) for hole in layout.holes]
        shape = plate(moved(layout.edge, x, y), height_mm, holes)
    return Part(name="stock", solids=(Solid(name="stock box", color=STOCK_COLOR, shape=shape),))


def _step(name: str, parts: Sequence[Part], instances: Sequence[Instance], spec: JobSpec) -> Output:
    content = Content(
        product=name,
        parts=parts,
        instances=instances,
        units=spec.file_units,
        step_schema=spec.step_schema,
    )
    return Output(name=f"{name}.step", format="step", content=content)


def _stl(name: str, parts: Sequence[Part], instances: Sequence[Instance], spec: JobSpec) -> Output:
    content = Content(
        product=name,
        parts=parts,
        instances=instances,
        units=spec.file_units,
        tolerance_mm=spec.stl_tolerance_mm,
    )
    return Output(name=f"{name}.stl", format="stl", content=content)
