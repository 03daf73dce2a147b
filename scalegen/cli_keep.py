"""The command that keeps what a job left over."""

from pathlib import Path
from typing import Annotated

import typer

from scalegen.cli_jobs import AsJson


def keep(
    job: Annotated[
        Path, typer.Argument(metavar="JOB", help="Job folder, such as out/siskin.", show_default=False)
    ],
    *,
    sheet: Annotated[
        int | None, typer.Option(metavar="N", help="Only this sheet of the job, from 1; else all.")
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

    kept = keep_left_over(job, shop, sheet=sheet, again=again)
    if as_json:
        typer.echo(to_json(keeping_record(kept)), nl=False)
        return
    for line in keeping_lines(kept, units_of(read_job(job)["pattern"])):
        typer.echo(line)
