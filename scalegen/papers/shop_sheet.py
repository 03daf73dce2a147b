"""The paper at the machine and the bench, put together from its parts."""

from scalegen import __version__
from scalegen.model.words import Paper, Units
from scalegen.papers.bench_part import bench_part
from scalegen.papers.blank_part import blank_part
from scalegen.papers.caution_part import caution_part, finding_part
from scalegen.papers.document import Document
from scalegen.papers.layers_part import layers_part
from scalegen.papers.machine_part import machine_part
from scalegen.papers.words import units_of
from scalegen.report.made import Made

_UNIT_WORDS: dict[Units, str] = {"mm": "mm", "in": "inches"}


def paper_of(made: Made) -> Paper:
    """The size of paper asked for; else Letter where files or patterns are in inches, A4 elsewhere."""
    if made.spec.paper is not None:
        return made.spec.paper
    return "letter" if "in" in (made.spec.file_units, units_of(made)) else "a4"


def shop_sheet(made: Made) -> Document:
    """All that is read at the machine and at the bench.

    Args:
        made: The job.
    """
    titles = [lot.scale.pattern.title for lot in made.lots]
    return Document(
        title=" + ".join(titles),
        kind="Shop sheet",
        foot=f"job {made.name}, scalegen {__version__}; sizes in {_UNIT_WORDS[units_of(made)]}",
        paper=paper_of(made),
        blocks=(
            *blank_part(made),
            *machine_part(made),
            *bench_part(made),
            *caution_part(made),
            *finding_part(made),
            *layers_part(made),
        ),
    )
