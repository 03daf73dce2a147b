"""The layers of the drawing and how deep each goes, for whoever sets the job up from it."""

from collections.abc import Iterator, Mapping
from typing import Any

from scalegen.papers.document import Block, Heading, Table, Text
from scalegen.papers.words import bare, listed, units_of
from scalegen.report.made import Made


def layers_part(made: Made) -> Iterator[Block]:
    """Depths of the drawing's layers, counted like those of the stages: Z is 0 on the pad, minus is down."""
    layers: list[Mapping[str, Any]] = made.record.get("dxf_layers") or []
    cut = [layer for layer in layers if layer["stages"]]
    if not cut:
        return
    units = units_of(made)
    yield Heading(text="Layers of the drawing (DXF)")
    yield Table(
        heads=("layer", "what it is", f"from Z, {units}", f"to Z, {units}", "stages"),
        rows=tuple(
            (
                layer["layer"],
                layer["what"],
                bare(-layer["from_below_top_mm"], units),
                bare(-layer["to_below_top_mm"], units),
                listed(layer["stages"]),
            )
            for layer in cut
        ),
        shares=(30, 46, 17, 17, 30),
        right=(2, 3),
        strong=(0, 3),
    )
    others = [layer["layer"] for layer in layers if layer not in cut]
    if others:
        yield Text(text=f"Never cut along: {listed(others)}.")
