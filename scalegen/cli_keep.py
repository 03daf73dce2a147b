"""The command that keeps what a job left over."""

import re
from pathlib import Path
from typing import Annotated

import typer

from scalegen.cli_jobs import AsJson

_WHOLE = re.compile(r"[+-]?[0-9]{1,9}")


def keep(
    job: Annotated[
        Path, typer.Argument(metavar="JOB", help="Job folder, such as out/siskin.", show_default=False)
    ],
    *,
    sheet: Annotated[
        str | None, typer.Option(metavar="N", help="Only this sheet of the job, from 1; else all.")
    ] = None,
    again: Annotated[
        bool, typer.Option("--again", help="The job was cut once more: keep its pieces once more.")
    ] = False,
    shop: Annotated[
        Path | None,
        typer.Option("--shop", metavar="DIR", help="Shop tables; else the nearest shared/ above the job."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Once a job is cut: write what it left over into the shop's table of remnants, under new numbers."""
    from scalegen.fields.place import units_of
    from scalegen.keeping import keep_left_over, keeping_lines, keeping_record
    from scalegen.report.record import read_job, to_json

    kept = keep_left_over(job, shop, sheet=_sheet_number(sheet), again=again)
    if as_json:
        typer.echo(to_json(keeping_record(kept)), nl=False)
        return
    for line in keeping_lines(kept, units_of(read_job(job)["pattern"])):
        typer.echo(line)


def _sheet_number(text: str | None) -> int | None:
    """The number of a sheet; whether the job has it is for the job to say.

    Raises:
        UsageError: It is no whole number.
    """
    from scalegen.errors import UsageError
    from scalegen.units import describe

    if text is None:
        return None
    if not _WHOLE.fullmatch(text.strip()):
        raise UsageError(
            f"{describe(text)} is not the number of a sheet",
            where="--sheet",
            remedy="write it in digits, from 1, such as --sheet 2; or leave it out: all sheets",
        )
    return int(text)
