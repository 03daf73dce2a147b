"""What several commands share: options of a job, and pattern or batch files into jobs."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from scalegen.model import JobSpec, Lengths
    from scalegen.options import Typed

LengthsOption = Annotated[
    str | None,
    typer.Option(
        "--lengths",
        metavar="mm|in|fraction",
        help="How lengths are shown; fraction is inches to 1/64 with the rest said; else the pattern's unit.",
    ),
]
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


def shown_lengths(text: str | None) -> "Lengths | None":
    """How lengths are to be shown; None where it was not said.

    Raises:
        UsageError: It is none of the words for it.
    """
    from typing import get_args

    from scalegen.model import Lengths
    from scalegen.option_values import word_option

    return None if text is None else word_option(text, get_args(Lengths), "--lengths")


def jobs_of(
    patterns: Sequence[Path], name: str | None = None, *, together: bool = False
) -> "tuple[tuple[Path, ...], JobSpec]":
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
    if len(paths) > 1 and (name or spec.job) and not (together or spec.together):
        raise UsageError(
            f"one job name for {len(paths)} patterns",
            where="--name",
            remedy="leave the name out: each pattern gets a folder of its own name; or cut them --together",
        )
    return paths, spec


def spec_of(
    base: "JobSpec", typed: "Typed", path: Path, shop: Path | None = None, names: Sequence[str] = ()
) -> "JobSpec":
    """The job for one pattern: options typed put over what it starts from, its remnant looked up.

    The ``names`` are those of all patterns in the job, where they are known.
    """
    from scalegen.options import merged
    from scalegen.pattern.read import read_pattern
    from scalegen.shop.from_remnant import with_remnant
    from scalegen.study import shop_for

    pattern = read_pattern(path)
    spec = counted(merged(base, typed, pattern.units), pattern.name, names)
    return spec if spec.remnant is None and not spec.rests else with_remnant(spec, shop_for(path, shop))


def counted(spec: "JobSpec", name: str, names: Sequence[str] = ()) -> "JobSpec":
    """A job with the numbers of pairs, spares and tabs that are meant for one pattern.

    Args:
        spec: The job, with numbers by name.
        name: The pattern's.
        names: Those of all patterns in the job, where they are known: their numbers are not mistyped.

    Raises:
        UsageError: Patterns have numbers of their own, and this one has none.
    """
    from dataclasses import replace

    from scalegen.errors import UsageError
    from scalegen.fields.words import closest

    pairs, spares = dict(spec.pairs_each), dict(spec.spares_each)
    if pairs and name not in pairs:
        typed = closest(name, [each for each in pairs if each not in names])
        hint = f'did you mean "{name}" where it says "{typed}"? else ' if typed else ""
        raise UsageError(
            f"it is not said how many pairs of {name}; there are numbers for {', '.join(pairs)}",
            where="pairs",
            remedy=f"{hint}add {name} with its number",
        )
    tabs = dict(spec.tabs_each).get(name, spec.tabs)
    return replace(spec, pairs=pairs.get(name, spec.pairs), spares=spares.get(name, spec.spares), tabs=tabs)


PAGES = ("view.html", "shop-sheet.html")
"""Pages of a job folder that a browser may open, the best first."""


def open_page(folder: Path) -> None:
    """Open a job's page in the browser of the machine.

    Raises:
        UsageError: The job has no page, or there is no browser.
    """
    import webbrowser

    from scalegen.errors import UsageError

    inside = folder.parent if folder.is_file() else folder
    page = next((inside / name for name in PAGES if (inside / name).is_file()), None)
    if page is None:
        raise UsageError(
            f"this job has no page to open: {' and '.join(PAGES)} are missing",
            where=str(inside),
            remedy="make it again without --formats, or with papers among them",
        )
    if not webbrowser.open(page.resolve().as_uri()):
        raise UsageError(
            "no browser was found on this machine",
            where=str(page),
            remedy="open this file in a browser yourself",
        )
