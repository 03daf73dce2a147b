"""A job's pairs onto blanks at hand first, each once, then onto as few of its own kind as are found."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from scalegen.errors import SheetError, UsageError
from scalegen.laying import Laid, Progress, Studied, laid_out, round_cutter, silent, spacing_between
from scalegen.model import Finding, JobSpec
from scalegen.model.job import Rest
from scalegen.nest.records import Stop, onward
from scalegen.sheet.layout import SheetLayout, pair_count


def laid_on_rests(study: Studied, spec: JobSpec, progress: Progress = silent, stop: Stop = onward) -> Laid:
    """As :func:`scalegen.laying.laid_out`, with the job's rests filled first.

    Each rest takes as many pairs as are found to go on it, so that as few blanks as can be are left to take
    of the job's own kind; a rest that is not needed or takes no pair is told of. With as many pairs as go,
    the job's own kind is taken once too.

    Args:
        study: Scale and tables.
        spec: How many, on which sheets, how.
        progress: Told pairs found, the limit and what is being tried.
        stop: True ends the search with the best so far.

    Raises:
        SheetError: As there; or all blanks are remnants, and not all pairs go on them.
        UsageError: As there; or places are kept out of, and it is not known on which blank.
    """
    if not spec.rests:
        return laid_out(study, spec, progress, stop)
    _require_sense(study, spec)
    own = Rest(sheet_mm=spec.sheet_mm, sheet_shape=spec.sheet_shape, remnant=spec.remnant)
    once = spec.fill or own.remnant is not None
    filling = _Filling(study=study, spec=spec, progress=progress, stop=stop)
    wanted = None if spec.fill else spec.pairs + spec.spares
    layouts: list[SheetLayout] = []
    findings: list[Finding] = []
    refused: SheetError | None = None
    for rest in (*spec.rests, own) if once else spec.rests:
        left = None if wanted is None else wanted - pair_count(layouts)
        if left == 0:
            findings.append(_untouched(rest, "is not needed: all pairs go on the sheets before it"))
            continue
        try:
            laid = filling.on(rest, left, findings)
        except SheetError as error:
            refused = error
            findings.append(_untouched(rest, f"takes none of the pairs: {error.message}"))
            continue
        layouts += laid.layouts
        findings += laid.findings
    left = 0 if wanted is None else wanted - pair_count(layouts)
    if left and once:
        raise _too_few(pair_count(layouts), wanted or 0, [*spec.rests, own])
    if left:
        laid = laid_out(study, _asking(spec, own, left), progress, filling.stop_now(findings))
        layouts += laid.layouts
        findings += laid.findings
    if not layouts and refused is not None:
        raise refused
    counted = replace(spec, fill=False, pairs=pair_count(layouts)) if spec.fill else spec
    return Laid(layouts=_numbered(layouts), spec=counted, findings=tuple(dict.fromkeys(findings)))


@dataclass(frozen=True, kw_only=True)
class _Filling:
    """What is laid, and how it is watched."""

    study: Studied
    spec: JobSpec
    progress: Progress
    stop: Stop

    def stop_now(self, findings: Sequence[Finding]) -> Stop:
        """Who ends the next search: nobody once one was ended, so that the job goes on."""
        stopped = any(finding.code == "arranging-stopped" for finding in findings)
        return onward if stopped else self.stop

    def on(self, rest: Rest, left: int | None, findings: Sequence[Finding]) -> Laid:
        """One blank as full as can be, or with as many pairs as are left."""
        stop = self.stop_now(findings)
        full = laid_out(self.study, _asking(self.spec, rest, None), self.progress, stop)
        if left is None or pair_count(full.layouts) <= left:
            return full
        # Fewer pairs than go are laid so that the widest strip stays whole, where a way is found.
        asked = _asking(self.spec, replace(rest, remnant=None), left)
        loose = laid_out(self.study, asked, self.progress, self.stop_now([*findings, *full.findings]))
        (layout,) = full.layouts
        if len(loose.layouts) == 1:
            layout = replace(loose.layouts[0], remnant=layout.remnant, drawing=layout.drawing)
        else:
            layout = replace(layout, placements=layout.placements[: 2 * left])
        return replace(full, layouts=(layout,))


def _asking(spec: JobSpec, rest: Rest, pairs: int | None) -> JobSpec:
    """A job for one kind of blank alone; None for as many pairs as go on one."""
    return replace(
        spec,
        sheet_mm=rest.sheet_mm,
        sheet_shape=rest.sheet_shape,
        remnant=rest.remnant,
        rests=(),
        fill=pairs is None,
        pairs=pairs or 1,
        spares=0,
    )


def _numbered(layouts: Sequence[SheetLayout]) -> tuple[SheetLayout, ...]:
    """The sheets named, and their pairs numbered, through the whole job."""
    named: list[SheetLayout] = []
    for number, layout in enumerate(layouts, start=1):
        before = pair_count(named)
        placements = tuple(
            replace(place, label=f"{before + index // 2 + 1}{place.label[-1]}")
            for index, place in enumerate(layout.placements)
        )
        named.append(replace(layout, name=f"sheet-{number}", placements=placements))
    return tuple(named)


def _require_sense(study: Studied, spec: JobSpec) -> None:
    """Refuse what cannot be meant, before a blank is said to have no room.

    Raises:
        SheetError: The cutter does not go between the parts.
        UsageError: Flaws are named, or spares beside as many pairs as go, or the cutter is not in the tables.
    """
    if spec.keep_out:
        raise UsageError(
            "it is not known on which of the sheets there is something to keep out of",
            where="keep-out",
            remedy="draw the flaw into that sheet's drawing or into the table of remnants, or name one sheet",
        )
    if spec.fill and spec.spares:
        raise UsageError(
            "spares are asked for, and as many pairs as the sheets take",
            where="spares",
            remedy="leave the spares out: some of the pairs can be your spares; or give a number of pairs",
        )
    spacing_between(study, spec, round_cutter(spec, study.shop))


def _name(rest: Rest) -> str:
    """What a blank is called in messages."""
    if rest.remnant is not None:
        return f"remnant {rest.remnant}"
    if rest.sheet_shape is not None:
        return f"the blank drawn in {rest.sheet_shape.source or 'the job'}"
    if rest.sheet_mm is None:
        return "the sheet of its own size"
    return f"the sheet of {rest.sheet_mm[0]:g} x {rest.sheet_mm[1]:g} mm"


def _untouched(rest: Rest, why: str) -> Finding:
    return Finding(
        code="sheet-untouched",
        level="note",
        about="sheet",
        where="",
        message=f"{_name(rest)} {why}",
        remedy="leave it as it is; nothing is cut from it",
    )


def _too_few(count: int, wanted: int, blanks: Sequence[Rest]) -> SheetError:
    return SheetError(
        f"room was found for {count} pair{'s' * (count != 1)} on {', '.join(map(_name, blanks))},"
        f" and {wanted} are due: there is only one of each",
        where="sheet",
        remedy="name a size too, such as --sheet 300x150, for what does not go on them; or ask for so many",
    )
