"""A paper as one HTML file: nothing from outside, no scripts, made to be printed."""

import re
from functools import singledispatch
from html import escape

from scalegen.papers import document as doc
from scalegen.papers.pdf import MARGIN_MM
from scalegen.report.picture_svg import picture_svg

_STYLE = """
@page { size: %(wide)gmm %(high)gmm; margin: %(margin)gmm }
* { box-sizing: border-box }
body { font: 12pt/1.35 Verdana, 'DejaVu Sans', Arial, sans-serif; color: #111; background: #fff;
  max-width: 190mm; margin: 0 auto; padding: 4mm }
header { display: flex; justify-content: space-between; align-items: end; gap: 1em;
  border-bottom: 2px solid; margin-bottom: 3mm }
h1 { font-size: 22pt; line-height: 1.1; margin: 0 0 1mm } header p { font-size: 15pt; margin: 0 0 1mm }
h2 { font-size: 17pt; margin: 6mm 0 2mm } h3 { font-size: 14pt; margin: 5mm 0 1.5mm }
h2, h3, caption { break-after: avoid }
p { margin: 0 0 2mm }
.numbers { display: flex; flex-wrap: wrap; gap: 2mm; margin: 0 0 3mm }
.numbers div { border: 2px solid; padding: 1mm 2mm; flex: 1 1 30mm }
.numbers b { display: block; font-size: 22pt; line-height: 1.15; white-space: nowrap }
.numbers span { font-size: 11pt }
.scroll { overflow-x: auto; margin: 0 0 4mm }
table { border-collapse: collapse; width: 100%%; font-size: 11.5pt }
caption { text-align: left; font-weight: bold; padding-bottom: 1mm }
th, td { border: 1px solid #444; padding: 1mm 1.5mm; text-align: left }
th { background: #e8e8e8 } tr { break-inside: avoid }
td.right { text-align: right } td.strong { font-weight: bold } .high td { height: 10mm }
.tick { display: inline-block; width: 5mm; height: 5mm; border: 2px solid; flex: none }
.tickcell { width: 8mm; text-align: center }
ol { list-style: none; margin: 0 0 3mm; padding: 0 }
li { display: flex; gap: 3mm; border-bottom: 1px solid #999; padding: 1.5mm 0; break-inside: avoid }
li b { display: block; font-size: 13pt } li p { margin: 0 }
figure { margin: 0 0 3mm; break-inside: avoid; overflow-x: auto }
svg { max-width: 100%%; min-width: 150mm; height: auto; display: block }
.caution { border: 2px solid; padding: 1.5mm 2mm 1.5mm 15mm; margin: 0 0 2mm; break-inside: avoid;
  position: relative }
.caution::before { content: '!'; position: absolute; left: 2mm; top: 2mm; width: 10mm; height: 9mm;
  background: #111; color: #fff; clip-path: polygon(50%% 0, 100%% 100%%, 0 100%%); text-align: center;
  font: bold 15pt/12mm Arial, sans-serif; print-color-adjust: exact; -webkit-print-color-adjust: exact }
.columns { display: flex; flex-wrap: wrap; gap: 0 3mm; break-inside: avoid }
.columns > div { flex: 1 1 80mm; min-width: 0 } .columns svg { min-width: 0 }
.group { break-inside: avoid } .break { break-before: page }
footer { font-size: 10pt; border-top: 1px solid; margin-top: 5mm; padding-top: 1mm }
@media screen and (max-width: 500px) { body { padding: 3mm } header { display: block } }
@media print { body { padding: 0; max-width: none; font-size: 10.5pt } .scroll { overflow: visible }
  table, .caution { font-size: 10pt } li b { font-size: 11.5pt }
  th, td { padding: 0.5mm 1.2mm } .scroll { margin-bottom: 2.5mm }
  h2 { font-size: 15pt } h3 { font-size: 12.5pt } h2, h3 { margin-top: 3mm } .high td { height: 8mm }
  th { print-color-adjust: exact; -webkit-print-color-adjust: exact } }
"""


def document_html(paper: doc.Document) -> str:
    """Write a paper as HTML.

    Args:
        paper: What it says.

    Returns:
        One page that asks for nothing outside itself; the same paper gives the same text.
    """
    wide, high = doc.PAPER_MM[paper.paper]
    title = _text(f"{paper.title}: {paper.kind}")
    body = "\n".join(_element(block) for block in paper.blocks)
    text = [
        "<!DOCTYPE html>",
        '<html lang="en">',
        '<head><meta charset="utf-8"><meta name="viewport" content="width=device-width">',
        f"<title>{title}</title>",
        '<link rel="icon" href="data:,">',
        f"<style>{_STYLE % {'wide': wide, 'high': high, 'margin': MARGIN_MM}}</style></head>",
        f"<body><header><h1>{_text(paper.title)}</h1><p>{_text(paper.kind)}</p></header>",
        f"<main>\n{body}\n</main>",
        f"<footer>{_text(paper.foot)}</footer></body></html>",
    ]
    return _own_windows("\n".join(text)) + "\n"


def _text(text: str) -> str:
    clean = "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in text)
    return escape(clean, quote=True)


def _own_windows(text: str) -> str:
    """Give the window of each picture an id of its own."""
    parts = text.split("<svg ")
    named = [re.sub(r'(id="|url\(#)window', rf"\g<1>window-{k}", part) for k, part in enumerate(parts)]
    return "<svg ".join(named)


@singledispatch
def _element(block: doc.Block) -> str:
    raise TypeError(block)


@_element.register
def _(block: doc.Heading) -> str:
    return f"<h{block.level + 1}>{_text(block.text)}</h{block.level + 1}>"


@_element.register
def _(block: doc.Text) -> str:
    text = _text(block.text)
    return f"<p><strong>{text}</strong></p>" if block.strong else f"<p>{text}</p>"


@_element.register
def _(block: doc.Numbers) -> str:
    cells = "".join(
        f"<div><b>{_text(each.value)}</b><span>{_text(each.label)}</span></div>" for each in block.numbers
    )
    return f'<div class="numbers">{cells}</div>'


@_element.register
def _(block: doc.Table) -> str:
    tick = '<td class="tickcell"><span class="tick"></span></td>' if block.ticks else ""
    heads = ("<th></th>" if block.ticks else "") + "".join(f"<th>{_text(head)}</th>" for head in block.heads)
    rows = "".join(
        f"<tr>{tick}{''.join(_cell(block, k, text) for k, text in enumerate(row))}</tr>\n"
        for row in block.rows
    )
    kind = ' class="high"' if block.write_in else ""
    total = sum(block.shares)
    columns = '<col class="tickcell">' if block.ticks else ""
    columns += "".join(f'<col style="width: {100 * share / total:.1f}%">' for share in block.shares)
    title = f"<caption>{_text(block.title)}</caption>" if block.title else ""
    return (
        f'<div class="scroll"><table{kind}>{title}<colgroup>{columns}</colgroup>\n'
        f"<thead><tr>{heads}</tr></thead>\n"
        f"<tbody>{rows}</tbody></table></div>"
    )


def _cell(block: doc.Table, column: int, text: str) -> str:
    words = [word for word, where in (("right", block.right), ("strong", block.strong)) if column in where]
    kind = f' class="{" ".join(words)}"' if words else ""
    return f"<td{kind}>{_text(text)}</td>"


@_element.register
def _(block: doc.Steps) -> str:
    items = "\n".join(
        f'<li><span class="tick"></span><div><b>{step.number} {_text(step.title)}</b>'
        f"{''.join(f'<p>{_text(line)}</p>' for line in step.details)}</div></li>"
        for step in block.steps
    )
    return f"<ol>{items}</ol>"


@_element.register
def _(block: doc.Drawing) -> str:
    svg = picture_svg(block.picture).split("\n", 1)[1]
    label = f'role="img" aria-label="{_text(block.alt)}" '
    return f"<figure>{svg.replace('<svg ', f'<svg {label}', 1).strip()}</figure>"


@_element.register
def _(block: doc.Cautions) -> str:
    said = "".join(f"<p><b>{_text(each.title)}.</b> {_text(each.text)}</p>" for each in block.cautions)
    return f'<div class="caution">{said}<p><b>{_text(block.last)}</b></p></div>'


@_element.register
def _(block: doc.Columns) -> str:
    columns = ("".join(_element(each) for each in column) for column in block.columns)
    return f'<div class="columns">{"".join(f"<div>{each}</div>" for each in columns)}</div>'


@_element.register
def _(_block: doc.PageBreak) -> str:
    return '<div class="break"></div>'


@_element.register
def _(block: doc.Group) -> str:
    return f'<div class="group">{"".join(_element(each) for each in block.blocks)}</div>'
