"""Writers by name, and whether parts and instances belong together."""

import subprocess
import sys
from math import pi, sqrt
from pathlib import Path

import numpy as np
import pytest

from scalegen.errors import WriteError
from scalegen.export import WRITERS, Content
from scalegen.export.content import check_parts, instance_matrix
from scalegen.solids.parts import Instance, Part, Solid


class Shape:
    """Stands in for a kernel shape: only asked whether it is empty."""

    def __init__(self, *, empty: bool = False) -> None:
        self.empty = empty

    def IsNull(self) -> bool:  # noqa: N802  (the kernel's spelling)
        """Whether there is nothing in it."""
        return self.empty


def part(name: str = "left", *solids: Solid) -> Part:
    """A part of one plain solid, or of those given."""
    return Part(name=name, solids=solids or (Solid(name="face", color="#336699", shape=Shape()),))


LEFT = Instance(part="left", label="1L")


def test_importing_the_room_loads_nothing_heavy() -> None:
    """The room, its job folders and its part-21 text must load neither kernel nor ezdxf nor shapely."""
    code = (
        "import sys, scalegen.export.files, scalegen.export.part21, scalegen.export.drawing;"
        "print([m for m in ('OCP', 'ezdxf', 'shapely') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize("name", ["step", "stl", "dxf"])
def test_every_writer_refuses_an_empty_content(name: str, tmp_path: Path) -> None:
    """Each format asked for nothing must say so and leave no file."""
    with pytest.raises(WriteError, match=r"nothing|no drawing"):
        WRITERS[name](tmp_path / f"x.{name}", Content(product="x"))
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("parts", "instances", "words"),
    [
        ([part()], [], "nothing to write"),
        ([part(), part()], [LEFT], "two parts"),
        ([part()], [LEFT, LEFT], "two instances"),
        ([part("right")], [LEFT], "not there"),
        ([Part(name="left", solids=())], [LEFT], "no solids"),
        ([part("left", Solid(name="a", color="red", shape=Shape()))], [LEFT], "color 'red'"),
        ([part("left", Solid(name="a", color="#00000g", shape=Shape()))], [LEFT], "#rrggbb"),
        ([part("left", Solid(name="a", color="#000000", shape=Shape(empty=True)))], [LEFT], "no shape"),
        ([part("left", Solid(name="a", color="#000000", shape=None))], [LEFT], "no shape"),
        ([part("left", *[Solid(name="a", color="#000000", shape=Shape())] * 2)], [LEFT], "two solids"),
    ],
)
def test_each_mismatch_is_named(parts: list[Part], instances: list[Instance], words: str) -> None:
    """Each way in which parts and instances can disagree must be refused by name."""
    with pytest.raises(WriteError, match=words):
        check_parts(parts, instances, where="x.step")


def test_fitting_parts_pass() -> None:
    """Parts and instances that belong together must pass."""
    check_parts([part()], [LEFT, Instance(part="left", label="2L")], where="x.step")


def test_instance_is_flipped_then_turned_then_moved() -> None:
    """Worked by hand: (1, 2, 3) flipped is (1, -2, -3); a quarter turn makes that (2, 1, -3); then moved."""
    instance = Instance(part="p", label="i", x_mm=10, y_mm=20, z_mm=30, angle_rad=pi / 2, flipped=True)
    assert (instance_matrix(instance) @ [1, 2, 3, 1]).tolist() == [12, 21, 27, 1]


def test_slanting_turn() -> None:
    """An eighth turn of the x axis must point along (1, 1) / sqrt 2."""
    turned = instance_matrix(Instance(part="p", label="i", angle_rad=pi / 4)) @ [1, 0, 0, 1]
    np.testing.assert_allclose(turned, [1 / sqrt(2), 1 / sqrt(2), 0, 1], atol=1e-15)
