"""The blank after every stage of a dry run as STL files, in mm, to hold against what lies on the machine."""

import re
from collections.abc import Iterator

import numpy as np

from scalegen.export.stl_bytes import stl_bytes
from scalegen.machining.dry_run import DryRun
from scalegen.machining.field_mesh import TOLERANCE_MM, field_mesh
from scalegen.sheet.layout import SheetLayout


def stage_file(sheet: str, number: int, stage: str) -> str:
    """Name of the file for a stage, such as "sheet-1-after-1-face-off.stl"."""
    words = re.sub(r"[^a-z0-9]+", "-", stage.lower()).strip("-")
    return f"{sheet}-after-{number}-{words}.stl"


def stage_meshes(
    run: DryRun, layout: SheetLayout, tolerance_mm: float = TOLERANCE_MM
) -> Iterator[tuple[str, bytes]]:
    """Every stage of a sheet as a file.

    Args:
        run: The sheet cut in thought.
        layout: The same sheet, for its name and its origin.
        tolerance_mm: How far heights may be off.

    Yields:
        Name and content; x and y count from the origin corner, z from the underside of the blank. A
        stage that leaves nothing is left out.
    """
    zero = np.array([*layout.origin_mm, 0.0])
    for number, shot in enumerate(run.shots, 1):
        if not (shot.field.heights_mm > 0).any():
            continue
        name = stage_file(layout.name, number, shot.name)
        mesh = field_mesh(shot.field, tolerance_mm)
        corners = (mesh.vertices - zero)[mesh.triangles]
        yield name, stl_bytes(corners, "mm", tolerance_mm=tolerance_mm, where=name)
