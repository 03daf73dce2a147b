"""The command line: reads arguments, calls the pipeline, prints, and ends with a documented exit code."""

import shlex
from pathlib import Path
from typing import Annotated, Any

import typer

from scalegen import __version__
from scalegen.cli_goods import measured_before, show_finishing, show_history, tell_measured
from scalegen.cli_jobs import (
    AsJson,
    LengthsOption,
    Measured,
    Patterns,
    SheetsMeasured,
    ShopOption,
    Stock,
    jobs_of,
    open_page,
    shown_lengths,
    spec_of,
)
from scalegen.cli_keep import keep
from scalegen.cli_make import make
from scalegen.cli_outline import new, show_outline
from scalegen.cli_restock import restock
from scalegen.cli_show import PictureOption, require_kind, save_scale_picture, show_dry_run, show_touch_off
from scalegen.cli_smallest import show_smallest

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
show_app.command("outline")(show_outline)
show_app.command("smallest")(show_smallest)
show_app.command("dry-run")(show_dry_run)
show_app.command("touch-off")(show_touch_off)
show_app.command("finishing")(show_finishing)
show_app.command("history")(show_history)


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


app.command("new")(new)


@app.command()
def check(
    patterns: Patterns,
    *,
    stock: Stock = None,
    measured: Measured = None,
    sheets_measured: SheetsMeasured = None,
    shop: ShopOption = None,
    lengths: LengthsOption = None,
    as_json: AsJson = False,
) -> None:
    """Say what there is to say about patterns, before anything is built."""
    from scalegen.errors import ScalegenError
    from scalegen.history import measured_record
    from scalegen.options import Typed
    from scalegen.pipeline import study_pattern
    from scalegen.report.record import error_record, finding_records, to_json
    from scalegen.report.record_scale import blank_record
    from scalegen.report.tables import print_findings
    from scalegen.report.views import console, print_blank

    shown = shown_lengths(lengths)
    typed = Typed(stock=stock, measured=measured, sheets_measured=sheets_measured)
    paths, base = jobs_of(patterns)
    results: list[dict[str, Any]] = []
    codes: list[int] = []
    for path in paths:
        try:
            spec = spec_of(base, typed, path, shop)
            study = study_pattern(path, spec, shop)
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
        before = measured_before(study, spec)
        found = {"pattern": pattern.name, "blank": blank, "findings": finding_records(study.findings)}
        found["last_measured"] = measured_record(before) if before else None
        results.append({"file": str(path), **found})
        if not as_json:
            typer.echo(f"{path}:")
            print_blank(blank, shown or pattern.units, console())
            print_findings(study.findings, console())
            tell_measured(before, study)
    if as_json:
        typer.echo(to_json(results), nl=False)
    if any(codes):
        raise typer.Exit(next(code for code in codes if code))


app.command("make")(make)
app.command("keep")(keep)
app.command("restock")(restock)


@show_app.command("pattern")
def show_pattern(
    pattern: Annotated[Path, typer.Argument(metavar="PATTERN", help="Pattern file.", show_default=False)],
    *,
    stock: Stock = None,
    measured: Measured = None,
    sheets_measured: SheetsMeasured = None,
    picture: PictureOption = None,
    shop: ShopOption = None,
    lengths: LengthsOption = None,
    as_json: AsJson = False,
) -> None:
    """Every number of a pattern, resolved against its stack; and a picture of its scale."""
    from scalegen.errors import UsageError
    from scalegen.options import Typed
    from scalegen.pipeline import study_pattern, study_record
    from scalegen.report.record import to_json
    from scalegen.report.views import console, print_study

    require_kind(picture)
    shown = shown_lengths(lengths)
    paths, base = jobs_of([pattern])
    if len(paths) > 1:
        raise UsageError(
            f"this batch file has {len(paths)} patterns",
            where=str(pattern),
            remedy=f"name one of them: {', '.join(map(str, paths))}",
        )
    typed = Typed(stock=stock, measured=measured, sheets_measured=sheets_measured)
    study = study_pattern(paths[0], spec_of(base, typed, paths[0], shop), shop)
    record = study_record(study)
    if as_json:
        typer.echo(to_json(record), nl=False)
    else:
        print_study(record, study.findings, console(), shown)
    if picture is not None:
        save_scale_picture(study.scale, picture)
        if not as_json:
            typer.echo(f"picture: {picture}")


@show_app.command("job")
def show_job(
    folder: Annotated[
        Path, typer.Argument(metavar="DIR", help="Job folder, such as out/siskin.", show_default=False)
    ],
    lengths: LengthsOption = None,
    *,
    opened: Annotated[
        bool, typer.Option("--open", help="Open its page in the browser: view.html, or the shop sheet.")
    ] = False,
    part: Annotated[
        str | None,
        typer.Option(
            metavar="P[,P...]", help="Only these: scale, sheets, stages, findings, bom, files; else all."
        ),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Everything about a job that was made, or parts of it."""
    from scalegen.errors import UsageError
    from scalegen.report.job_views import parts_of, print_job
    from scalegen.report.record import read_job, to_json
    from scalegen.report.views import console

    shown, parts = shown_lengths(lengths), parts_of(part)
    if as_json and part is not None:
        raise UsageError("--json prints the whole record", where="--part", remedy="leave one of the two out")
    record = read_job(folder)
    if opened:
        open_page(folder)
    if as_json:
        typer.echo(to_json(record), nl=False)
        return
    try:
        print_job(record, folder, console(), shown, parts)
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
            help="rules, stock, glues, stacks, hardware, cutters, abrasives, remnants or drills; "
            "else all but drills.",
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
