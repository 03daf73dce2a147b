"""A dry run in a row for each stage."""

from dataclasses import dataclass

from scalegen.machining.dry_run import DryRun, pad_untouched, rest_mm
from scalegen.machining.hold import freed, holds, tabbed


@dataclass(frozen=True, kw_only=True)
class StageRow:
    """What one stage of a dry run did.

    Attributes:
        stage: Number, from 1.
        name: What it does.
        cutter: Its cutter.
        removed_mm3: Material taken from above the bed.
        deepest_mm: Lowest point of the cutter above the underside of the blank; below 0 is below it.
        deepest_at_mm: Where, sheet frame.
        pad_untouched: Whether the whole pad still has the blank's height.
        pad_ring_mm: How wide a ring around the pad is whole too, at most 10 mm.
        pad_held: Whether the piece with the pad still hangs together with the blank.
        held: Labels of parts that still hang together with the blank.
        loosened: Labels of parts that this stage set free.
        offcuts: How many loose pieces of waste lie about.
        rest_mm: The most that still stands above what is wanted on the parts, holes left out.
        rest_mm3: All that stands there.
    """

    stage: int
    name: str
    cutter: str
    removed_mm3: float
    deepest_mm: float
    deepest_at_mm: tuple[float, float]
    pad_untouched: bool
    pad_ring_mm: float
    pad_held: bool
    held: tuple[str, ...]
    loosened: tuple[str, ...]
    offcuts: int
    rest_mm: float
    rest_mm3: float


@dataclass(frozen=True, kw_only=True)
class TabsRow:
    """What the tabs of a sheet do.

    Attributes:
        count: All tabs of the sheet.
        width_mm: Of a tab.
        height_mm: Above the underside of the blank.
        held: Labels of parts that still hang together with the blank or another part after the last stage.
        loose: Labels of parts that have tabs and are loose by then all the same.
        not_free: Labels of parts that are not free once every tab is cut by hand.
    """

    count: int
    width_mm: float
    height_mm: float
    held: tuple[str, ...]
    loose: tuple[str, ...]
    not_free: tuple[str, ...]


def tabs_row(run: DryRun) -> TabsRow | None:
    """What the tabs of a sheet do; None for a job without any."""
    after = freed(run)
    if after is None:
        return None
    last, asking = holds(run)[-1].parts, tabbed(run)
    return TabsRow(
        count=len(run.tabs),
        width_mm=run.tabs[0].width_mm,
        height_mm=run.tabs[0].height_mm,
        held=tuple(part.label for part in last if not part.is_loose),
        loose=tuple(part.label for part in last if part.is_loose and part.label in asking),
        not_free=tuple(part.label for part in after.parts if not part.is_loose),
    )


def stage_rows(run: DryRun) -> tuple[StageRow, ...]:
    """Every stage of a dry run in a row."""
    target, rows = run.target, []
    for number, (shot, hold) in enumerate(zip(run.shots, holds(run), strict=True), 1):
        rest = rest_mm(shot.field, target.field.heights_mm, target.solid)
        rows.append(
            StageRow(
                stage=number,
                name=shot.name,
                cutter=shot.shape.name,
                removed_mm3=shot.removed_mm3,
                deepest_mm=shot.deepest_mm,
                deepest_at_mm=shot.deepest_at_mm,
                pad_untouched=pad_untouched(shot, target.blank_mm),
                pad_ring_mm=shot.pad_ring_mm,
                pad_held=hold.pad_in_blank,
                held=tuple(part.label for part in hold.parts if not part.is_loose),
                loosened=hold.loosened,
                offcuts=len(hold.offcuts),
                rest_mm=float(rest.max(initial=0.0)),
                rest_mm3=float(rest.sum(dtype="float64")) * run.blank.cell_mm2,
            )
        )
    return tuple(rows)
