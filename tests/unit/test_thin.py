"""Layers at the thinnest place."""

import pytest

from scalegen.machining.thin import layers_at, thin_layers, tops_mm
from scalegen.model import Layer

LAYERS = tuple(
    Layer(name=kind, kind=kind, thickness_mm=thickness, density_g_cm3=1.0, color="#000000")
    for kind, thickness in (("liner", 1.0), ("bond", 0.1), ("face", 5.0))
)


def test_tops_add_up() -> None:
    """From the underside up."""
    assert tops_mm(LAYERS) == pytest.approx((1.0, 1.1, 6.1))


@pytest.mark.parametrize(
    ("lowest", "left"),
    [(9.0, (1.0, 0.1, 5.0)), (3.1, (1.0, 0.1, 2.0)), (0.4, (0.4, 0.0, 0.0)), (-1.0, (0.0, 0.0, 0.0))],
)
def test_what_is_left_lies_under_the_lowest_place(lowest: float, left: tuple[float, ...]) -> None:
    """Layers above it are gone, those below it whole."""
    found = thin_layers(LAYERS, lowest, 6.1)
    assert [layer.left_mm for layer in found] == pytest.approx(left)
    assert [layer.planned_mm for layer in found] == pytest.approx((1.0, 0.1, 5.0))


@pytest.mark.parametrize(
    ("total", "wanted"), [(7.0, (1.0, 0.1, 5.9)), (2.0, (1.0, 0.1, 0.9)), (0.5, (0.5, 0.0, 0.0))]
)
def test_the_top_layer_gives_way(total: float, wanted: tuple[float, ...]) -> None:
    """In a blank of another thickness the face differs, and when it is gone the layers below."""
    found = layers_at(LAYERS, total)
    assert [layer.thickness_mm for layer in found] == pytest.approx(wanted)
    assert sum(layer.thickness_mm for layer in found) == pytest.approx(total)
