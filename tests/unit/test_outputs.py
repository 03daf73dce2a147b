"""Which files a job has, and what stands where in each."""

from dataclasses import replace
from pathlib import Path

import pytest

from scalegen.export.content import check_parts, instance_matrix
from scalegen.export.outputs import PAD_COLOR, STOCK_COLOR, Output, outputs, pair_instances, sheet_instances
from scalegen.model import JobSpec
from scalegen.pipeline import Study, lay_out, study_pattern
from scalegen.sheet.layout import SheetLayout
from scalegen.solids.kernel import volume_mm3
from scalegen.solids.scales import ScaleSolids, scale_solids

HARRIER = Path(__file__).parents[2] / "profiles" / "harrier.toml"
SPEC = JobSpec(pairs=2, origin="upper-right", file_units="in", step_schema="AP242", stl_tolerance_mm=0.03)


@pytest.fixture(scope="module")
def made() -> tuple[Study, ScaleSolids, tuple[SheetLayout, ...]]:
    """A demo pattern, its solids, and the sheets of two pairs counted from the upper right corner."""
    study = study_pattern(HARRIER, SPEC)
    assert study.volumes is not None
    return study, scale_solids(study.scale, study.volumes), lay_out(study, SPEC)


@pytest.fixture(scope="module")
def files(made: tuple[Study, ScaleSolids, tuple[SheetLayout, ...]]) -> dict[str, Output]:
    """All files of the job, by name."""
    study, solids, layouts = made
    listed = list(outputs(study.scale, solids, layouts, SPEC))
    assert len({output.name for output in listed}) == len(listed)
    return {output.name: output for output in listed}


NAMES = {
    "step": ["pair", "left", "right", "finished"],
    "stl": ["left", "right"],
    "dxf": [],
}


@pytest.mark.parametrize("formats", [("step",), ("stl",), ("dxf",), ("dxf", "stl", "step"), ()])
def test_files_follow_the_formats(
    made: tuple[Study, ScaleSolids, tuple[SheetLayout, ...]], formats: tuple[str, ...]
) -> None:
    """Each format asked for must give its files of the pattern and of every sheet, and no others."""
    study, solids, layouts = made
    want = {f"harrier-{what}.{kind}" for kind in formats for what in NAMES[kind]}
    want |= {f"{sheet.name}.{kind}" for kind in formats for sheet in layouts}
    solid = [kind for kind in formats if kind != "dxf"]
    want |= {
        f"{sheet.name}-{what}.{kind}" for kind in solid for sheet in layouts for what in ("stock", "avoid")
    }
    got = list(outputs(study.scale, solids, layouts, replace(SPEC, formats=formats)))
    assert {output.name for output in got} == want
    assert all(output.name.endswith("." + output.format) for output in got)


def test_every_file_says_what_was_asked_for(files: dict[str, Output]) -> None:
    """Unit, schema and tolerance must reach each content, and parts and instances belong together."""
    for name, output in files.items():
        assert output.content.units == "in"
        assert output.content.product == name.rsplit(".", 1)[0]
        if output.format == "dxf":
            assert output.content.drawing is not None
            continue
        check_parts(output.content.parts, output.content.instances, where=name)
        if output.format == "step":
            assert output.content.step_schema == "AP242"
        else:
            assert output.content.tolerance_mm == 0.03


def test_layers_are_solids_in_step_and_one_in_stl(
    made: tuple[Study, ScaleSolids, tuple[SheetLayout, ...]], files: dict[str, Output]
) -> None:
    """STEP parts must hold each layer under its side's name; a mesh must hold the whole scale."""
    spans = made[0].scale.spans
    for side in ("left", "right"):
        (part,) = files[f"harrier-{side}.step"].content.parts
        assert [solid.name for solid in part.solids] == [f"{side} {span.name}" for span in spans]
        assert [solid.color for solid in part.solids] == [span.color for span in spans]
        (mesh,) = files[f"harrier-{side}.stl"].content.parts
        assert len(mesh.solids) == 1
        layers = sum(volume_mm3(solid.shape) for solid in part.solids)
        assert volume_mm3(mesh.solids[0].shape) == pytest.approx(layers, rel=1e-6)


def test_pair_stands_on_the_bed_apart(made: tuple[Study, ScaleSolids, tuple[SheetLayout, ...]]) -> None:
    """Both backs must lie at z = 0 with their allowance, and the right scale clear below the left."""
    scale = made[0].scale
    left, right = pair_instances(scale, "a", "b")
    _, y0, _, _ = scale.as_cut.bounds_mm
    assert left.z_mm == right.z_mm == scale.back_allowance_mm
    # Mirrored, the lowest point y0 of the left scale becomes the highest of the right one, at -y0.
    assert y0 - (right.y_mm - y0) == pytest.approx(10.0)
    assert (left.part, right.part) == ("a", "b")


def test_finished_pair_has_the_tang_between(
    made: tuple[Study, ScaleSolids, tuple[SheetLayout, ...]], files: dict[str, Output]
) -> None:
    """Left above, right turned over below, the tang about z = 0, all in their finished size."""
    scale, content = made[0].scale, files["harrier-finished.step"].content
    left, right, tang = content.instances
    half = scale.pattern.tang_mm / 2
    assert (left.z_mm, left.flipped, right.z_mm, right.flipped) == (half, False, -half, True)
    assert (tang.x_mm, tang.y_mm, tang.z_mm, tang.angle_rad, tang.flipped) == (0, 0, 0, 0, False)
    # Right is left mirrored in y; turned over about x it is left mirrored in z.
    assert instance_matrix(right)[:3, :3].tolist() == [[1, 0, 0], [0, -1, 0], [0, 0, -1]]
    finished = made[1].finished_left.volumes_mm3
    assert [volume_mm3(solid.shape) for solid in content.parts[0].solids] == pytest.approx(finished, rel=1e-6)


def test_sheet_counts_from_its_origin(
    made: tuple[Study, ScaleSolids, tuple[SheetLayout, ...]], files: dict[str, Output]
) -> None:
    """Scales, pad and stock box must all be in the frame of the origin asked for, the upper right corner."""
    study, _, (layout,) = made
    places = sheet_instances(layout, "left", "right", 0.1)
    for place, instance in zip(layout.placements, places, strict=True):
        assert instance.label == place.label
        assert instance.part == place.side
        assert instance.x_mm == pytest.approx(place.x_mm - layout.length_mm)
        assert instance.y_mm == pytest.approx(place.y_mm - layout.width_mm)
        assert (instance.angle_rad, instance.z_mm) == (place.angle_rad, 0.1)
    sheet, stock = files[f"{layout.name}.step"].content, files[f"{layout.name}-stock.step"].content
    tall = study.scale.stack.used_mm
    for part, color, corner, size in (
        (
            sheet.parts[-1],
            PAD_COLOR,
            (layout.pad.x_mm - layout.length_mm, layout.pad.y_mm - layout.width_mm),
            (layout.pad.w_mm, layout.pad.h_mm),
        ),
        (
            stock.parts[0],
            STOCK_COLOR,
            (-layout.length_mm, -layout.width_mm),
            (layout.length_mm, layout.width_mm),
        ),
    ):
        (solid,) = part.solids
        assert solid.color == color
        assert box_of(solid.shape) == pytest.approx(
            (*corner, 0.0, corner[0] + size[0], corner[1] + size[1], tall)
        )


def box_of(shape: object) -> tuple[float, ...]:
    """Smallest box of a shape, exact, by the kernel."""
    from OCP.Bnd import Bnd_Box
    from OCP.BRepBndLib import BRepBndLib

    box = Bnd_Box()
    BRepBndLib.AddOptimal_s(shape, box, False, False)
    low, high = box.CornerMin(), box.CornerMax()
    return (low.X(), low.Y(), low.Z(), high.X(), high.Y(), high.Z())
