"""All solids of a pattern: layers by name and colour, left and right, the tang, and what is refused."""

from math import pi
from pathlib import Path

import pytest

from scalegen.model import JobSpec
from scalegen.pipeline import Study, study_pattern
from scalegen.solids.kernel import volume_mm3
from scalegen.solids.scales import STEEL_COLOR, ScaleSolids, scale_solids, tang_part

HARRIER = Path(__file__).parents[2] / "profiles" / "harrier.toml"


@pytest.fixture(scope="module")
def study() -> Study:
    """The pattern with a back allowance, a front allowance and a hole for a tube."""
    return study_pattern(HARRIER, JobSpec())


@pytest.fixture(scope="module")
def solids(study: Study) -> ScaleSolids:
    """Its solids."""
    assert study.volumes is not None
    return scale_solids(study.scale, study.volumes)


def test_layers_come_in_order_with_name_and_color(study: Study, solids: ScaleSolids) -> None:
    """Each body must have the scale's layers from back to face, under their names and colours."""
    want = [(span.name, span.color) for span in study.scale.spans]
    for body in (solids.as_cut_left, solids.as_cut_right, solids.finished_left, solids.finished_right):
        assert [(layer.name, layer.color) for layer in body.layers] == want


def test_stated_volumes_are_the_kernels(study: Study, solids: ScaleSolids) -> None:
    """The volumes a body states must be those of the study, and the kernel must find the same."""
    assert study.volumes is not None
    for body, named in (
        (solids.as_cut_right, study.volumes.as_cut_mm3),
        (solids.finished_right, study.volumes.finished_mm3),
    ):
        assert body.volumes_mm3 == tuple(named.values())
        assert [volume_mm3(layer.shape) for layer in body.layers] == pytest.approx(
            list(body.volumes_mm3), rel=1e-6
        )


def test_tang_is_the_drawn_outline_less_the_holes(study: Study) -> None:
    """The tang must be area less holes, times thickness."""
    scale = study.scale
    part = tang_part(scale)
    (steel,) = part.solids
    holes = sum(pi * hole.hole_mm**2 / 4 for hole in scale.holes)
    want = (scale.tang.area_mm2 - holes) * scale.pattern.tang_mm
    assert volume_mm3(steel.shape) == pytest.approx(want, rel=1e-9)
    assert (part.name, steel.color) == ("harrier-tang", STEEL_COLOR)
