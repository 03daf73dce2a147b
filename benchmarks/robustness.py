"""How many random outlines come out right, refused with a reason, or wrong."""

import math
import sys
import time
from collections import Counter
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from benchmarks.outlines import KINDS
from scalegen.checks import check_scale
from scalegen.design import Scale, design
from scalegen.errors import ScalegenError
from scalegen.form.volumes import Volumes, scale_volumes
from scalegen.model import Crown, Edge, Face, Front, OutlineSource, Pattern, PinSpec
from scalegen.outline.measure import distances_mm, inside
from scalegen.outline.offset import opened
from scalegen.outline.ring import Ring
from scalegen.shop import load_shop, resolve_stack

RIGHT, REFUSED_NARROW, REFUSED, WRONG = "right", "too narrow", "refused", "WRONG"


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What became of one outline."""

    kind: str
    verdict: str
    detail: str
    seconds: float


def random_scale(kind: str, seed: int, *, shaped: bool = False) -> Scale:
    """A random outline with random front, edge, allowances and two pins, designed on the demo stack.

    Args:
        kind: Kind of outline.
        seed: Two of the same kind and seed are the same.
        shaped: With a face, an edge and a front of every kind as well.
    """
    random = np.random.default_rng([seed, *kind.encode()])
    ring = KINDS[kind](random)
    shop = load_shop(None)
    x0, _, x1, _ = ring.bounds_mm
    front = _random_front(random, x0 + 0.12 * (x1 - x0))
    size = float(random.choice([1.0, 1.5, 2.0, 2.5]))
    edge = Edge(treatment="round" if random.random() < 0.6 else "chamfer", size_mm=size)
    face = Face()
    if shaped:
        front, edge, face = _shaped(random, front, edge, (x0, x1))
    pattern = Pattern(
        name=f"random-{seed}",
        title="random",
        units="mm",
        path=Path("random.toml"),
        outline=OutlineSource(rows=tuple(map(tuple, ring.rows.tolist()))),
        tang_mm=3.0,
        front=front,
        thickness_mm=6.2,
        face=face,
        edge=edge,
        trim_mm=float(random.choice([0.0, 0.5, 0.8, 1.5])),
        back_allowance_mm=float(random.choice([0.0, 0.1])),
        pins=tuple(
            PinSpec(at_mm=(x, _middle_y(ring, x)), hardware="pin 3mm")
            for x in (x0 + 0.4 * (x1 - x0), x0 + 0.75 * (x1 - x0))
        ),
    )
    return design(pattern, ring, resolve_stack(shop, "paper-six"), shop)


def _random_front(random: np.random.Generator, at_mm: float) -> Front:
    treatment = str(random.choice(["bevel", "round", "square"]))
    arc = float(random.uniform(28, 80)) if random.random() < 0.4 else None
    return Front(
        at_mm=at_mm,
        angle_rad=math.radians(float(random.uniform(70, 110))),
        arc_mm=arc,
        arc_shape="proud" if random.random() < 0.5 else "hollow",
        treatment="bevel" if treatment == "bevel" else "round" if treatment == "round" else "square",
        slope_rad=math.radians(float(random.uniform(30, 60))),
        land_mm=1.2,
        radius_mm=float(random.uniform(1.0, 3.0)),
        allowance_mm=float(random.choice([0.0, 0.2])),
    )


def _shaped(
    random: np.random.Generator, front: Front, edge: Edge, reach_mm: tuple[float, float]
) -> tuple[Front, Edge, Face]:
    """Front, edge and face of any kind: some of the faces flat, some of the edges the same all along."""
    x0, x1 = reach_mm
    length = x1 - x0
    crown, swell = None, ()
    if random.random() < 0.5:
        stated = {"height_mm": float(random.uniform(0.3, 1.6))}
        if random.random() < 0.5:
            stated = {"radius_mm": float(random.uniform(60, 120))}
        crown = Crown(**stated, angle_rad=math.radians(float(random.uniform(-4, 4))))
    if random.random() < 0.5:
        count = int(random.integers(2, 5))
        x = x0 + length * (np.arange(count) + random.uniform(0.2, 0.8, count)) / count
        swell = tuple((float(at), float(t)) for at, t in zip(x, random.uniform(5.5, 6.2, count), strict=True))
    if random.random() < 0.6:
        spine, belly = (_stations(random, edge.size_mm, x0, length) for _ in range(2))
        edge = Edge.along(edge.treatment, spine, belly)
    if random.random() < 0.1:
        edge = Edge()
    if front.treatment == "bevel" and random.random() < 0.5:
        front = replace(front, top_radius_mm=float(random.uniform(0.5, 2.0)))
    return front, edge, Face(crown=crown, swell=swell)


def _stations(
    random: np.random.Generator, size_mm: float, x0: float, length: float
) -> tuple[tuple[float, float], ...]:
    """Sizes along one side: growing, fading to nothing, or on a part of it only."""
    count = int(random.integers(1, 5))
    x = x0 + length * (0.14 + 0.74 * (np.arange(count) + random.uniform(0.2, 0.8, count)) / count)
    sizes = size_mm * random.choice([0.0, 0.3, 0.6, 1.0], count)
    return tuple((float(at), float(size)) for at, size in zip(x, sizes, strict=True))


def _middle_y(ring: Ring, x: float) -> float:
    points = ring.flatten(0.05)
    near = points[np.argsort(np.abs(points[:, 0] - x))[:40]]
    upper, lower = near[near[:, 1] > 0], near[near[:, 1] <= 0]
    if not len(upper) or not len(lower):
        return 0.0
    return float((upper[:, 1].mean() + lower[:, 1].mean()) / 2)


def try_one(kind: str, seed: int, *, shaped: bool = False) -> Outcome:
    """Build one random outline as cut and finished, by layer; judge it by the gate and by a mesh reader."""
    from scalegen.solids.scales import scale_solids

    start = time.perf_counter()
    try:
        scale = random_scale(kind, seed, shaped=shaped)
        stops = [f for f in check_scale(scale, load_shop(None)) if f.code == "edge-does-not-fit"]
        if stops:
            verdict = REFUSED_NARROW if is_narrow(scale) else REFUSED
            return Outcome(
                kind=kind, verdict=verdict, detail=stops[0].message, seconds=time.perf_counter() - start
            )
        volumes = scale_volumes(scale)
        solids = scale_solids(scale, volumes)
    except ScalegenError as error:
        return Outcome(
            kind=kind,
            verdict=REFUSED,
            detail=f"{error.where}: {error.message}",
            seconds=time.perf_counter() - start,
        )
    faults = mesh_faults(scale, solids, volumes)
    verdict = WRONG if faults else RIGHT
    return Outcome(kind=kind, verdict=verdict, detail="; ".join(faults), seconds=time.perf_counter() - start)


def is_narrow(scale: Scale) -> bool:
    """Whether a disc of the edge's size can't reach some place of the outline to within that size."""
    size = scale.pattern.edge.size_mm
    parts = opened(scale.carried, size)
    if len(parts) != 1:
        return True
    points = scale.finished.flatten(0.05)
    points = points[points[:, 0] > scale.finished.bounds_mm[0] + 6]
    return bool(distances_mm(parts[0], points).max() > size)


def mesh_faults(scale: Scale, solids: object, volumes: Volumes) -> list[str]:
    """What a mesh reader finds wrong: closedness, holes through it, volume, walls off the outline."""
    import trimesh

    from scalegen.form.plans import plan_of
    from scalegen.solids.mesh import mesh_shape

    faults = []
    for name, finished, by_layer in (
        ("as_cut_left", False, volumes.as_cut_mm3),
        ("finished_right", True, volumes.finished_mm3),
    ):
        body = getattr(solids, name)
        vertices, triangles = mesh_shape(body.whole, 0.02)
        mesh = trimesh.Trimesh(vertices, triangles, process=False)
        if not mesh.is_watertight:
            faults.append(f"{name}: mesh is not watertight")
        if mesh.euler_number != 2 - 2 * len(scale.holes):
            faults.append(f"{name}: Euler number {mesh.euler_number}")
        plan = plan_of(scale, finished=finished)
        volume = sum(by_layer.values())
        if abs(mesh.volume - volume) > 0.02 * mesh.area:
            faults.append(f"{name}: mesh volume {mesh.volume:.2f}, outline {volume:.2f}")
        low = vertices[np.abs(vertices[:, 2] - plan.bottom_mm) < 1e-6][:, :2] * (
            [1, -1] if "right" in name else [1, 1]
        )
        outline = scale.finished if finished else scale.as_cut
        off = distances_mm(outline, low)
        for hole in scale.holes:
            off = np.minimum(off, np.abs(np.hypot(*(low - hole.at_mm).T) - hole.hole_mm / 2))
        if off.max() > 0.005:
            faults.append(f"{name}: the wall at the tang is {off.max():.4f} mm off the outline")
        if not inside(outline, low.mean(axis=0)).any():
            faults.append(f"{name}: lies beside its outline")
    return faults


def run(count: int, *, shaped: bool = False, first: int = 0) -> str:
    """Try ``count`` outlines, shared out over the kinds; a table and all that was not right.

    Args:
        count: How many.
        shaped: With faces, edges and fronts of every kind.
        first: Seed of the first of each kind.
    """
    lines = [f"{'kind':16}{'tried':>7}{'right':>7}{'narrow':>8}{'refused':>9}{'WRONG':>7}{'s each':>8}"]
    details = []
    totals: Counter[str] = Counter()
    for kind in KINDS:
        seeds = range(first, first + count // len(KINDS))
        outcomes = []
        for seed in seeds:
            outcomes.append(try_one(kind, seed, shaped=shaped))
            print(kind, seed, outcomes[-1].verdict, file=sys.stderr, flush=True)
        verdicts = Counter(outcome.verdict for outcome in outcomes)
        totals += verdicts
        seconds = sum(outcome.seconds for outcome in outcomes) / max(1, len(outcomes))
        lines.append(
            f"{kind:16}{len(outcomes):7}{verdicts[RIGHT]:7}{verdicts[REFUSED_NARROW]:8}{verdicts[REFUSED]:9}{verdicts[WRONG]:7}{seconds:8.2f}"
        )
        details += [
            f"  {kind} {seed}: {outcome.verdict}: {outcome.detail}"
            for seed, outcome in zip(seeds, outcomes, strict=True)
            if outcome.verdict in (REFUSED, WRONG)
        ]
    lines.append(
        f"{'all':16}{sum(totals.values()):7}{totals[RIGHT]:7}{totals[REFUSED_NARROW]:8}{totals[REFUSED]:9}{totals[WRONG]:7}"
    )
    return "\n".join([*lines, *details])
