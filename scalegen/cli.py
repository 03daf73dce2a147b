"""The command line: reads arguments, calls the pipeline, prints, and ends with a documented exit code."""

import shlex
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from scalegen import __version__
from scalegen.cli_outline import new, show_outline
from scalegen.cli_restock import restock
from scalegen.cli_show import PictureOption, require_kind, save_scale_picture, show_dry_run, show_touch_off

if TYPE_CHECKING:
    from scalegen.model import JobSpec
    from scalegen.options import Typed
    from scalegen.pipeline import Study

EPILOG = (
    "Exit codes: 0 done, 1 a fault of the program, 2 usage, 3 pattern or outline, 4 geometry, 5 sheet, "
    "6 a stop finding, 7 writing."
)

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    epilog=EPILOG,
    help=(
        "Knife handle scales from a tang outline: matched pairs, a laid-out sheet, files for any CAM, "
        "and what to buy."
    ),
)
show_app = typer.Typer(
    no_args_is_help=True, help="Look at a pattern, a job or the shop tables.", rich_markup_mode=None
)
app.add_typer(show_app, name="show")
app.command("new")(new)
app.command("restock")(restock)
show_app.command("outline")(show_outline)
show_app.command("dry-run")(show_dry_run)
show_app.command("touch-off")(show_touch_off)

Patterns = Annotated[
    list[Path],
    typer.Argument(metavar="PATTERN", help="Pattern files, or one batch file.", show_default=False),
]
ShopOption = Annotated[
    Path | None,
    typer.Option("--shop", metavar="DIR", help="Shop tables; else the nearest shared/ above the pattern."),
]
Stock = Annotated[
    str | None, typer.Option(metavar="NAME", help="Stack in the shop tables, instead of the pattern's own.")
]
Measured = Annotated[
    str | None,
    typer.Option(
        help="Readings of the bonded stack, such as 6.85,6.9 or 0.27in, or a .csv of x, y, reading.",
        metavar="T[,T...]|FILE",
    ),
]
SheetsMeasured = Annotated[
    str | None,
    typer.Option(
        help="What each sheet measured before it was bonded, from back to face; tells the glue's film.",
        metavar="T,T...",
    ),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print data instead of tables.")]


def _version(value: bool) -> None:
    if value:
        typer.echo(f"scalegen {__version__}")
        raise typer.Exit


@app.callback()
def options(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version and end.")
    ] = False,
) -> None:
    """Options that go before a command."""


@app.command()
def init(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="New shop folder.", show_default=False)],
) -> None:
    """Start a shop folder: demo patterns, tables, a place for results."""
    from scalegen.shop import init_folder

    made = init_folder(folder)
    typer.echo(f"{folder}: {len(made)} files laid out")
    typer.echo(f"edit the tables in {folder / 'shared'}; then, to try it:")
    typer.echo(f"  scalegen make {shlex.quote(str(folder / 'profiles' / 'siskin.toml'))}")


@app.command()
def check(
    patterns: Patterns,
    *,
    stock: Stock = None,
    measured: Measured = None,
    sheets_measured: SheetsMeasured = None,
    shop: ShopOption = None,
    as_json: AsJson = False,
) -> None:
    """Say what there is to say about patterns, before anything is built."""
    from scalegen.errors import ScalegenError
    from scalegen.options import Typed
    from scalegen.pipeline import study_pattern
    from scalegen.report.record import blank_record, error_record, finding_records, to_json
    from scalegen.report.tables import print_findings
    from scalegen.report.views import console, print_blank

    typed = Typed(stock=stock, measured=measured, sheets_measured=sheets_measured)
    paths, base = _jobs(patterns)
    results: list[dict[str, Any]] = []
    codes: list[int] = []
    for path in paths:
        try:
            study = study_pattern(path, _spec(base, typed, path), shop)
        except ScalegenError as error:
            if len(paths) == 1:
                raise
            # The other patterns are looked at all the same.
            codes.append(error.exit_code)
            results.append({"file": str(path), "error": error_record(error)})
            typer.echo(f"scalegen: {error}", err=True)
            continue
        codes.append(6 if study.stops else 0)
        pattern, blank = study.scale.pattern, blank_record(study.blank, study.facing)
        found = {"pattern": pattern.name, "blank": blank, "findings": finding_records(study.findings)}
        results.append({"file": str(path), **found})
        if not as_json:
            typer.echo(f"{path}:")
            print_blank(blank, pattern.units, console())
            print_findings(study.findings, console())
    if as_json:
        typer.echo(to_json(results), nl=False)
    if any(codes):
        raise typer.Exit(next(code for code in codes if code))


@app.command()
def make(
    patterns: Patterns,
    *,
    pairs: Annotated[
        str | None,
        typer.Option(metavar="N|max", help="Pairs to cut, or max: as many as one sheet takes; else 1."),
    ] = None,
    spares: Annotated[
        str | None, typer.Option(metavar="N", help="Further pairs in case one goes wrong; else 0.")
    ] = None,
    stock: Stock = None,
    measured: Measured = None,
    sheets_measured: SheetsMeasured = None,
    sheet: Annotated[
        str | None,
        typer.Option(metavar="LxW", help="Blank: length along the grain x width; else the sheets' own size."),
    ] = None,
    margin: Annotated[
        str | None, typer.Option(metavar="D", help="Kept free along the blank's edge; else 3 mm.")
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
        typer.Option(metavar="CORNER", help="lower-left, lower-right, upper-left or upper-right."),
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
        str | None, typer.Option(metavar="F[,F...]", help="Any of step,stl,dxf; else all.")
    ] = None,
    shop: ShopOption = None,
    as_json: AsJson = False,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="Print nothing but errors.")] = False,
) -> None:
    """Make pairs, sheets, exchange files and a bill of materials. Bare numbers are in the pattern's units."""
    from scalegen.laying import on_interrupt
    from scalegen.options import Typed
    from scalegen.pipeline import make_job, require_no_stops, study_pattern
    from scalegen.report.record import to_json
    from scalegen.report.views import console, print_job, step_display

    typed = Typed(
        pairs=pairs,
        spares=spares,
        stock=stock,
        measured=measured,
        sheets_measured=sheets_measured,
        sheet=sheet,
        margin=margin,
        spacing=spacing,
        cutter=cutter,
        pad=pad,
        pad_corner=pad_corner,
        origin=origin,
        out=out,
        name=name,
        units=units,
        step=step,
        tolerance=tolerance,
        formats=formats,
        turns=turns,
        pairing=pairing,
        effort=effort,
        seed=seed,
    )
    paths, base = _jobs(patterns, name)
    specs = [_spec(base, typed, path) for path in paths]
    # All are looked at before any is made: one that stops is no surprise halfway.
    studies = [study_pattern(path, spec, shop) for path, spec in zip(paths, specs, strict=True)]
    _require_own_folders(studies)
    for study in studies:
        require_no_stops(study)
    records = []
    for study, spec in zip(studies, specs, strict=True):
        with step_display(study.scale.pattern.name, quiet=quiet or as_json) as progress:
            job = make_job(study, spec, progress, on_interrupt)
        records.append(job.record)
        if not (as_json or quiet):
            print_job(job.record, job.folder, console())
    if as_json:
        typer.echo(to_json(records[0] if len(records) == 1 else records), nl=False)


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


def _jobs(patterns: Sequence[Path], name: str | None = None) -> "tuple[tuple[Path, ...], JobSpec]":
    """Pattern files and the job they start from: defaults, or what a batch file says."""
    from scalegen.errors import UsageError
    from scalegen.model import JobSpec
    from scalegen.pattern.batch import is_batch, read_batch

    batches = [path for path in patterns if is_batch(path)]
    if batches and len(patterns) > 1:
        raise UsageError(
            "this is a batch file, and it stands beside other files",
            where=str(batches[0]),
            remedy="give a batch file alone, or pattern files",
        )
    paths, spec = read_batch(batches[0]) if batches else (tuple(patterns), JobSpec())
    if len(paths) > 1 and (name or spec.job):
        raise UsageError(
            f"one job name for {len(paths)} patterns",
            where="--name",
            remedy="leave the name out: each pattern gets a folder of its own name",
        )
    return paths, spec


def _spec(base: "JobSpec", typed: "Typed", path: Path) -> "JobSpec":
    from scalegen.options import merged
    from scalegen.pattern.read import read_pattern

    return merged(base, typed, read_pattern(path).units)


@show_app.command("pattern")
def show_pattern(
    pattern: Annotated[Path, typer.Argument(metavar="PATTERN", help="Pattern file.", show_default=False)],
    *,
    stock: Stock = None,
    measured: Measured = None,
    sheets_measured: SheetsMeasured = None,
    picture: PictureOption = None,
    shop: ShopOption = None,
    as_json: AsJson = False,
) -> None:
    """Every number of a pattern, resolved against its stack; and a picture of its scale."""
    from scalegen.errors import UsageError
    from scalegen.options import Typed
    from scalegen.pipeline import study_pattern, study_record
    from scalegen.report.record import to_json
    from scalegen.report.views import console, print_study

    require_kind(picture)
    paths, base = _jobs([pattern])
    if len(paths) > 1:
        raise UsageError(
            f"this batch file has {len(paths)} patterns",
            where=str(pattern),
            remedy=f"name one of them: {', '.join(map(str, paths))}",
        )
    typed = Typed(stock=stock, measured=measured, sheets_measured=sheets_measured)
    study = study_pattern(paths[0], _spec(base, typed, paths[0]), shop)
    record = study_record(study)
    if as_json:
        typer.echo(to_json(record), nl=False)
    else:
        print_study(record, study.findings, console())
    if picture is not None:
        save_scale_picture(study.scale, picture)
        if not as_json:
            typer.echo(f"picture: {picture}")


@show_app.command("job")
def show_job(
    folder: Annotated[
        Path, typer.Argument(metavar="DIR", help="Job folder, such as out/siskin.", show_default=False)
    ],
    as_json: AsJson = False,
) -> None:
    """The essentials of a job that was made."""
    from scalegen.errors import UsageError
    from scalegen.report.record import read_job, to_json
    from scalegen.report.views import console, print_job

    record = read_job(folder)
    if as_json:
        typer.echo(to_json(record), nl=False)
        return
    try:
        print_job(record, folder, console())
    except (AttributeError, IndexError, KeyError, TypeError, ValueError) as error:
        raise UsageError(
            "the job record is damaged", where=str(folder), remedy='make the job again with "scalegen make"'
        ) from error


@show_app.command("tables")
def show_tables(
    table: Annotated[
        str | None,
        typer.Argument(
            metavar="[NAME]",
            help="rules, stock, glues, stacks, hardware, cutters, abrasives or drills; else all but drills.",
        ),
    ] = None,
    shop: ShopOption = None,
    as_json: AsJson = False,
) -> None:
    """The shop tables: of --shop, of the nearest shared/, or the bundled ones."""
    from scalegen.report.record import to_json
    from scalegen.report.shop_tables import print_tables, tables_record
    from scalegen.report.views import console
    from scalegen.shop import find_shared, load_shop

    tables = load_shop(shop or find_shared(Path.cwd()))
    if as_json:
        typer.echo(to_json(tables_record(tables, table)), nl=False)
    else:
        print_tables(tables, table, console())
