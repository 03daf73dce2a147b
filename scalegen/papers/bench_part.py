"""Third part of a shop sheet: the work by hand in its order, with this job's numbers and boxes to fill."""

from collections.abc import Iterator, Sequence
from itertools import count

from scalegen.checks.stack import THIN_LINER_MM
from scalegen.model import Units
from scalegen.papers.document import Block, Columns, Group, Heading, Step, Steps, Table, Text
from scalegen.papers.words import pairs_in, plural, units_of
from scalegen.report.adhesive import GlueJob, glue_jobs, lot_words, mix_words
from scalegen.report.finishing import SurfacePlan, finishing_plan, left_ridge_mm
from scalegen.report.made import Lot, Made
from scalegen.report.views import sizes_in
from scalegen.units import format_area

_KEY = "About P120 on every face that meets glue; wipe the dust off, then keep fingers off."
_PAIRS_A_COLUMN = 4
_CURE = (
    "Leave it alone until it is cured by the label: 24 h is usual, for quick glues too (formulators' guides)."
)


def bench_part(made: Made) -> Iterator[Block]:
    """What is done by hand, from the sheets to the finished handle."""
    number = count(1)
    yield Heading(text="Step by step", level=1)
    yield Heading(text="The blank and the machine")
    yield Steps(steps=tuple(_numbered(number, [*_blank_steps(made), *_machine_steps(made)])))
    yield Heading(text="Each pair, before it is glued on")
    yield Steps(steps=tuple(_numbered(number, [*_back_steps(made), *_front_steps(made)])))
    yield _pair_boxes(made)
    yield Heading(text="On the knife")
    yield Steps(steps=tuple(_numbered(number, [*_glue_steps(made), *_flush_steps(made)])))


Said = tuple[str, tuple[str, ...]]


def _numbered(number: Iterator[int], said: Sequence[Said]) -> Iterator[Step]:
    for title, details in said:
        yield Step(number=next(number), title=title, details=tuple(line for line in details if line))


# ------------------------------------------------------------------------------------------ the blank


def _blank_steps(made: Made) -> Iterator[Said]:
    scale, size = made.lots[0].scale, sizes_in(units_of(made))
    jobs = glue_jobs(scale, made.shop, made.layouts, pairs_in(made))
    bonding = next((job for job in jobs if job.use == "lamination"), None)
    if bonding is not None:
        sheets = [layer.name for layer in scale.stack.layers if layer.kind != "bond"]
        film = f"{plural(bonding.joints, 'joint')}, film {size(bonding.film_mm, 2)}."
        yield "Key and clean the faces that are bonded", (_KEY,)
        yield (
            f"Bond with {bonding.name}: mix {bonding.mix.mixed_g:.1f} g",
            (*_mixing(bonding, units_of(made)), f"{film} From the back: {', '.join(sheets)}."),
        )
        yield (
            "Press between flat plates",
            (f"Light and even: a joint pressed dry is starved (formulators' guides). {_CURE}",),
        )
    yield (
        "Measure the bonded blank",
        ("Write the readings into the boxes above, and compare them with what is needed.",),
    )


def _machine_steps(made: Made) -> Iterator[Said]:
    tape = next((row for row in made.bom if row.section == "tape"), None)
    laid = f"{format_area(100 * tape.quantity, units_of(made))} of tape. " if tape and tape.quantity else ""
    yield (
        "Tape the blank down, faces up",
        (
            f"{laid}Bed and back clean; press the corner with the pad down too.",
            "Clamps and screws stay off pad and parts.",
        ),
    )
    yield (
        "Cut, stage by stage",
        ("Zero every cutter on the pad; read it after every stage (see At the machine).",),
    )
    first, last = _ends(made)
    yield (
        "Free the scales",
        (f"Write each one's label on its back as it comes off: {first} to {last}. Keep partners together.",),
    )


def _ends(made: Made) -> tuple[str, str]:
    labels = [place.label for layout in made.layouts for place in layout.placements]
    return labels[0], labels[-1]


def _mixing(job: GlueJob, units: Units) -> tuple[str, ...]:
    """The amounts on the scale, and how many mixes the working time allows."""
    mix, lots = mix_words(job.mix, job.glue), lot_words(job, units)
    return (f"{mix}." if mix else "Mix by the label's ratio.", f"{lots}." if lots else "")


# ------------------------------------------------------------------------------------- each surface


def _plans(made: Made, surface: str) -> Iterator[tuple[Lot, SurfacePlan, str]]:
    """The plan of each lot for one surface, and what is said before it where there are several lots."""
    for lot in made.lots:
        ridge = left_ridge_mm(lot.stages)
        plan = finishing_plan(lot.scale, made.shop, lot.pairs + lot.spares, lot.facing, ridge)
        for each in plan.surfaces:
            if each.surface == surface:
                yield lot, each, f"{lot.scale.pattern.title}: " if len(made.lots) > 1 else ""


def _grits(plan: SurfacePlan) -> str:
    """Grits in order, with the minutes where the shop has timed them."""
    if not plan.steps:
        return "No grades in the abrasives table."
    grades = ", ".join(step.grade for step in plan.steps)
    minutes = f", about {plan.minutes:.0f} min for all" if plan.minutes is not None else ""
    return f"{grades}{minutes}."


def _back_steps(made: Made) -> Iterator[Said]:
    size = sizes_in(units_of(made))
    lines = []
    for lot, plan, who in _plans(made, "backs"):
        off = (
            f"take {size(plan.allowance_mm, 2)} off"
            if plan.allowance_mm > 0
            else "take off no more than it needs"
        )
        lines += [f"{who}{_capital(off)} with {_grits(plan)} Leave the last scratches: they key the glue."]
        lines += [_stop_line(lot, made)]
    yield (
        "Flatten the backs on a flat plate",
        (*lines, "Flat when no light shows under a straight edge, along, across and from corner to corner."),
    )


def _stop_line(lot: Lot, made: Made) -> str:
    """How much may come off the back before its layer is too thin."""
    size, scale, layers = sizes_in(units_of(made)), lot.scale, lot.facing.layers
    if len(scale.stack.layers) == 1 or not layers:
        return ""
    name, least = layers[0].name, size(THIN_LINER_MM, 2)
    room = scale.back_allowance_mm + layers[0].least_left_mm - THIN_LINER_MM
    if room <= 0:
        return f"STOP once it is flat: {name} may be thinner than {least} already."
    return (
        f"STOP at {size(room, 2)} in all: then {name} can be down to {least} (our limit; common practice, no"
        " source)."
    )


def _front_steps(made: Made) -> Iterator[Said]:
    size = sizes_in(units_of(made))
    lines = []
    for _, plan, who in _plans(made, "fronts"):
        left = f"{size(plan.allowance_mm, 2)} was left ahead of the front: " if plan.allowance_mm > 0 else ""
        lines.append(f"{who}{_capital(f'{left}sand with')} {_grits(plan)}")
    yield (
        "Match the fronts in pairs, and polish them now",
        (
            "Pin the two scales of a pair back to back, and work both fronts as one.",
            *lines,
            "Once they are glued on nothing reaches them without marking the blade (makers' accounts).",
        ),
    )


def _glue_steps(made: Made) -> Iterator[Said]:
    yield (
        "Tape the blade, dry-fit pins and scales",
        (
            "Pins must slide in by hand; fronts level with each other on both sides.",
            f"The tang too: {_KEY[0].lower()}{_KEY[1:]}",
        ),
    )
    size = sizes_in(units_of(made))
    for lot in made.lots:
        jobs = glue_jobs(lot.scale, made.shop, made.layouts, lot.pairs + lot.spares)
        job = next(each for each in jobs if each.use == "glue-up")
        who = f"{lot.scale.pattern.title}: g" if len(made.lots) > 1 else "G"
        film = f", film {size(job.film_mm, 2)}" if job.film_mm else ""
        yield (
            f"{who}lue up with {job.name}: mix {job.mix.mixed_g:.1f} g",
            (
                *_mixing(job, units_of(made)),
                f"{plural(job.joints, 'joint')}{film}. Glue on tang, scales and pins.",
                "Light clamps, glue showing all round. Wipe the fronts clean before it sets. Let it cure.",
            ),
        )


def _flush_steps(made: Made) -> Iterator[Said]:
    size = sizes_in(units_of(made))
    ends = max((hole.hardware.end_allowance_mm for lot in made.lots for hole in lot.scale.holes), default=0.0)
    if ends > 0:
        yield "Take the pins' ends off", (f"About {size(ends, 1)} stands out on each side; keep them cool.",)
    trim = [
        f"{who}{size(plan.allowance_mm, 2)} off all round, but not at the front. {_grits(plan)}"
        for _, plan, who in _plans(made, "trim")
    ]
    if trim:
        yield "Sand flush with the tang", tuple(trim)
    faces = [
        f"{who}{_grits(plan)} What comes off here comes off the thickness: about {size(plan.takes_mm, 2)}."
        for _, plan, who in _plans(made, "faces and edges")
    ]
    yield "Faces and edges, last", tuple(faces)


def _capital(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


# --------------------------------------------------------------------------------------------- boxes


def _pair_boxes(made: Made) -> Block:
    """A row for each pair, to write in; in two columns where there are many."""
    numbers = [
        place.label.removesuffix("L")
        for layout in made.layouts
        for place in layout.placements
        if place.side == "left"
    ]
    title = Text(
        text="Write down, pair by pair: thickness; then tick backs flat, fronts match, done", strong=True
    )
    if len(numbers) <= _PAIRS_A_COLUMN:
        return Group(blocks=(title, _pair_table(numbers, made)))
    half = (len(numbers) + 1) // 2
    tables = (_pair_table(some, made) for some in (numbers[:half], numbers[half:]))
    return Group(blocks=(title, Columns(columns=tuple((table,) for table in tables))))


def _pair_table(numbers: Sequence[str], made: Made) -> Table:
    units = units_of(made)
    return Table(
        heads=("pair", f"L, {units}", f"R, {units}", "flat", "fronts", "done"),
        rows=tuple((number, "", "", "", "", "") for number in numbers),
        shares=(13, 19, 19, 12, 17, 14),
        strong=(0,),
        write_in=True,
    )
