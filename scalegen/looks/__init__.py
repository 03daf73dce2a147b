"""What a job looks like: pictures drawn without a display, and a page to turn it about in. No kernel."""

from collections.abc import Callable, Iterator, Sequence
from functools import cache

from scalegen.looks.page import page
from scalegen.looks.pictures import pictures
from scalegen.report.made import Made
from scalegen.solids.look import Looks

LOOKED_AT = frozenset({"pictures", "page"})
"""Formats that are made from meshes to look at."""

__all__ = ["LOOKED_AT", "looked_at"]


def looked_at(made: Made, looks: Sequence[Looks]) -> Iterator[tuple[str, Callable[[], bytes]]]:
    """The pictures and the page of a job, as its formats ask for them: file names, and what makes each.

    Pictures of several patterns have the pattern before their names; the page shows all.

    Args:
        made: The job.
        looks: Meshes of its patterns, in the order of its lots.
    """
    previews = []
    for lot, each in zip(made.lots, looks, strict=True):
        start = f"{lot.scale.pattern.name}-" if len(made.lots) > 1 else ""
        draws = dict(pictures(lot.scale, each))
        if "page" in made.spec.formats:
            draws["preview.png"] = cache(draws["preview.png"])  # drawn once for both
        previews.append(draws["preview.png"])
        if "pictures" in made.spec.formats:
            yield from ((f"{start}{name}", draw) for name, draw in draws.items())
    if "page" in made.spec.formats:
        yield "view.html", lambda: page(made, looks, [draw() for draw in previews])
