"""Hardware to look at: closed, the right way out, and as large as it is."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scalegen.design import Hole, Scale
from scalegen.looks.hardware import loose_hardware, set_hardware
from scalegen.model import JobSpec
from scalegen.solids.look import Shown
from scalegen.study import study_pattern

PROFILES = Path(__file__).parents[2] / "profiles"
AROUND = 48
POLYGON = AROUND / (2 * math.pi) * math.sin(2 * math.pi / AROUND)
"""Area of a regular polygon of as many corners by that of its circle."""


def harrier() -> Scale:
    """The demo with pins and a tube."""
    return study_pattern(PROFILES / "harrier.toml", JobSpec()).scale


def volume_mm3(shown: Shown) -> float:
    """Volume inside, by the divergence theorem."""
    a, b, c = (shown.vertices[shown.triangles[:, k]].astype(float) for k in range(3))
    return float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6)


def open_edges(shown: Shown) -> int:
    """Edges that are not used once each way, with corners told by their place."""
    places = {tuple(p): k for k, p in enumerate(np.unique(shown.vertices.round(4) + 0.0, axis=0).tolist())}
    rows = [places[tuple(p)] for p in (shown.vertices.round(4) + 0.0).tolist()]
    table = np.array(rows)[shown.triangles]
    edges = [(int(t[k]), int(t[(k + 1) % 3])) for t in table for k in range(3) if t[k] != t[(k + 1) % 3]]
    counted = {edge: edges.count(edge) for edge in set(edges)}
    return sum(counted[edge] != counted.get(edge[::-1]) for edge in counted)


def with_hole(scale: Scale, **change: object) -> Scale:
    """A scale with its first hole alone, changed."""
    hole: Hole = replace(scale.holes[0], **change)
    return replace(scale, holes=(hole,))


def test_pins_are_flush_with_both_faces() -> None:
    """A pin of a flat handle is a cylinder as wide as its hole from face to face (V = pi r2 h)."""
    scale = harrier()
    for hole, shown in zip(scale.holes, set_hardware(scale), strict=True):
        high = scale.pattern.tang_mm + 2 * scale.thickness_mm
        area = POLYGON * math.pi / 4 * (hole.hole_mm**2 - hole.hardware.bore_mm**2)
        assert volume_mm3(shown) == pytest.approx(area * high, rel=1e-5)
        assert np.ptp(shown.vertices[:, 2]) == pytest.approx(high, abs=1e-4)
        assert shown.color == hole.hardware.color


def test_loose_pieces_are_as_long_as_they_are_cut() -> None:
    """What lies beside the pair has its hardware's diameter and the length it is cut to."""
    scale = harrier()
    for hole, shown in zip(scale.holes, loose_hardware(scale), strict=True):
        assert np.ptp(shown.vertices[:, 2]) == pytest.approx(hole.cut_length_mm, abs=1e-5)
        assert np.hypot(*shown.vertices[:, :2].T).max() == pytest.approx(
            hole.hardware.diameter_mm / 2, abs=1e-5
        )


@pytest.mark.parametrize("kind", ["pin", "tube", "stepped", "blind"])
def test_hardware_is_closed_and_right_side_out(kind: str) -> None:
    """Every piece encloses a volume without a gap, and its normals point out of it."""
    scale = harrier()
    scale = {
        "pin": replace(scale, holes=scale.holes[:1]),
        "tube": replace(scale, holes=scale.holes[2:]),
        "stepped": with_hole(
            scale,
            head_hole_mm=6.1,
            seat_mm=4.0,
            hardware=replace(scale.holes[0].hardware, kind="stepped", head_mm=6.0, head_height_mm=2.0),
        ),
        "blind": with_hole(scale, end_mm=4.5, cut_length_mm=12.5),
    }[kind]
    for shown in (*set_hardware(scale), *loose_hardware(scale)):
        assert open_edges(shown) == 0
        assert volume_mm3(shown) > 0
        corners = shown.vertices[shown.triangles].astype(float)
        across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        assert (np.einsum("ij,ij->i", across, shown.normals[shown.triangles].mean(axis=1)) > 0).all()


def test_a_flush_head_ends_at_the_face() -> None:
    """A head as high as its recess is deep lies level with the face; a lower one lies deeper."""
    scale = harrier()
    hardware = replace(scale.holes[0].hardware, kind="stepped", head_mm=6.0, head_height_mm=1.5)
    sunk = with_hole(scale, head_hole_mm=6.1, seat_mm=4.0, hardware=hardware)
    (shown,) = set_hardware(sunk)
    assert shown.vertices[:, 2].max() == pytest.approx(scale.pattern.tang_mm / 2 + 5.5, abs=1e-5)
    flush = replace(hardware, head_height_mm=scale.thickness_mm - 4.0)
    (shown,) = set_hardware(with_hole(scale, head_hole_mm=6.1, seat_mm=4.0, hardware=flush))
    assert shown.vertices[:, 2].max() == pytest.approx(
        scale.pattern.tang_mm / 2 + scale.thickness_mm, abs=1e-4
    )
