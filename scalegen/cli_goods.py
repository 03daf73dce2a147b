"""What ``show`` tells about a job beside its shape: how it is sanded, and which jobs there were."""

from pathlib import Path
from typing import Annotated

import typer

from scalegen.cli_jobs import AsJson, LengthsOption, shown_lengths


def show_finishing(
    job: Annotated[
        Path, typer.Argument(metavar="JOB", help="Job folder, such as out/siskin.", show_default=False)
    ],
    lengths: LengthsOption = None,
    as_json: AsJson = False,
) -> None:
    """The finishing plan of a job: grits for every surface, what they take off, and what is there."""
    from scalegen.errors import UsageError
    from scalegen.report.finishing_views import print_finishing
    from scalegen.report.record import read_job, to_json
    from scalegen.report.views import console

    shown = shown_lengths(lengths)
    record, remedy = read_job(job), 'make the job again with "scalegen make"'
    plan = record.get("finishing")
    if plan is None:
        raise UsageError("this job has no finishing plan", where=str(job), remedy=remedy)
    if as_json:
        typer.echo(to_json(plan), nl=False)
        return
    try:
        print_finishing(plan, shown or record["pattern"]["units"], console())
    except (AttributeError, IndexError, KeyError, TypeError, ValueError) as error:
        raise UsageError("the job record is damaged", where=str(job), remedy=remedy) from error
