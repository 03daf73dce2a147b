"""The command line: reads arguments, calls the pipeline, prints, and ends with a documented exit code."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from scalegen import __version__

if TYPE_CHECKING:
    from scalegen.model import JobSpec
    from scalegen.options import Typed

EPILOG = (
    "Exit codes: 0 done, 1 a bug, 2 usage, 3 pattern or outline, 4 geometry, 5 sheet, 6 a stop finding, 7 writing."
)

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    epilog=EPILOG,
    help="Knife handle scales from a tang outline: matched pairs, a laid-out sheet, files for any CAM, and what to buy.",
)
show_app = typer.Typer(no_args_is_help=True, help="Look at a pattern, a job or the shop tables.", rich_markup_mode=None)
app.add_typer(show_app, name="show")

Patterns = Annotated[list[Path], typer.Argument(help="Pattern files, or one batch file.", show_default=False)]
ShopOption = Annotated[
    Path | None, typer.Option("--shop", help="Folder of shop tables; else the nearest shared/ above the pattern.")
]
Stock = Annotated[str | None, typer.Option(help="Stack in the shop tables, instead of the pattern's own.")]
Measured = Annotated[
    str | None, typer.Option(help="Readings of the bonded stack, such as 6.85,6.9 or 0.27in.", metavar="T[,T...]")
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
def init(folder: Annotated[Path, typer.Argument(help="New shop folder.", show_default=False)]) -> None:
    """Start a shop folder: demo patterns, shop tables to edit, and a place for results."""
    from scalegen.shop import init_folder

    made = init_folder(folder)
    typer.echo(f"{folder}: {len(made)} files laid out")
    typer.echo(f"edit the tables in {folder / 'shared'}, then: scalegen make {folder / 'profiles' / 'siskin.toml'}")


@app.command()
def check(
    patterns: Patterns,
    stock: Stock = None,
    measured: Measured = None,
    shop: ShopOption = None,
    as_json: AsJson = False,
) -> None:
    """Say everything that is to be said about patterns before anything is built."""
    from scalegen.options import Typed
    from scalegen.pipeline import study_pattern
    from scalegen.report.record import finding_records, to_json
    from scalegen.report.tables import print_findings
    from scalegen.report.views import console

    paths, base = _jobs(patterns)
    results: list[dict[str, Any]] = []
    stopped = False
    for path in paths:
        spec = _spec(base, Typed(stock=stock, measured=measured), path)
        study = study_pattern(path, spec, shop)
        stopped |= bool(study.stops)
        results.append({"pattern": study.scale.pattern.name, "findings": finding_records(study.findings)})
        if not as_json:
            typer.echo(f"{path}:")
            print_findings(study.findings, console())
    if as_json:
        typer.echo(to_json(results), nl=False)
    if stopped:
        raise typer.Exit(6)


@app.command()
def make(
    patterns: Patterns,
    pairs: Annotated[int | None, typer.Option(help="Pairs to cut.", show_default="1")] = None,
    spares: Annotated[int | None, typer.Option(help="Further pairs against mishaps.", show_default="0")] = None,
    stock: Stock = None,
    measured: Measured = None,
    sheet: Annotated[
        str | None,
        typer.Option(help="Size of one blank, along x across the grain.", metavar="LxW", show_default="the sheets'"),
    ] = None,
    margin: Annotated[str | None, typer.Option(help="Kept free along the blank's edge.", show_default="3 mm")] = None,
    spacing: Annotated[
        str | None, typer.Option(help="Between parts.", show_default="cutter diameter plus clearance")
    ] = None,
    cutter: Annotated[
        str | None, typer.Option(help="Cutter that goes round the parts.", show_default="flat 1/8in")
    ] = None,
    pad: Annotated[
        str | None, typer.Option(help="Size of the reference pad.", metavar="WxH", show_default="20x20 mm")
    ] = None,
    pad_corner: Annotated[
        str | None, typer.Option(help="lower-left, lower-right, upper-left or upper-right.", show_default="lower-left")
    ] = None,
    origin: Annotated[
        str | None, typer.Option(help="Corner of the blank that is X0 Y0.", show_default="lower-left")
    ] = None,
    out: Annotated[Path | None, typer.Option(help="Folder for results.", show_default="out")] = None,
    name: Annotated[str | None, typer.Option(help="Name of the job folder.", show_default="the pattern's")] = None,
    units: Annotated[str | None, typer.Option(help="Unit of the files: mm or in.", show_default="mm")] = None,
    step: Annotated[str | None, typer.Option(help="AP214 or AP242.", show_default="AP214")] = None,
    tolerance: Annotated[
        str | None, typer.Option(help="Largest distance of a mesh from the surface.", show_default="0.02 mm")
    ] = None,
    formats: Annotated[str | None, typer.Option(help="Any of step,stl,dxf.", show_default="all")] = None,
    shop: ShopOption = None,
    as_json: AsJson = False,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="Print nothing but errors.")] = False,
) -> None:
    """Make pairs, sheets, exchange files and a bill of materials. Bare numbers are in the pattern's units."""
    from scalegen.options import Typed
    from scalegen.pipeline import make_pattern
    from scalegen.report.record import to_json
    from scalegen.report.views import console, print_job, step_display

    typed = Typed(
        pairs=pairs,
        spares=spares,
        stock=stock,
        measured=measured,
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
    )
    paths, base = _jobs(patterns, name)
    records = []
    for path in paths:
        spec = _spec(base, typed, path)
        with step_display(path.stem, quiet=quiet or as_json) as progress:
            job = make_pattern(path, spec, shop, progress)
        records.append(job.record)
        if not (as_json or quiet):
            print_job(job.record, job.folder, console())
    if as_json:
        typer.echo(to_json(records[0] if len(records) == 1 else records), nl=False)


def _jobs(patterns: Sequence[Path], name: str | None = None) -> "tuple[tuple[Path, ...], JobSpec]":
    """Pattern files and the job they start from: defaults, or what a batch file says."""
    from scalegen.errors import UsageError
    from scalegen.model import JobSpec
    from scalegen.pattern.batch import is_batch, read_batch

    batches = [path for path in patterns if is_batch(path)]
    if batches and len(patterns) > 1:
        raise UsageError(f"{batches[0]} is a batch file", remedy="give a batch file alone, or pattern files")
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

    return merged(replace(base), typed, read_pattern(path).units)


@show_app.command("pattern")
def show_pattern(
    pattern: Annotated[Path, typer.Argument(help="Pattern file.", show_default=False)],
    stock: Stock = None,
    measured: Measured = None,
    shop: ShopOption = None,
    as_json: AsJson = False,
) -> None:
    """Every number of a pattern, resolved against its stack."""
    from scalegen.options import Typed
    from scalegen.pipeline import study_pattern, study_record
    from scalegen.report.record import to_json
    from scalegen.report.views import console, print_study

    paths, base = _jobs([pattern])
    study = study_pattern(paths[0], _spec(base, Typed(stock=stock, measured=measured), paths[0]), shop)
    record = study_record(study)
    if as_json:
        typer.echo(to_json(record), nl=False)
    else:
        print_study(record, study.findings, console())


@show_app.command("job")
def show_job(
    folder: Annotated[Path, typer.Argument(help="Job folder, such as out/siskin.", show_default=False)],
    as_json: AsJson = False,
) -> None:
    """The essentials of a job that was made."""
    from scalegen.report.record import read_job, to_json
    from scalegen.report.views import console, print_job

    record = read_job(folder)
    if as_json:
        typer.echo(to_json(record), nl=False)
    else:
        print_job(record, folder, console())


@show_app.command("tables")
def show_tables(
    table: Annotated[
        str | None,
        typer.Argument(help="stock, stacks, hardware, cutters, abrasives or drills; all but drills without it."),
    ] = None,
    shop: ShopOption = None,
    as_json: AsJson = False,
) -> None:
    """The shop tables: those of --shop, of the nearest shared/ from here up, or the bundled ones."""
    from scalegen.report.record import to_json
    from scalegen.report.shop_tables import print_tables, tables_record
    from scalegen.report.views import console
    from scalegen.shop import find_shared, load_shop

    tables = load_shop(shop or find_shared(Path.cwd()))
    if as_json:
        typer.echo(to_json(tables_record(tables, table)), nl=False)
    else:
        print_tables(tables, table, console())
