"""What a job looks like: pictures drawn without a display, and a page to turn it about in. No kernel."""

from collections.abc import Callable, Iterator
from functools import cache

from scalegen.looks.page import page
from scalegen.looks.pictures import pictures
from scalegen.report.made import Made
from scalegen.solids.look import Looks

LOOKED_AT = frozenset({"pictures", "page"})
"""Formats that are made from meshes to look at."""

__all__ = ["LOOKED_AT", "looked_at"]


def looked_at(made: Made, looks: Looks) -> Iterator[tuple[str, Callable[[], bytes]]]:
    """The pictures and the page of a job, as its formats ask for them: file names, and what makes each.

    Args:
        made: The job.
        looks: Meshes of its pattern.
    """
    draws = dict(pictures(made.lots[0].scale, looks))
    if "page" in made.spec.formats:
        draws["preview.png"] = cache(draws["preview.png"])  # drawn once for both
    preview = draws["preview.png"]
    if "pictures" in made.spec.formats:
        yield from draws.items()
    if "page" in made.spec.formats:
        yield "view.html", lambda: page(made, looks, preview())
