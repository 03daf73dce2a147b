"""How much glue a job takes: grams by the label's ratio, and how many mixes its working time allows."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final, Literal

from scalegen.design import Scale
from scalegen.model import Adhesive, Shop, Units
from scalegen.sheet.layout import SheetLayout
from scalegen.units import format_area

GlueUse = Literal["lamination", "glue-up"]

SPREADING: Final = "spreading rate and minutes for closing: rules of the shop, common practice, no source"
WARMTH: Final = (
    "working time about halves for every 10 degC more, and labels mean some 100 g at 23 to 25 degC; a full"
    " cup goes off sooner than a thin film (formulators' guides)"
)
RATIO: Final = "more hardener than the label says makes no epoxy faster, only weaker (formulators' guides)"
_SLACK_MIN = 1e-9


@dataclass(frozen=True, kw_only=True)
class Mix:
    """One amount of glue, mixed by the label.

    Attributes:
        mixed_g: All of it.
        resin_g: Resin in it; None where the table has no ratio, or one by volume without densities.
        hardener_g: Hardener in it.
        resin_ml: Resin by volume, for a ratio by volume; None otherwise.
        hardener_ml: Hardener by volume.
    """

    mixed_g: float
    resin_g: float | None = None
    hardener_g: float | None = None
    resin_ml: float | None = None
    hardener_ml: float | None = None


@dataclass(frozen=True, kw_only=True)
class Lots:
    """How a glue's working time shares the work out.

    Attributes:
        working_min: Minutes the glue can be worked.
        spreading_min: Minutes of them that are left for spreading.
        each: Blanks, or pairs, that go into one lot; at least 1.
        count: Lots.
        lot_mm2: Area of one full lot.
        lot_min: Minutes that spreading a full lot takes.
        mix: What to mix for a full lot.
        in_time: Whether a full lot is spread in time; False where one blank or pair alone takes too long.
    """

    working_min: float
    spreading_min: float
    each: int
    count: int
    lot_mm2: float
    lot_min: float
    mix: Mix
    in_time: bool


@dataclass(frozen=True, kw_only=True)
class GlueJob:
    """All the glue for one use.

    Attributes:
        use: "lamination" bonds the sheets of blanks, "glue-up" scales to tangs.
        name: Name of the glue.
        glue: Its row in the tables, or None when it has none.
        joints: How many films.
        pieces: Blanks, or pairs: what must be closed in one go.
        area_mm2: Area of all films.
        film_mm: Thickness of a film; 0 when not known.
        net_g: Grams that stay in the joints.
        mix: What to mix in all.
        lots: How it is shared out over mixes; None where the table has no working time.
        notes: Where the figures come from and what to mind.
    """

    use: GlueUse
    name: str
    glue: Adhesive | None
    joints: int
    pieces: int
    area_mm2: float
    film_mm: float
    net_g: float
    mix: Mix
    lots: Lots | None
    notes: tuple[str, ...]


def glue_jobs(scale: Scale, shop: Shop, layouts: Sequence[SheetLayout], pairs: int) -> tuple[GlueJob, ...]:
    """All the glue of a job: for the stack of its new blanks, where it has joints, and for the tangs.

    Args:
        scale: What is made.
        shop: Shop tables, with their rules for spreading.
        layouts: Blanks of the job.
        pairs: Pairs to glue up, spares included.
    """
    return tuple(_jobs(scale, shop, layouts, pairs))


def _jobs(scale: Scale, shop: Shop, layouts: Sequence[SheetLayout], pairs: int) -> Iterator[GlueJob]:
    stack = scale.stack
    bonds = [layer for layer in stack.layers if layer.kind == "bond"]
    new = [layout for layout in layouts if not layout.at_hand]
    if bonds and new:
        blanks_mm2 = math.fsum(layout.area_mm2 for layout in new)
        yield _job(
            "lamination",
            stack.adhesive,
            shop,
            joints=len(bonds) * len(new),
            pieces=len(new),
            area_mm2=blanks_mm2 * len(bonds),
            largest_mm2=max(layout.area_mm2 for layout in new) * len(bonds),
            film_mm=math.fsum(bond.thickness_mm for bond in bonds) / len(bonds),
            net_g=math.fsum(
                adhesive_net_g(blanks_mm2, bond.thickness_mm, bond.density_g_cm3) for bond in bonds
            ),
        )
    glue = shop.adhesives.get(stack.glue_up)
    area_mm2 = scale.glued.area_mm2 * 2 * pairs
    yield _job(
        "glue-up",
        stack.glue_up,
        shop,
        joints=2 * pairs,
        pieces=pairs,
        area_mm2=area_mm2,
        largest_mm2=scale.glued.area_mm2 * 2,
        film_mm=glue.bond_mm if glue else 0.0,
        net_g=adhesive_net_g(area_mm2, glue.bond_mm, glue.density_g_cm3) if glue else 0.0,
    )


def _job(
    use: GlueUse,
    name: str,
    shop: Shop,
    *,
    joints: int,
    pieces: int,
    area_mm2: float,
    largest_mm2: float,
    film_mm: float,
    net_g: float,
) -> GlueJob:
    glue = shop.adhesives.get(name)
    mix = mixed(glue, net_g * glue.waste) if glue else Mix(mixed_g=net_g)
    lots = None
    if glue is not None and glue.working_min is not None and pieces and area_mm2 > 0:
        lots = share_lots(glue, shop, pieces=pieces, piece_mm2=largest_mm2, piece_g=mix.mixed_g / pieces)
    notes = [] if glue is None or not glue.source else [f"{name}: {glue.source}"]
    notes += [SPREADING, WARMTH] if lots else []
    notes += [RATIO] if glue is not None and glue.resin is not None else []
    return GlueJob(
        use=use,
        name=name,
        glue=glue,
        joints=joints,
        pieces=pieces,
        area_mm2=area_mm2,
        film_mm=film_mm,
        net_g=net_g,
        mix=mix,
        lots=lots,
        notes=tuple(notes),
    )


def adhesive_net_g(area_mm2: float, film_mm: float, density_g_cm3: float) -> float:
    """Weigh a film of glue: 0.1 mm at 1.15 g/cm3 is 115 g on a square metre.

    Args:
        area_mm2: Area of all joints.
        film_mm: Thickness of the film.
        density_g_cm3: Density of the cured glue.

    Returns:
        Grams that stay in the joints.
    """
    return area_mm2 * film_mm * density_g_cm3 / 1000


def mixed(glue: Adhesive, mixed_g: float) -> Mix:
    """Share an amount out over resin and hardener by the label's ratio.

    Args:
        glue: With its ratio, by weight or by volume.
        mixed_g: Grams of both together.

    Returns:
        The amounts. Parts by volume become grams by the densities of both parts; where the table does not
        have these, only volumes are given, by the density of the cured glue.
    """
    if glue.resin is None or glue.hardener is None:
        return Mix(mixed_g=mixed_g)
    parts = glue.resin + glue.hardener
    resin, hardener = glue.resin / parts, glue.hardener / parts
    if glue.mix_by == "weight":
        return Mix(mixed_g=mixed_g, resin_g=mixed_g * resin, hardener_g=mixed_g * hardener)
    first, second = glue.resin_density_g_cm3, glue.hardener_density_g_cm3
    if first is None or second is None:
        mixed_ml = mixed_g / glue.density_g_cm3
        return Mix(mixed_g=mixed_g, resin_ml=mixed_ml * resin, hardener_ml=mixed_ml * hardener)
    mixed_ml = mixed_g / (resin * first + hardener * second)
    return Mix(
        mixed_g=mixed_g,
        resin_g=mixed_ml * resin * first,
        hardener_g=mixed_ml * hardener * second,
        resin_ml=mixed_ml * resin,
        hardener_ml=mixed_ml * hardener,
    )


def share_lots(glue: Adhesive, shop: Shop, *, pieces: int, piece_mm2: float, piece_g: float) -> Lots:
    """Share blanks or pairs out over mixes, each spread and closed before the glue goes off.

    Args:
        glue: With a working time.
        shop: For the spreading rate and the minutes that mixing and closing take.
        pieces: Blanks or pairs, each closed in one go.
        piece_mm2: Area of the joints of one of them.
        piece_g: Grams mixed for one of them.

    Raises:
        ValueError: The glue has no working time.
    """
    if glue.working_min is None:
        raise ValueError(f"{glue.name} has no working time")
    rules = shop.rules
    spreading_min = max(0.0, glue.working_min - rules.closing_min)
    piece_min = piece_mm2 / 100 / rules.spread_cm2_min
    fitting = int((spreading_min + _SLACK_MIN) // piece_min) if piece_min > 0 else pieces
    count = math.ceil(pieces / max(1, fitting))
    # Lots of like size: no last one with a single pair.
    each = math.ceil(pieces / count)
    return Lots(
        working_min=glue.working_min,
        spreading_min=spreading_min,
        each=each,
        count=count,
        lot_mm2=piece_mm2 * each,
        lot_min=piece_min * each,
        mix=mixed(glue, piece_g * each),
        in_time=fitting >= 1,
    )


# ------------------------------------------------------------------------------------------------ words


def mix_words(mix: Mix, glue: Adhesive | None) -> str:
    """An amount as it is weighed: "6.0 g resin + 5.1 g hardener (1 : 1 by volume)"; empty without a ratio."""
    if glue is None or glue.resin is None or glue.hardener is None:
        return ""
    ratio = f"{glue.resin:g} : {glue.hardener:g} by {glue.mix_by}"
    if mix.resin_g is not None and mix.hardener_g is not None:
        return f"{_grams(mix.resin_g)} resin + {_grams(mix.hardener_g)} hardener ({ratio})"
    if mix.resin_ml is not None and mix.hardener_ml is not None:
        return f"{mix.resin_ml:.1f} ml resin + {mix.hardener_ml:.1f} ml hardener ({ratio})"
    return ratio


def lot_words(job: GlueJob, units: Units) -> str:
    """What the working time allows: "210 cm2 in 5 min, ...: mix in 2 lots"; empty where it is not known."""
    lots = job.lots
    if lots is None:
        return ""
    thing = "blank" if job.use == "lamination" else "pair"
    time = f"{lots.working_min:g} min, {lots.spreading_min:g} of them for spreading"
    area, spread = f"{format_area(job.area_mm2, units)} in {time}", f"{lots.lot_min:.1f} min"
    if not lots.in_time:
        return f"{area}: one {thing} alone takes {spread}; take a slower glue, or spread it with two"
    if lots.count == 1:
        return f"{area}: one mix will do, spread in {spread}"
    many = f"{lots.each} {thing}{'s' if lots.each > 1 else ''}"
    most = "" if job.pieces % lots.each == 0 else "at most "
    mix = mix_words(lots.mix, job.glue) or f"{_grams(lots.mix.mixed_g)} mixed"
    return f"{area}: mix in {lots.count} lots of {most}{many} each, {mix}, spread in {spread}"


def _grams(grams: float) -> str:
    return f"{grams:.1f} g" if grams >= 1 else f"{grams:.2f} g"


def glue_records(jobs: Sequence[GlueJob]) -> list[dict[str, Any]]:
    """Glue as data: areas in mm2, film in mm, grams, millilitres and minutes."""
    return [
        {
            "use": job.use,
            "glue": job.name,
            "joints": job.joints,
            "area_mm2": job.area_mm2,
            "film_mm": job.film_mm,
            "net_g": job.net_g,
            "ratio": {"resin": job.glue.resin, "hardener": job.glue.hardener, "by": job.glue.mix_by}
            if job.glue and job.glue.resin
            else None,
            "mix": asdict(job.mix),
            "lots": asdict(job.lots) if job.lots else None,
            "notes": list(job.notes),
        }
        for job in jobs
    ]
