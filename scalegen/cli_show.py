"""What ``show`` draws and tells: a finished scale; a job cut in thought, and where its cutters are zeroed."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from scalegen.cli_jobs import LengthsOption, shown_lengths

if TYPE_CHECKING:
    from rich.console import Console

    from scalegen.design import Scale
    from scalegen.machining.dry_run import DryRun
    from scalegen.machining.tabs import Tab
    from scalegen.model import JobSpec, Lengths, Units
    from scalegen.pipeline import Study
    from scalegen.report.picture_shapes import Picture
    from scalegen.sheet.layout import SheetLayout

PictureOption = Annotated[
    Path | None,
    typer.Option(
        "--picture",
        metavar="FILE",
        help="Draw the finished scale, layers, pins and profiles into a .svg or .png.",
    ),
]


def require_kind(target: Path | None) -> None:
    """Refuse a picture of a kind that is not written, before any work is done.

    Raises:
        UsageError: It ends neither in .svg nor in .png.
    """
    from scalegen.errors import UsageError

    if target is not None and target.suffix.lower() not in {".svg", ".png"}:
        raise UsageError("a picture is .svg or .png", where="--picture", remedy="end its name so")


def save_scale_picture(scale: "Scale", target: Path) -> None:
    """Draw a finished scale into a file whose kind was looked at.

    Raises:
        GeometryError: The shape can't be made.
        UsageError: A .png is asked for and Pillow is not installed.
        WriteError: The file can't be written.
    """
    from scalegen.report.scale_picture import draw_scale

    save_picture(draw_scale(scale), target)


def save_picture(drawing: "Picture", target: Path, width_px: int = 1600) -> None:
    """Write a page into a file whose kind was looked at.

    Raises:
        UsageError: A .png is asked for and Pillow is not installed.
        WriteError: The file can't be written.
    """
    from scalegen.export.files import save_bytes, write_error
    from scalegen.report.picture_png import picture_png
    from scalegen.report.picture_svg import picture_svg

    png = target.suffix.lower() == ".png"
    data = picture_png(drawing, width_px) if png else picture_svg(drawing).encode()
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        save_bytes(target, data)
    except OSError as error:
        raise write_error(error, target) from error


# ---------------------------------------------------------------------------------- a job cut in thought

JobFolder = Annotated[
    Path, typer.Argument(metavar="JOB", help="Job folder, such as out/siskin.", show_default=False)
]
PatternFile = Annotated[
    Path | None,
    typer.Option("--pattern", metavar="FILE", help="The job's pattern file; else looked for above the job."),
]
ShopFolder = Annotated[
    Path | None,
    typer.Option("--shop", metavar="DIR", help="Shop tables; else the nearest shared/ above the pattern."),
]
SheetNumber = Annotated[
    str | None, typer.Option("--sheet", metavar="N", help="Which sheet of the job, from 1.")
]
AsJson = Annotated[bool, typer.Option("--json", help="Print data instead of tables.")]


@dataclass(frozen=True, kw_only=True, eq=False)
class _Kept:
    """A job as its record and its pattern have it."""

    study: "Study"
    layouts: "tuple[SheetLayout, ...]"
    spec: "JobSpec"
    stages: tuple[str, ...]
    tabs: "tuple[tuple[Tab, ...], ...]"
    others: "tuple[Study, ...]" = ()

    @property
    def units(self) -> "Units":
        return self.study.scale.pattern.units

    def rehearsed(self, layout: "SheetLayout", last_stage: int | None = None) -> "DryRun":
        """One of its sheets cut in thought, with the tabs that it was made with."""
        from scalegen.machining.mixed import Plan
        from scalegen.machining.stages import plan_stages
        from scalegen.rehearsal import rehearse_sheet, rehearse_together

        tabs = self.tabs[[each.name for each in self.layouts].index(layout.name)]
        if self.others:
            shop = self.study.shop
            plans = [
                Plan(scale=each.scale, stages=plan_stages(each.scale, self.spec, shop))
                for each in (self.study, *self.others)
            ]
            return rehearse_together(plans, shop, layout, last_stage=last_stage, tabs=tabs)
        return rehearse_sheet(self.study, layout, self.spec, last_stage=last_stage, tabs=tabs)


def show_touch_off(
    job: JobFolder,
    *,
    at: Annotated[
        str | None,
        typer.Option(metavar="X,Y", help="Place on the sheet, from the job's origin corner; else the card."),
    ] = None,
    stage: Annotated[
        str | None, typer.Option(metavar="N|NAME", help="Stage, by its number or its name.")
    ] = None,
    sheet: SheetNumber = None,
    pattern: PatternFile = None,
    shop: ShopFolder = None,
    lengths: LengthsOption = None,
    as_json: AsJson = False,
) -> None:
    """What happens when a cutter is zeroed at a place; without one, the touch-off card of a sheet."""
    from scalegen.errors import UsageError
    from scalegen.machining.touch_off import touch_off
    from scalegen.rehearsal import stage_named
    from scalegen.report.record import to_json
    from scalegen.report.touch_off_views import print_touch_off, touch_off_record
    from scalegen.report.views import console

    shown = shown_lengths(lengths)
    kept = _kept(job, pattern, shop)
    layout = kept.layouts[_sheet_index(sheet, kept.layouts) or 0]
    number = None if stage is None else stage_named(stage, kept.stages)
    place = None if at is None else _place(at, layout, kept.units)
    if place is None:
        _show_card(kept, layout, number, shown, as_json=as_json)
        return
    if number is None:
        raise UsageError(
            "it is not said before which stage the cutter is zeroed",
            where="--stage",
            remedy="give its number or name: "
            + ", ".join(f"{k} {name}" for k, name in enumerate(kept.stages, 1)),
        )
    run = kept.rehearsed(layout, number)
    found = touch_off(place, number, run, probe_mm=kept.study.shop.rules.probe_mm, units=kept.units)
    if as_json:
        typer.echo(to_json(touch_off_record(found, layout)), nl=False)
    else:
        print_touch_off(found, layout, shown or kept.units, console())


def show_dry_run(
    job: JobFolder,
    *,
    picture: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Draw every stage of a sheet into a .svg or .png."),
    ] = None,
    stl: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Write the blank after every stage into STL files, in mm."),
    ] = None,
    measured: Annotated[
        str | None,
        typer.Option(metavar="T[,T...]", help="Cut a blank of this thickness with the job as planned."),
    ] = None,
    sheet: SheetNumber = None,
    pattern: PatternFile = None,
    shop: ShopFolder = None,
    lengths: LengthsOption = None,
    as_json: AsJson = False,
) -> None:
    """A job cut in thought, stage by stage; and on a blank of another thickness."""
    from scalegen.export.files import require_folder
    from scalegen.options import readings
    from scalegen.report.record import to_json
    from scalegen.report.views import console

    require_kind(picture)
    if stl is not None:
        require_folder(stl, "--stl")
    shown = shown_lengths(lengths)
    kept = _kept(job, pattern, shop)
    blanks = () if measured is None else readings(measured, kept.units)
    chosen = _sheet_index(sheet, kept.layouts)
    layouts = kept.layouts if chosen is None else kept.layouts[chosen : chosen + 1]
    out = console()
    records = []
    for index, layout in enumerate(layouts):
        # One at a time: a sheet takes some memory.
        run = kept.rehearsed(layout)
        records.append(_dry_run(run, layout, blanks, kept.units, out=None if as_json else out, shown=shown))
        if picture is not None and index == 0:
            from scalegen.report.touch_off_picture import draw_dry_run

            title, probe = kept.study.scale.pattern.title, kept.study.shop.rules.probe_mm
            drawing = draw_dry_run(run, layout, title, kept.units, probe_mm=probe)
            save_picture(drawing, picture, _STAGES_PX)
            if not as_json:
                typer.echo(f"picture of {layout.name}: {picture}")
        if stl is not None:
            written = _save_stages(run, layout, stl)
            if not as_json:
                typer.echo(f"{layout.name} after each stage, in {stl}: {', '.join(written)}")
    if as_json:
        typer.echo(to_json({"sheets": records}), nl=False)


_STAGES_PX = 2000


def _save_stages(run: "DryRun", layout: "SheetLayout", folder: Path) -> list[str]:
    """Write the blank after every stage; names of the files.

    Raises:
        WriteError: The folder can't be written.
    """
    from scalegen.export.files import save_bytes, write_error
    from scalegen.export.stage_meshes import stage_meshes

    names = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, data in stage_meshes(run, layout):
            save_bytes(folder / name, data, "--stl")
            names.append(name)
    except OSError as error:
        raise write_error(error, folder, "--stl") from error
    return names


def _dry_run(
    run: "DryRun",
    layout: "SheetLayout",
    blanks: Sequence[float],
    units: "Units",
    *,
    out: "Console | None",
    shown: "Lengths | None",
) -> dict[str, Any]:
    """One sheet as data, printed too where there is a console."""
    from scalegen.machining.summary import stage_rows, tabs_row
    from scalegen.machining.wrong_thickness import on_blank
    from scalegen.report import touch_off_views as views

    rows, tabs = stage_rows(run), tabs_row(run)
    # The thinnest, the mean and the thickest, each once.
    thick = sorted({min(blanks), math.fsum(blanks) / len(blanks), max(blanks)}) if blanks else []
    found = [
        on_blank(run, actual, reference=reference, units=units)
        for actual in thick
        for reference in ("pad", "bed")
    ]
    if out is not None:
        views.print_dry_run(rows, layout, shown or units, out, tabs)
        if found:
            views.print_thickness(found, layout, shown or units, out)
    record = views.dry_run_record(rows, layout, tabs)
    return {**record, "measured": [views.thickness_record(each) for each in found]}


def _show_card(
    kept: _Kept, layout: "SheetLayout", number: int | None, shown: "Lengths | None", *, as_json: bool
) -> None:
    from scalegen.machining.card import card_of
    from scalegen.report.record import to_json
    from scalegen.report.touch_off_views import card_record, print_card
    from scalegen.report.views import console

    card = card_of(kept.rehearsed(layout), kept.study.shop.rules)
    if number is not None:
        card = replace(card, rows=card.rows[number - 1 : number])
    if as_json:
        typer.echo(to_json(card_record(card, layout)), nl=False)
    else:
        print_card(card, layout, shown or kept.units, console())


def _kept(folder: Path, stated: Path | None, shop: Path | None) -> _Kept:
    """A job that was made, put together again from its record and the patterns it came from.

    Raises:
        UsageError: There is no job, a pattern is not found, or is not what the job was made from.
    """
    from scalegen.errors import UsageError
    from scalegen.pipeline import study_pattern
    from scalegen.rehearsal import cut_stages, layouts_of, pattern_file, require_same, spec_of, tabs_of
    from scalegen.report.record import read_job

    record = read_job(folder)
    lots = record.get("lots") or [record]
    if len(lots) > 1 and stated is not None:
        raise UsageError(
            f"this job has {len(lots)} patterns",
            where="--pattern",
            remedy="leave it out, and keep the pattern files in the folders above the job",
        )
    spec, layouts = spec_of(record, folder), layouts_of(record, folder)
    studies = []
    for lot in lots:
        own = {**record, **lot}
        file = pattern_file(own, folder, stated)
        studies.append(study_pattern(file, spec, shop))
        require_same(own, studies[-1], spec, file, folder)
    return _Kept(
        study=studies[0],
        others=tuple(studies[1:]),
        layouts=layouts,
        spec=spec,
        stages=cut_stages(record, folder),
        tabs=tabs_of(record, folder),
    )


def _sheet_index(text: str | None, layouts: "Sequence[SheetLayout]") -> int | None:
    from scalegen.errors import UsageError
    from scalegen.units import describe

    if text is None:
        return None
    typed = text.strip().lower()
    for index, layout in enumerate(layouts):
        if typed in {str(index + 1), layout.name.lower()}:
            return index
    many = len(layouts)
    raise UsageError(
        f"there is no sheet {describe(text)}; the job has {many}",
        where="--sheet",
        remedy="give 1, or leave it out" if many == 1 else f"give a number from 1 to {many}",
    )


def _place(text: str, layout: "SheetLayout", units: "Units") -> tuple[float, float]:
    """A place typed from the origin corner, in the sheet frame.

    Raises:
        UsageError: It is not two lengths, or lies off the sheet.
    """
    from scalegen.errors import UsageError
    from scalegen.option_values import length_option
    from scalegen.units import describe, format_length

    parts = [part.strip() for part in text.split(";" if ";" in text else ",")]
    if len(parts) != len(layout.origin_mm) or not all(parts):
        raise UsageError(
            f"{describe(text)} is not a place",
            where="--at",
            remedy='put a comma between x and y, such as "40,25" or "1.5in,1in"; decimals take a point',
        )
    x, y = (length_option(part, units, "--at", least_mm=-math.inf) for part in parts)
    zero_x, zero_y = layout.origin_mm
    place = (x + zero_x, y + zero_y)
    slack = 1e-6
    if not (-slack <= place[0] <= layout.length_mm + slack and -slack <= place[1] <= layout.width_mm + slack):
        low = layout.to_origin_frame(0.0, 0.0)
        high = layout.to_origin_frame(layout.length_mm, layout.width_mm)
        spans = [
            f"{axis} from {format_length(a, units)} to {format_length(b, units)}"
            for axis, a, b in zip("xy", low, high, strict=True)
        ]
        raise UsageError(
            f"x = {format_length(x, units)}, y = {format_length(y, units)} is off the sheet",
            where="--at",
            remedy=f"give {' and '.join(spans)}, counted from its {layout.origin} corner",
        )
    return min(max(place[0], 0.0), layout.length_mm), min(max(place[1], 0.0), layout.width_mm)
