"""What a draped body says when its edge does not fit."""

import math
from pathlib import Path

import pytest

from scalegen.design import design
from scalegen.errors import GeometryError
from scalegen.form.draped import draped_plan
from scalegen.model import Crown, Edge, Face, Front, OutlineSource, Pattern
from scalegen.outline.ring import Ring
from scalegen.shop import load_shop, resolve_stack

SHOP = load_shop(None)
BOX = Ring.from_rows([[0, -15], [120, -15], [120, 15], [0, 15]])
GROWING = Edge(treatment="round", size_mm=6.0, spine=((30.0, 2.0), (80.0, 6.0)), belly=((60.0, 2.0),))


@pytest.mark.parametrize(
    ("edge", "words"),
    [
        (GROWING, "round-over of up to 6 mm and 0.25 mm of wall under it goes through"),
        (Edge(treatment="round", size_mm=5.5), "round-over of 5.5 mm goes through"),
        (
            Edge(treatment="chamfer", size_mm=5.0),
            "chamfer of 5 mm and the trim allowance of 0.8 mm goes through",
        ),
    ],
)
def test_an_edge_that_goes_through_is_told_as_it_was_stated(edge: Edge, words: str) -> None:
    """The size in the message must be the pattern's own, what else the wall must hold told beside it."""
    pattern = Pattern(
        name="through",
        title="through",
        units="mm",
        path=Path("through.toml"),
        outline=OutlineSource(),
        tang_mm=4.0,
        front=Front(at_mm=20.0, angle_rad=math.pi / 2),
        thickness_mm=6.0,
        edge=edge,
        face=Face(crown=Crown(height_mm=1.0)),
        trim_mm=0.8,
        back_allowance_mm=0.0,
        pins=(),
    )
    scale = design(pattern, BOX, resolve_stack(SHOP, "paper-six"), SHOP)
    with pytest.raises(GeometryError, match=words) as caught:
        draped_plan(scale, finished=False)
    assert caught.value.where == "scale.edge"
