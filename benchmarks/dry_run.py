"""Stages of a whole sheet, each beside one bare numpy pass over the same field; and the memory they take."""

import math
import time
import tracemalloc
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from scalegen.design import Scale, design
from scalegen.export.drawings import footprints
from scalegen.machining.cuts import plan_cuts, rehearse
from scalegen.machining.cutter_shape import CutterShape, shape_of
from scalegen.machining.dry_run import Cut, cut_mm
from scalegen.machining.hold import holds
from scalegen.machining.stages import plan_stages
from scalegen.machining.target import Target, target_of
from scalegen.machining.touch_off import touch_off_map
from scalegen.model import Crown, Edge, Face, Front, JobSpec, OutlineSource, OwnStage, Pad, Pattern, PinSpec
from scalegen.model.words import Work
from scalegen.outline.ring import Ring
from scalegen.sheet.layout import SheetLayout
from scalegen.sheet.rows import arrange
from scalegen.shop import load_shop, resolve_stack

_SHEET_MM = (305.0, 152.0)
_SPEC = JobSpec(cutter="flat 3mm")
_WORK: dict[str, tuple[Work, ...]] = {
    "flat 3mm": ("face off", "shape", "outlines"),
    "ball 3mm": ("shape",),
    "taper 6mm": ("shape",),
}
_TANG = Ring.from_rows([[0, -12, 0.02], [100, -11, 0.5], [100, 11, 0.05], [0, 12, 0]])


def run(rounds: int) -> str:
    """Time every step on a full sheet, flat and crowned, with flat, ball and tapered cutters.

    Args:
        rounds: How often each step is timed; the least counts.
    """
    lines = [f"{'what':<52}{'ms':>8}{'passes':>8}{'MB':>7}"]
    shop = load_shop(None)
    cutters = shop.cutters
    for title, crown in (("flat", None), ("crowned", Crown(radius_mm=40.0))):
        scale, layout = _job(crown)
        target = target_of(scale, layout)
        bare = _bare_ms(target, rounds)
        rows, cols = target.field.shape
        lines.append(f"{title} faces, {len(layout.placements)} scales, {cols} x {rows} cells: a bare pass")
        lines[-1] = f"{lines[-1]:<52}{bare:8.1f}{1.0:8.1f}{target.field.size_bytes / 1e6:7.1f}"

        def add(name: str, step: Callable[[], object], bare: float = bare) -> None:
            spent, memory = _cost(step, rounds)
            lines.append(f"  {name:<50}{spent:8.0f}{spent / bare:8.1f}{memory:7.0f}")

        add("target surface", lambda s=scale, o=layout: target_of(s, o))
        for name, works in _WORK.items():
            shape = shape_of(cutters[name])
            # Stated, so that each kind finishes the same places, whether or not a plan would take it.
            own = tuple(OwnStage(name=does, does=does, cutter=name) for does in works)
            few = replace(shop, stages=own)
            cuts = plan_cuts(scale, layout, target, plan_stages(scale, _SPEC, few))
            shaped = [cut for cut in cuts if cut.shape.name == name]
            for cut in shaped:
                label = f"{cut.name}, {cut.shape.name}"
                add(label, lambda c=cut, t=target: cut_mm(t.blank, c))
            worst = _rough(target, shape)
            add(f"worst case: rough everywhere, {name}", lambda c=worst, t=target: cut_mm(t.blank, c))
        cuts = plan_cuts(scale, layout, target, plan_stages(scale, _SPEC, shop))
        job = rehearse(target, cuts, scale.stack.layers)
        add("all stages with their snapshots", lambda t=target, c=cuts, j=job: rehearse(t, c, j.layers))
        add("touch-off map", lambda j=job: touch_off_map(2, j))
        add("touch-off map under a plate of 10 mm", lambda j=job: touch_off_map(2, j, probe_mm=10.0))
        add("hold-down after every stage", lambda j=job: holds(j))
    return "\n".join(lines)


def _job(crown: Crown | None) -> tuple[Scale, SheetLayout]:
    """As many pairs as one sheet takes."""
    pattern = Pattern(
        name="bench",
        title="Bench",
        units="mm",
        path=Path("bench.toml"),
        outline=OutlineSource(),
        tang_mm=3.0,
        front=Front(
            at_mm=8.0, angle_rad=math.pi / 2, treatment="bevel", slope_rad=math.radians(40), land_mm=1.2
        ),
        thickness_mm=6.2,
        face=Face(crown=crown),
        edge=Edge(treatment="round", size_mm=2.0),
        trim_mm=0.8,
        back_allowance_mm=0.1,
        pins=(PinSpec(at_mm=(24.0, 1.0), hardware="pin 3mm"), PinSpec(at_mm=(80.0, 0.0), hardware="pin 3mm")),
    )
    shop = load_shop(None)
    scale = design(pattern, _TANG, resolve_stack(shop, "paper-six", (6.9,)), shop)
    sheets = arrange(
        footprints(scale),
        pattern="bench",
        pairs=8,
        length_mm=_SHEET_MM[0],
        width_mm=_SHEET_MM[1],
        margin_mm=3.0,
        spacing_mm=4.2,
        pad=Pad(),
        origin="lower-left",
        keep_clear_mm=4.2,
    )
    return scale, sheets[0]


def _rough(target: Target, shape: CutterShape) -> Cut:
    """A surface with nothing smooth about it, worked everywhere."""
    random = np.random.default_rng(1)
    surface = (3.0 * random.random(target.field.shape)).astype(np.float32)
    return Cut(name="rough", shape=shape, surface_mm=surface, where=np.ones(surface.shape, dtype=np.bool_))


def _bare_ms(target: Target, rounds: int) -> float:
    """The larger of two fields, cell by cell, into a third."""
    a, b = target.field.heights_mm, target.whole_mm
    out = np.empty_like(a)
    return min(_spent_ms(lambda: np.maximum(a, b, out=out)) for _ in range(5 * rounds))


def _cost(step: Callable[[], object], rounds: int) -> tuple[float, float]:
    """Least time in ms, and the most memory at work beyond what was there, in MB."""
    spent = min(_spent_ms(step) for _ in range(rounds))
    tracemalloc.start()
    step()
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return spent, peak / 1e6


def _spent_ms(step: Callable[[], object]) -> float:
    # Time of this process alone: nothing here runs on more than one core.
    start = time.process_time()
    step()
    return 1000 * (time.process_time() - start)
