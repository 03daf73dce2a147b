"""What ``show`` tells about a job beside its shape: how it is sanded, and which jobs there were."""

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from scalegen.cli_jobs import AsJson, LengthsOption, shown_lengths

if TYPE_CHECKING:
    from scalegen.history import Entry
    from scalegen.model import JobSpec
    from scalegen.study import Study


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


def show_history(
    *,
    pattern: Annotated[
        str | None, typer.Option("--pattern", metavar="NAME", help="Only jobs of this pattern.")
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Folder that jobs go into; else out here, or beside the tables."),
    ] = None,
    lengths: LengthsOption = None,
    as_json: AsJson = False,
) -> None:
    """The jobs that were made here, the oldest first."""
    from scalegen.errors import UsageError
    from scalegen.history import HistoryError, entries, history_of, record_of
    from scalegen.report.history_views import print_history
    from scalegen.report.record import to_json
    from scalegen.report.views import console
    from scalegen.shop import find_shared

    shown = shown_lengths(lengths)
    file = history_of(Path("out"), find_shared(Path.cwd())) if out is None else history_of(out)
    try:
        jobs = [record_of(entry) for entry in entries(file, pattern)]
    except HistoryError as error:
        raise UsageError(str(error), remedy="jobs are not touched: each has its own job.json") from error
    if as_json:
        typer.echo(to_json(jobs), nl=False)
    elif jobs:
        print_history(jobs, shown or "mm", console())
    else:
        typer.echo(f'no jobs yet in {file}; "scalegen make" puts each job there')


def measured_before(study: "Study", spec: "JobSpec") -> "Entry | None":
    """The last job with a measured blank of the same stack, where this blank was not measured.

    A history that cannot be read is told, and is no reason to stop.
    """
    from scalegen.history import HistoryError, history_of, last_measured

    if spec.measured_mm:
        return None
    try:
        return last_measured(history_of(spec.out, study.shop.folder), study.scale.stack.name)
    except HistoryError as error:
        typer.echo(f"scalegen: note: {error}", err=True)
        return None


def tell_measured(entry: "Entry | None", study: "Study") -> None:
    """Print what was last measured, when there is something."""
    from scalegen.history import suggestion

    if entry is not None:
        typer.echo(f"note: {suggestion(entry, study.scale.pattern.units)}")


def keep_in_history(record: Mapping[str, Any], folder: Path, currency: str) -> None:
    """Put a job that was made into the history; what hinders that is told, and the job stands."""
    from datetime import UTC, datetime

    from scalegen.history import FILE, HistoryError, append, entry_of
    from scalegen.report.record import to_json

    now = datetime.now(UTC).astimezone()
    try:
        append(folder.parent / FILE, entry_of(record, folder, to_json(record), currency, now))
    except HistoryError as error:
        typer.echo(f"scalegen: note: {error}; the job itself is whole", err=True)
