"""The DXF writer's manners: layers, units stated, arcs kept, faults named."""

import os
import subprocess
import sys
from math import pi
from pathlib import Path

import numpy as np
import pytest
from ezdxf._options import options
from ezdxf.filemanagement import readfile

from scalegen.errors import WriteError
from scalegen.export.dxf import (
    LAYERS,
    ChainShape,
    CircleShape,
    CrossShape,
    Drawing,
    RectangleShape,
    RingShape,
    Shape2D,
    TextShape,
    write_dxf,
)
from scalegen.model import Units
from scalegen.outline.ring import Ring

SLOT = Ring.from_rows([[0, 0, 0], [40, 0, 1], [40, 10, 0], [0, 10, 1]])
ALL: dict[str, list[Shape2D]] = {
    "outline-as-cut": [RingShape(ring=SLOT)],
    "front-edge": [ChainShape(rows=np.array([[0.0, 0.0, 0.2], [0.0, 10.0, 0.0]]))],
    "pin-holes": [CircleShape(center_mm=(10.0, 5.0), diameter_mm=3.2639)],
    "blank": [RectangleShape(corner_mm=(-20.0, -20.0), width_mm=100.0, height_mm=60.0)],
    "origin": [CrossShape(at_mm=(-20.0, -20.0))],
    "labels": [TextShape(text="1L straße\n12° 木", at_mm=(5.0, 2.0), angle_rad=pi / 6)],
}


def write(path: Path, units: Units = "mm", layers: dict[str, list[Shape2D]] | None = None) -> Path:
    """One of each shape, or the layers given, as a file."""
    write_dxf(path, Drawing(units=units, layers=ALL if layers is None else layers))
    return path


@pytest.mark.parametrize(
    ("units", "code", "measurement", "word"), [("mm", 4, 1, "mm"), ("in", 1, 0, "inches")]
)
def test_unit_is_stated_three_times(
    tmp_path: Path, units: Units, code: int, measurement: int, word: str
) -> None:
    """$INSUNITS (DXF reference: 1 inch, 4 mm), $MEASUREMENT (0 imperial, 1 metric) and a text must agree."""
    document = readfile(write(tmp_path / "a.dxf", units))
    assert document.dxfversion == "AC1015"
    assert document.header["$INSUNITS"] == code
    assert document.header["$MEASUREMENT"] == measurement
    assert f"all sizes in {word}" in [t.dxf.text for t in document.modelspace().query("TEXT")]


def test_audit_is_clean_and_layers_are_there(tmp_path: Path) -> None:
    """The audit of ezdxf must find nothing, and every layer must be there even when empty."""
    document = readfile(write(tmp_path / "a.dxf"))
    auditor = document.audit()
    assert (auditor.errors, auditor.fixes) == ([], [])
    assert set(LAYERS) <= {layer.dxf.name for layer in document.layers}
    used = {entity.dxf.layer for entity in document.modelspace()}
    assert used == set(ALL)


def test_arcs_stay_arcs(tmp_path: Path) -> None:
    """Bulges must come back to the last digit in mm, and unscaled in inches."""
    cases: tuple[tuple[Units, float], ...] = (("mm", 1.0), ("in", 1 / 25.4))
    for units, scale in cases:
        space = readfile(write(tmp_path / "a.dxf", units)).modelspace()
        line = space.query('LWPOLYLINE[layer=="outline-as-cut"]').first
        assert line is not None
        assert line.closed
        expected = SLOT.rows * [scale, scale, 1.0]
        np.testing.assert_allclose(np.array(line.get_points("xyb")), expected, rtol=0, atol=1e-13)
        front = space.query('LWPOLYLINE[layer=="front-edge"]').first
        assert front is not None
        assert not front.closed


def test_text_with_letters_beyond_ascii(tmp_path: Path) -> None:
    """A text must come back on one line, letters whole, at its angle; rare letters as codes."""
    space = readfile(write(tmp_path / "a.dxf")).modelspace()
    label = next(t for t in space.query("TEXT") if t.dxf.text.startswith("1L"))
    assert label.dxf.text == "1L straße 12° \\U+6728"
    assert label.dxf.rotation == pytest.approx(30.0)


def test_same_bytes_in_every_process(tmp_path: Path) -> None:
    """Other hash seeds or a second call must not change a byte; the kernel must not be loaded."""
    code = (
        "import sys; from pathlib import Path; from scalegen.export.dxf import *;"
        "from scalegen.outline.ring import Ring; r = Ring.from_rows([[0,0,0],[40,0,1],[40,10,0],[0,10,1]]);"
        "d = Drawing(units='mm', layers={'blank': [RingShape(ring=r)],"
        " 'labels': [TextShape(text='1L', at_mm=(1.0, 2.0))]});"
        "write_dxf(Path(sys.argv[1]) / 'a.dxf', d); write_dxf(Path(sys.argv[1]) / 'b.dxf', d);"
        "assert 'OCP' not in sys.modules, 'a drawing needs no kernel'"
    )
    seen = set()
    for seed in ("1", "22"):
        env = {**os.environ, "PYTHONHASHSEED": seed}
        subprocess.run([sys.executable, "-c", code, str(tmp_path)], env=env, check=True)
        seen |= {(tmp_path / name).read_bytes() for name in ("a.dxf", "b.dxf")}
    assert len(seen) == 1
    assert b"\r" not in next(iter(seen))


def test_option_of_the_process_is_put_back(tmp_path: Path) -> None:
    """The constant dates asked of ezdxf must not stay on for others."""
    assert options.write_fixed_meta_data_for_testing is False
    write(tmp_path / "a.dxf")
    assert options.write_fixed_meta_data_for_testing is False


@pytest.mark.parametrize(
    ("layers", "words"),
    [
        ({"outlines": ALL["blank"]}, "no drawing layer 'outlines'"),
        ({"blank": []}, "nothing to draw"),
        ({"pin-holes": [CircleShape(center_mm=(0.0, 0.0), diameter_mm=0.0)]}, r"pin-holes\[0\]"),
        ({"pin-holes": [CircleShape(center_mm=(float("nan"), 0.0), diameter_mm=1.0)]}, "not a number"),
        ({"front-edge": [ChainShape(rows=np.zeros((1, 3)))]}, r"front-edge\[0\]"),
    ],
)
def test_senseless_drawings_are_refused(tmp_path: Path, layers: dict[str, list[Shape2D]], words: str) -> None:
    """A drawing that cannot be meant must be refused by name and leave no file."""
    with pytest.raises(WriteError, match=words):
        write(tmp_path / "a.dxf", layers=layers)
    assert list(tmp_path.iterdir()) == []
