"""The layers of the drawing and how deep each goes, for whoever sets the job up from it."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from scalegen.papers.document import Block, Columns, Group, Heading, Table, Text
from scalegen.papers.words import bare, listed, units_of
from scalegen.report.made import Made


def layers_part(made: Made) -> Iterator[Block]:
    """Depths of the drawing's layers, counted like those of the stages: Z is 0 on the pad, minus is down."""
    layers: list[Mapping[str, Any]] = made.record.get("dxf_layers") or []
    cut = [layer for layer in layers if layer["stages"]]
    if not cut:
        return
    units = units_of(made)
    differ = any(len(layer["patterns"]) < len(made.lots) for layer in cut)
    table = Table(
        heads=("layer", *(["knife"] if differ else []), f"from Z, {units}", f"to Z, {units}", "stages"),
        rows=tuple(
            (
                layer["layer"],
                *([_whose(layer, made)] if differ else []),
                bare(-layer["from_below_top_mm"], units),
                bare(-layer["to_below_top_mm"], units),
                _numbers(layer["stages"], made),
            )
            for layer in cut
        ),
        shares=(36, 26, 20, 20, 24) if differ else (36, 20, 20, 18),
        right=(2, 3) if differ else (1, 2),
        strong=(0, 3) if differ else (0, 2),
    )
    names = {layer["layer"] for layer in cut}
    others = [
        f"{layer['layer']} ({_whose(layer, made)})" if layer["layer"] in names else layer["layer"]
        for layer in layers
        if not layer["stages"]
    ]
    said = [Text(text="Z is 0 on the pad, minus is down; stages by their numbers under At the machine.")]
    if others:
        said.append(Text(text=f"Never cut along: {listed(others)}."))
    heading = Heading(text="Layers of the drawing (DXF)")
    if differ:
        yield Group(blocks=(heading, table, *said))
        return
    yield Group(blocks=(heading, Columns(columns=((table,), tuple(said)))))


def _whose(layer: Mapping[str, Any], made: Made) -> str:
    """The knives that a row is for."""
    whose: list[str] = layer["patterns"]
    return "all" if len(whose) == len(made.lots) else listed(whose)


def _numbers(names: Sequence[str], made: Made) -> str:
    """Numbers of the stages that bear such names, such as "2, 3"."""
    stages = [stage["name"] for stage in made.record["stages"]]
    return ", ".join(str(number) for number, name in enumerate(stages, 1) if name in names)
