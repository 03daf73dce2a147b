"""Papers of a job: the shop sheet for the machine and the bench, and the template to lay a tang on."""

from collections.abc import Iterator

from scalegen.papers.html import document_html
from scalegen.papers.pdf import document_pdf
from scalegen.papers.shop_sheet import paper_of, shop_sheet
from scalegen.papers.template import template_pdf, template_svg
from scalegen.papers.words import units_of
from scalegen.report.made import Made

__all__ = ("paper_files",)


def paper_files(made: Made) -> Iterator[tuple[str, bytes]]:
    """All papers of a job as files.

    Args:
        made: The job.

    Yields:
        Name and content.
    """
    sheet = shop_sheet(made)
    yield "shop-sheet.html", document_html(sheet).encode()
    yield "shop-sheet.pdf", document_pdf(sheet)
    scales = [lot.scale for lot in made.lots]
    yield "template.pdf", template_pdf(scales, units_of(made), paper_of(made))
    yield "template.svg", template_svg(scales, units_of(made)).encode()
