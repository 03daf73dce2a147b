"""The command that looks for the smallest sheet."""

from pathlib import Path
from typing import Annotated

import typer

from scalegen.cli_jobs import AsJson, ShopOption, Stock, jobs_of, spec_of


def show_smallest(
    pattern: Annotated[Path, typer.Argument(metavar="PATTERN", help="Pattern file.", show_default=False)],
    *,
    pairs: Annotated[str | None, typer.Option(metavar="N", help="Pairs that must go on it; else 1.")] = None,
    width: Annotated[
        str | None,
        typer.Option(metavar="D", help="Its width, square to its length; else the best."),
    ] = None,
    within: Annotated[
        str | None, typer.Option(metavar="LxW", help="Largest length and width it may have.")
    ] = None,
    stock: Stock = None,
    margin: Annotated[str | None, typer.Option(metavar="D", help="As for make.")] = None,
    spacing: Annotated[str | None, typer.Option(metavar="D", help="As for make.")] = None,
    cutter: Annotated[str | None, typer.Option(metavar="NAME", help="As for make.")] = None,
    pad: Annotated[str | None, typer.Option(metavar="WxH", help="As for make.")] = None,
    second_pad: Annotated[
        str | None, typer.Option(metavar="CORNER", help="Corner for a second pad, as for make.")
    ] = None,
    grain: Annotated[
        str | None, typer.Option(metavar="DEG", help="Direction of the grain against its length; else 0.")
    ] = None,
    turns: Annotated[str | None, typer.Option(metavar="WORD|DEG,...", help="As for make.")] = None,
    pairing: Annotated[str | None, typer.Option(metavar="WORD", help="As for make.")] = None,
    effort: Annotated[str | None, typer.Option(metavar="WORD", help="As for make.")] = None,
    seed: Annotated[str | None, typer.Option(metavar="N", help="As for make.")] = None,
    picture: Annotated[
        Path | None, typer.Option("--picture", metavar="FILE", help="Draw it into a .svg or .png.")
    ] = None,
    shop: ShopOption = None,
    as_json: AsJson = False,
) -> None:
    """The smallest sheet found that takes a number of pairs, and what none can be smaller than."""
    from scalegen.cli_show import require_kind, save_picture
    from scalegen.errors import UsageError
    from scalegen.laying import on_interrupt
    from scalegen.option_values import length_option, size_option
    from scalegen.options import Typed
    from scalegen.report.record import to_json
    from scalegen.report.sheet_picture import draw_sheet
    from scalegen.report.views import step_display
    from scalegen.sheet_options import SheetTyped
    from scalegen.smallest import require_plain, smallest_sheet
    from scalegen.smallest_views import smallest_lines, smallest_record
    from scalegen.study import require_no_stops, study_pattern

    require_kind(picture)
    paths, base = jobs_of([pattern])
    if len(paths) > 1:
        raise UsageError(
            f"this batch file has {len(paths)} patterns", where=str(pattern), remedy="name one of them"
        )
    typed = Typed(
        pairs=pairs,
        stock=stock,
        margin=margin,
        spacing=spacing,
        cutter=cutter,
        pad=pad,
        pad_corner="anywhere",
        second_pad=second_pad,
        on_sheet=SheetTyped(grain=grain),
        turns=turns,
        pairing=pairing,
        effort=effort,
        seed=seed,
    )
    spec = spec_of(base, typed, paths[0], shop)
    if spec.fill:
        raise UsageError(
            "this needs a number of pairs", where="--pairs", remedy="give one, such as --pairs 6"
        )
    require_plain(spec)
    study = study_pattern(paths[0], spec, shop)
    require_no_stops(study)
    units = study.scale.pattern.units
    width_mm = None if width is None else length_option(width, units, "--width", least_mm=None)
    within_mm = None if within is None else size_option(within, units, "--within")
    with step_display(study.scale.pattern.name, quiet=as_json) as progress, on_interrupt() as stop:
        found = smallest_sheet(
            study, spec, width_mm=width_mm, within_mm=within_mm, progress=progress, stop=stop
        )
    if as_json:
        typer.echo(to_json(smallest_record(found)), nl=False)
    else:
        for line in smallest_lines(found, units):
            typer.echo(line)
    if picture is not None:
        save_picture(draw_sheet(study.scale, found.layout), picture)
        if not as_json:
            typer.echo(f"picture: {picture}")
