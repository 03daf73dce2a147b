"""Everything that has to be done to a scale on its blank, each with the cutter that does it best."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from scalegen.design import Hole, Scale
from scalegen.form.grooves import grooves_of
from scalegen.machining import tools
from scalegen.machining.heights import Heights, foot_height_mm, foot_width_mm, heights_of
from scalegen.machining.tools import Tool, tool_of
from scalegen.model import Cutter, JobSpec, OwnStage, Shop, Work

THROUGH_MM = 0.2
"""How far the last pass and the drills' full width go below the blank, into tape or spoil board.
Common practice, no source."""

_FACE_FROM_MM = 1e-6


@dataclass(frozen=True, kw_only=True)
class Item:
    """One thing to do with one cutter; heights above the bed.

    Attributes:
        does: What.
        name: What papers call it.
        tool: The cutter that is best for it.
        to_mm: Where it ends.
        from_mm: Where it begins, or None for the face as earlier stages left it.
        allowance_mm: What it leaves for a later stage.
        size_mm: Diameter of the holes or recesses it makes.
        reach_mm: How far inside the finished outline it comes; 0 where it goes over all of it.
    """

    does: Work
    name: str
    tool: Tool
    to_mm: float
    from_mm: float | None = None
    allowance_mm: float = 0.0
    size_mm: float = 0.0
    reach_mm: float = 0.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Works:
    """What a scale needs done.

    Attributes:
        scale: The scale.
        shop: Cutters and rules.
        round_cutter: The cutter that goes round the parts.
        gap_mm: Between two parts.
        heights: Between which heights.
    """

    scale: Scale
    shop: Shop
    round_cutter: Cutter
    gap_mm: float
    heights: Heights

    def planned(self) -> Iterator[Item]:
        """All of it in order."""
        for make in self._makers.values():
            yield from make()

    def stated(self, own: OwnStage) -> Iterator[Item]:
        """What one stage of the shop's own comes to on this scale; nothing where it needs no such thing.

        Raises:
            UsageError: Its cutter is not in the tables.
        """
        for item in self._rough(always=True) if own.does == "rough" else self._makers[own.does]():
            if own.cutter is None:
                yield item
                continue
            cutter = tools.named(own.cutter, self.shop.cutters)
            if item.size_mm and cutter.diameter_mm > item.size_mm + 1e-9:
                # A cutter that does not enter a hole leaves it to what does.
                yield item
                continue
            tool = tool_of(cutter, "the shop's own stage asks for it")
            if own.does == "shape":
                yield replace(item, tool=tool, to_mm=self.heights.tip_low_mm(cutter.tip_radius_mm))
            else:
                yield replace(item, tool=tool)

    @cached_property
    def _makers(self) -> Mapping[Work, Callable[[], Iterator[Item]]]:
        return {
            "face off": self._face_off,
            "rough": self._rough,
            "shape": self._shape,
            "feet": self._feet,
            "grooves": self._grooves,
            "recesses": self._recesses,
            "pin holes": self._pin_holes,
            "liner": self._liner,
            "outlines": self._outlines,
            "blind holes": self._blind_holes,
        }

    @cached_property
    def _all(self) -> tuple[Cutter, ...]:
        return tuple(self.shop.cutters.values())

    @cached_property
    def _around(self) -> Tool:
        return tool_of(self.round_cutter, "the cutter that the job goes round its parts with")

    @cached_property
    def _finisher(self) -> Tool | None:
        """The ball or tapered cutter for what is curved, the shop's own first; None where none serves."""
        for own in self.shop.stages:
            if own.does == "shape" and own.cutter is not None:
                cutter = tools.named(own.cutter, self.shop.cutters)
                return tool_of(cutter, "the shop's own stage asks for it") if cutter.tip_radius_mm else None
        return tools.finishing_tool(
            self._all,
            self.scale.finished,
            gap_mm=self.gap_mm,
            depth_mm=self.heights.top_mm - self.heights.low_mm,
            units=self.scale.pattern.units,
        )

    @property
    def _shaped(self) -> str:
        return "fronts and edges" if self.scale.face.is_flat else "faces, fronts and edges"

    def _face_off(self) -> Iterator[Item]:
        heights = self.heights
        if heights.top_mm - heights.faced_mm > _FACE_FROM_MM:
            tool = tools.facing_tool(self._all, self.round_cutter)
            yield Item(does="face off", name="face off", tool=tool, to_mm=heights.faced_mm)

    def _rough(self, *, always: bool = False) -> Iterator[Item]:
        """Before a ball or tapered cutter finishes; a flat one that does all needs none."""
        if not self.heights.is_shaped or not (always or self._finisher):
            return
        # As low as the tip that finishes must come beside the parts, so that it only takes off what is left.
        tip = self._finisher.shape.tip_radius_mm if self._finisher else 0.0
        yield Item(
            does="rough",
            name=f"rough {self._shaped}",
            tool=replace(self._around, reason=f"{self._around.reason}; it takes off most before the finish"),
            to_mm=self.heights.tip_low_mm(tip),
            allowance_mm=self.shop.rules.finish_allowance_mm,
        )

    def _shape(self) -> Iterator[Item]:
        if not self.heights.is_shaped:
            return
        tool = self._finisher or replace(
            self._around, reason="no ball or tapered cutter at hand serves, so it goes down in small steps"
        )
        low = self.heights.tip_low_mm(tool.shape.tip_radius_mm)
        yield Item(does="shape", name=self._shaped, tool=tool, to_mm=low)

    def _feet(self) -> Iterator[Item]:
        """What a rounded tip leaves between a rounded edge and its flange."""
        heights, finisher = self.heights, self._finisher
        if finisher is None or not heights.foot_mm:
            return
        tool = tools.foot_tool(self._all, self.round_cutter)
        if tool is None:
            return
        tip = finisher.shape.tip_radius_mm
        yield Item(
            does="feet",
            name="feet of the edges",
            tool=tool,
            from_mm=heights.flange_mm + foot_height_mm(heights.foot_mm, tip),
            to_mm=heights.flange_mm,
            reach_mm=foot_width_mm(heights.foot_mm, tip),
        )

    def _grooves(self) -> Iterator[Item]:
        grooves = grooves_of(self.scale)
        if grooves is None:
            return
        lines = np.vstack([grooves.starts, grooves.ends])
        floor = float(self.scale.face.height_mm(lines).min()) - grooves.depth_mm
        tool = tools.groove_tool(self._all, grooves, self.scale.pattern.units)
        yield Item(does="grooves", name="grooves", tool=tool, to_mm=self.scale.back_allowance_mm + floor)

    def _recesses(self) -> Iterator[Item]:
        heads = {(hole.head_hole_mm, hole.seat_mm) for hole in self.scale.holes if hole.head_hole_mm}
        for size, seat in sorted(heads):
            to = self.scale.back_allowance_mm + seat
            yield Item(
                does="recesses",
                name="head recesses",
                tool=self._pocket(size, self.heights.top_mm - to),
                to_mm=to,
                size_mm=size,
            )

    def _pin_holes(self) -> Iterator[Item]:
        through = {hole.hole_mm: hole for hole in self.scale.holes if not hole.is_blind}
        for size, hole in sorted(through.items()):
            yield Item(
                does="pin holes",
                name="pin holes",
                tool=self._hole_tool(hole, self.heights.top_mm + THROUGH_MM),
                to_mm=-THROUGH_MM,
                size_mm=size,
            )

    def _liner(self) -> Iterator[Item]:
        stepped = self.scale.stepped
        if stepped is not None and stepped.step_mm > 0:
            to = self.scale.back_allowance_mm + stepped.top_mm
            yield Item(does="liner", name="face outlines, down to the liner", tool=self._around, to_mm=to)

    def _outlines(self) -> Iterator[Item]:
        yield Item(does="outlines", name="outlines", tool=self._around, to_mm=-THROUGH_MM)

    def _blind_holes(self) -> Iterator[Item]:
        """Blind holes open at the back: they are drilled last, the freed scale lying on its face."""
        top = self.scale.thickness_mm
        tall = top + self.scale.back_allowance_mm
        blind = {(hole.hole_mm, hole.end_mm): hole for hole in self.scale.holes if hole.is_blind}
        for (size, end), hole in sorted(blind.items()):
            tool = self._hole_tool(hole, tall - (top - end))
            yield Item(
                does="blind holes",
                name="blind holes, scale turned over",
                tool=tool,
                from_mm=tall,
                to_mm=top - end,
                size_mm=size,
            )

    def _hole_tool(self, hole: Hole, depth_mm: float) -> Tool:
        return tools.drill_tool(hole, self.shop.rules.drill_point_rad) or self._pocket(hole.hole_mm, depth_mm)

    def _pocket(self, size_mm: float, depth_mm: float) -> Tool:
        return tools.pocket_tool(self._all, size_mm, depth_mm, self.scale.pattern.units)


def works_of(scale: Scale, spec: JobSpec, shop: Shop) -> Works:
    """What a scale needs done.

    Args:
        scale: The scale.
        spec: For the cutter that goes round the parts, and the spacing.
        shop: Cutters and rules.

    Raises:
        UsageError: The cutter is not in the tables.
        GeometryError: The edge treatment does not fit the outline or the thickness.
    """
    return Works(
        scale=scale,
        shop=shop,
        round_cutter=tools.named(spec.cutter, shop.cutters),
        gap_mm=gap_mm(spec, shop),
        heights=heights_of(scale),
    )


def gap_mm(spec: JobSpec, shop: Shop) -> float:
    """What is kept between two parts.

    Raises:
        UsageError: The cutter is not in the tables.
    """
    if spec.spacing_mm is not None:
        return spec.spacing_mm
    return tools.named(spec.cutter, shop.cutters).diameter_mm + shop.rules.clearance_mm
