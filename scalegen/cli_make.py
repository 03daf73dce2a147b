"""The main command: make."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from scalegen.cli_goods import keep_in_history, measured_before, tell_measured
from scalegen.cli_jobs import (
    AsJson,
    LengthsOption,
    Measured,
    Patterns,
    SheetsMeasured,
    ShopOption,
    Stock,
    jobs_of,
    shown_lengths,
    spec_of,
)

if TYPE_CHECKING:
    from scalegen.model import JobSpec
    from scalegen.study import Study


def make(
    patterns: Patterns,
    *,
    together: Annotated[
        bool, typer.Option("--together", help="Several patterns share their sheets and one job folder.")
    ] = False,
    pairs: Annotated[
        str | None,
        typer.Option(
            metavar="N|max|NAME=N,...",
            help="Pairs to cut, of all alike or of each; or max: as many as one sheet takes; else 1.",
        ),
    ] = None,
    spares: Annotated[
        str | None, typer.Option(metavar="N", help="Further pairs in case one goes wrong; else 0.")
    ] = None,
    stock: Stock = None,
    measured: Measured = None,
    sheets_measured: SheetsMeasured = None,
    sheet: Annotated[
        list[str] | None,
        typer.Option(
            metavar="LxW|FILE|remnant:NUMBER",
            help="Blank: length x width, a drawing, or a remnant; else the sheets' own size. Given again:"
            " remnants first, each once, then the last other one as often as needed.",
        ),
    ] = None,
    sheet_units: Annotated[
        str | None, typer.Option(metavar="mm|cm|m|in|px", help="Unit of the drawing of the sheet.")
    ] = None,
    sheet_contour: Annotated[
        str | None, typer.Option(metavar="N", help="Which contour in it is the sheet; the largest is 1.")
    ] = None,
    keep_out: Annotated[
        list[str] | None,
        typer.Option(
            metavar="X,Y,WxH", help="A flaw, by its lower left corner and size. Can be given again."
        ),
    ] = None,
    grain: Annotated[
        str | None, typer.Option(metavar="DEG", help="Direction of the sheet's grain against x; else 0.")
    ] = None,
    margin: Annotated[
        str | None,
        typer.Option(metavar="D", help="Kept free along the edge; else cutter plus clearance."),
    ] = None,
    spacing: Annotated[
        str | None, typer.Option(metavar="D", help="Between parts; else cutter diameter plus clearance.")
    ] = None,
    cutter: Annotated[
        str | None, typer.Option(metavar="NAME", help='Cutter that goes round the parts; else "flat 1/8in".')
    ] = None,
    pad: Annotated[
        str | None, typer.Option(metavar="WxH", help="Size of the reference pad; else 20x20 mm.")
    ] = None,
    pad_corner: Annotated[
        str | None,
        typer.Option(
            metavar="CORNER|anywhere",
            help="lower-left, lower-right, upper-left or upper-right, or where it costs least.",
        ),
    ] = None,
    second_pad: Annotated[
        str | None, typer.Option(metavar="CORNER", help="Corner for a second pad, to check the first by.")
    ] = None,
    origin: Annotated[
        str | None, typer.Option(metavar="CORNER", help="Corner of the blank that is X0 Y0; else lower-left.")
    ] = None,
    turns: Annotated[
        str | None,
        typer.Option(metavar="grain|quarter|free|DEG,...", help="How scales may lie; else along the grain."),
    ] = None,
    pairing: Annotated[
        str | None,
        typer.Option(
            metavar="adjacent|mirrored|free",
            help="Partners side by side, as mirror images, or anywhere on one sheet; else adjacent.",
        ),
    ] = None,
    effort: Annotated[
        str | None,
        typer.Option(metavar="quick|normal|thorough", help="How hard to look for room; else quick."),
    ] = None,
    seed: Annotated[
        str | None, typer.Option(metavar="N", help="Each finds its own layout, always the same; else 0.")
    ] = None,
    left_over: Annotated[
        str | None,
        typer.Option(
            metavar="LxW", help="What must go into a piece left over to be worth keeping; else one scale."
        ),
    ] = None,
    tabs: Annotated[
        str | None,
        typer.Option(
            metavar="N|NAME=N,...",
            help="Tabs that hold each scale, or those of each; else as shop.toml says.",
        ),
    ] = None,
    out: Annotated[Path | None, typer.Option(metavar="DIR", help="Folder for results; else out.")] = None,
    name: Annotated[
        str | None, typer.Option(metavar="JOB", help="Name of the job folder; else the pattern's.")
    ] = None,
    units: Annotated[str | None, typer.Option(metavar="mm|in", help="Unit of the files; else mm.")] = None,
    step: Annotated[str | None, typer.Option(metavar="AP214|AP242", help="Kind of STEP; else AP214.")] = None,
    tolerance: Annotated[
        str | None, typer.Option(metavar="D", help="How far a mesh may be off; else 0.02 mm.")
    ] = None,
    formats: Annotated[
        str | None,
        typer.Option(metavar="F[,F...]", help="Any of step,stl,dxf,pictures,page,papers; else all."),
    ] = None,
    paper: Annotated[
        str | None,
        typer.Option(metavar="a4|letter", help="Size of paper; else a4, or letter for a job in inches."),
    ] = None,
    accept: Annotated[
        list[str] | None,
        typer.Option(
            metavar='CODE="WHY"',
            help="Make the job although its dry run stops there; say why. Can be given again.",
        ),
    ] = None,
    no_history: Annotated[
        bool, typer.Option("--no-history", help="Leave this job out of the history.")
    ] = False,
    lengths: LengthsOption = None,
    shop: ShopOption = None,
    as_json: AsJson = False,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="Print nothing but errors.")] = False,
) -> None:
    """Make pairs, sheets, exchange files and a bill of materials. Bare numbers are in the pattern's units."""
    from scalegen.laying import on_interrupt
    from scalegen.options import Typed
    from scalegen.pattern.read import read_pattern
    from scalegen.pipeline import make_job, require_no_stops, study_pattern
    from scalegen.report.job_views import print_made
    from scalegen.report.record import to_json
    from scalegen.report.views import console, step_display
    from scalegen.sheet_options import SheetTyped

    shown = shown_lengths(lengths)
    typed = Typed(
        together=together,
        pairs=pairs,
        spares=spares,
        stock=stock,
        measured=measured,
        sheets_measured=sheets_measured,
        on_sheet=SheetTyped(
            sheets=tuple(sheet or ()),
            units=sheet_units,
            contour=sheet_contour,
            keep_out=tuple(keep_out or ()),
            grain=grain,
        ),
        margin=margin,
        spacing=spacing,
        cutter=cutter,
        pad=pad,
        pad_corner=pad_corner,
        second_pad=second_pad,
        origin=origin,
        out=out,
        name=name,
        units=units,
        step=step,
        tolerance=tolerance,
        formats=formats,
        paper=paper,
        turns=turns,
        pairing=pairing,
        effort=effort,
        seed=seed,
        left_over=left_over,
        tabs=tabs,
        accept=tuple(accept or ()),
    )
    paths, base = jobs_of(patterns, name, together=together)
    names = [read_pattern(path).name for path in paths]
    specs = [spec_of(base, typed, path, shop, names) for path in paths]
    if shown is not None:
        specs = [replace(spec, paper_units=shown) for spec in specs]
    # All are looked at before any is made: one that stops is no surprise halfway.
    studies = [study_pattern(path, spec, shop) for path, spec in zip(paths, specs, strict=True)]
    _require_known(specs[0], studies)
    shared = specs[0].together and len(studies) > 1
    if not shared:
        _require_own_folders(studies)
    for study in studies:
        require_no_stops(study)
    if shared:
        record, folder = _make_shared(studies, specs, quiet=quiet or as_json)
        if as_json:
            typer.echo(to_json(record), nl=False)
        elif not quiet:
            print_made(record, folder, console(), shown)
        return
    records = []
    for study, spec in zip(studies, specs, strict=True):
        with step_display(study.scale.pattern.name, quiet=quiet or as_json) as progress:
            job = make_job(study, spec, progress, on_interrupt)
        before = measured_before(study, spec)
        if not no_history:
            keep_in_history(job.record, job.folder, study.shop.rules.currency)
        records.append(job.record)
        if not (as_json or quiet):
            print_made(job.record, job.folder, console(), shown)
            tell_measured(before, study)
    if as_json:
        typer.echo(to_json(records[0] if len(records) == 1 else records), nl=False)


def _make_shared(
    studies: "Sequence[Study]", specs: "Sequence[JobSpec]", *, quiet: bool
) -> "tuple[dict[str, Any], Path]":
    """Make all patterns as one job: its record and its folder."""
    from scalegen.errors import UsageError
    from scalegen.laying import on_interrupt
    from scalegen.machining.bridges import tabs_asked
    from scalegen.report.views import step_display
    from scalegen.together import Wanted, joined_name, make_together

    if any(spec.fill for spec in specs):
        raise UsageError(
            "of several patterns on the same sheets there is no number that is most",
            where="pairs",
            remedy="give each its number, such as --pairs siskin=4,harrier=2",
        )
    wanted = [
        Wanted(
            study=study,
            pairs=spec.pairs,
            spares=spec.spares,
            tabs=tabs_asked(spec, study.shop.rules).count,
        )
        for study, spec in zip(studies, specs, strict=True)
    ]
    with step_display(specs[0].job or joined_name(wanted), quiet=quiet) as progress:
        job = make_together(wanted, specs[0], progress, on_interrupt)
    return job.record, job.folder


def _require_known(spec: "JobSpec", studies: "Sequence[Study]") -> None:
    """Refuse numbers of pairs, spares or tabs for patterns that are not in the job."""
    from scalegen.errors import UsageError
    from scalegen.fields.words import suggest

    names = [study.scale.pattern.name for study in studies]
    counts = {"pairs": spec.pairs_each, "spares": spec.spares_each, "tabs": spec.tabs_each}
    for option, each in counts.items():
        for name, _ in each:
            if name not in names:
                raise UsageError(
                    f"there is no pattern {name} in this job",
                    where=option,
                    remedy=f"{suggest(name, names)} the patterns are: {', '.join(names)}".strip(),
                )


def _require_own_folders(studies: "Sequence[Study]") -> None:
    """Refuse patterns of one name: the second would take the place of the first."""
    from scalegen.errors import UsageError

    first: dict[str, Path] = {}
    for pattern in (study.scale.pattern for study in studies):
        if pattern.name in first:
            raise UsageError(
                f'it is called "{pattern.name}", and so is {first[pattern.name]}; they would share a folder',
                where=str(pattern.path),
                remedy="make them one at a time with --name, or give one another name",
            )
        first[pattern.name] = pattern.path
