"""A job's pairs onto blanks at hand first, each once, then onto as few of its own kind as are found."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

from scalegen.errors import SheetError, UsageError
from scalegen.export.drawings import footprints
from scalegen.laying import Laid, Progress, Studied, gaps_of, laid_out, require_sound, silent
from scalegen.laying_together import laid_together
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
    name = study.scale.pattern.name
    due = None if spec.fill else {name: spec.pairs + spec.spares}
    laid = _filled(_Alone(study=study, spec=spec, progress=progress), spec, due, stop)
    require_sound(laid.layouts, {name: footprints(study.scale)}, spec, gaps_of(study, spec), due)
    counted = replace(spec, fill=False, pairs=pair_count(laid.layouts)) if spec.fill else spec
    return replace(laid, spec=counted)


def laid_together_on_rests(
    studies: Sequence[Studied],
    counts: Sequence[int],
    spec: JobSpec,
    progress: Progress = silent,
    stop: Stop = onward,
) -> Laid:
    """As :func:`scalegen.laying_together.laid_together`, with the job's rests filled first.

    Args:
        studies: Scales and tables, one for each pattern.
        counts: Pairs of each, spares included.
        spec: On which sheets, how; its own numbers of pairs say nothing.
        progress: As for :func:`laid_on_rests`.
        stop: As there.

    Raises:
        SheetError: As there.
        UsageError: As there.
    """
    spec = replace(spec, fill=False)
    if not spec.rests:
        return laid_together(studies, counts, spec, progress, stop)
    _require_sense(studies[0], spec)
    due = {each.scale.pattern.name: pairs for each, pairs in zip(studies, counts, strict=True)}
    laid = _filled(_Together(studies=studies, spec=spec, progress=progress), spec, due, stop)
    rings = {each.scale.pattern.name: footprints(each.scale) for each in studies}
    require_sound(laid.layouts, rings, spec, gaps_of(studies[0], spec), due)
    return replace(laid, spec=spec)


Due = Mapping[str, int]
"""Pairs that are still to be laid, by the pattern's name."""


class _Way(Protocol):
    """A way to lay a job's pairs on blanks of one kind."""

    def full(self, rest: Rest, due: Due | None, stop: Stop) -> Laid:
        """One blank as full as can be found, or with all pairs that are due."""

    def rest(self, own: Rest, due: Due, stop: Stop) -> Laid:
        """All pairs that are due, on as few blanks as are found."""


def _filled(way: _Way, spec: JobSpec, wanted: Due | None, stop: Stop) -> Laid:
    """The rests in their order, then the job's own kind; ``wanted`` is None for as many pairs as go."""
    own = Rest(sheet_mm=spec.sheet_mm, sheet_shape=spec.sheet_shape, remnant=spec.remnant)
    once = spec.fill or own.remnant is not None
    layouts: list[SheetLayout] = []
    findings: list[Finding] = []
    refused: SheetError | None = None
    for rest in (*spec.rests, own) if once else spec.rests:
        due = _left(wanted, layouts)
        if due is not None and not any(due.values()):
            findings.append(_untouched(rest, "is not needed: all pairs go on the sheets before it"))
            continue
        try:
            laid = way.full(rest, due, _stop_now(stop, findings))
        except SheetError as error:
            refused = error
            findings.append(_untouched(rest, f"takes none of the pairs: {error.message}"))
            continue
        layouts += laid.layouts
        findings += laid.findings
    due = _left(wanted, layouts)
    if due is not None and any(due.values()):
        if once:
            raise _too_few(pair_count(layouts), sum((wanted or {}).values()), [*spec.rests, own])
        laid = way.rest(own, due, _stop_now(stop, findings))
        layouts += laid.layouts
        findings += laid.findings
    if not layouts and refused is not None:
        raise refused
    return Laid(layouts=_numbered(layouts), spec=spec, findings=tuple(dict.fromkeys(findings)))


def _left(wanted: Due | None, layouts: Sequence[SheetLayout]) -> Due | None:
    """What is due once some blanks are laid."""
    if wanted is None:
        return None
    places = [place for layout in layouts for place in layout.placements if place.side == "left"]
    laid = Counter(place.pattern for place in places)
    return {name: pairs - laid[name] for name, pairs in wanted.items()}


def _stop_now(stop: Stop, findings: Sequence[Finding]) -> Stop:
    """Who ends the next search: nobody once one was ended, so that the job goes on."""
    stopped = any(finding.code == "arranging-stopped" for finding in findings)
    return onward if stopped else stop


@dataclass(frozen=True, kw_only=True)
class _Alone:
    """One pattern, and how its search is watched."""

    study: Studied
    spec: JobSpec
    progress: Progress

    def full(self, rest: Rest, due: Due | None, stop: Stop) -> Laid:
        """One blank as full as can be, or with as many pairs as are left."""
        full = laid_out(self.study, _asking(self.spec, rest, None), self.progress, stop)
        if due is None or pair_count(full.layouts) <= sum(due.values()):
            return full
        # Fewer pairs than go are laid so that the widest strip stays whole, where a way is found.
        left = sum(due.values())
        asked = _asking(self.spec, replace(rest, remnant=None), left)
        loose = laid_out(self.study, asked, self.progress, _stop_now(stop, full.findings))
        (layout,) = full.layouts
        if len(loose.layouts) == 1:
            layout = replace(loose.layouts[0], remnant=layout.remnant, drawing=layout.drawing)
        else:
            layout = replace(layout, placements=layout.placements[: 2 * left])
        return replace(full, layouts=(layout,))

    def rest(self, own: Rest, due: Due, stop: Stop) -> Laid:
        """All pairs that are due."""
        return laid_out(self.study, _asking(self.spec, own, sum(due.values())), self.progress, stop)


@dataclass(frozen=True, kw_only=True)
class _Together:
    """Several patterns, and how their search is watched."""

    studies: Sequence[Studied]
    spec: JobSpec
    progress: Progress

    def full(self, rest: Rest, due: Due | None, stop: Stop) -> Laid:
        """One blank with as many of the pairs as go on it."""
        counts = list((due or {}).values())
        return laid_together(self.studies, counts, _asking(self.spec, rest, None), self.progress, stop)

    def rest(self, own: Rest, due: Due, stop: Stop) -> Laid:
        """All pairs that are due."""
        asked = _asking(self.spec, own, sum(due.values()))
        return laid_together(self.studies, list(due.values()), asked, self.progress, stop)


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
    gaps_of(study, spec)


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
