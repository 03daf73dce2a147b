"""One scale as plain data: pattern, stack, blank, sizes, pins. Lengths in mm, angles in degrees."""

import math
from dataclasses import asdict
from typing import Any

from scalegen.design import Scale, edge_distance_mm
from scalegen.face import crown_height_mm
from scalegen.form.reveal import reveals
from scalegen.form.volumes import Volumes
from scalegen.outline.front import setback_mm
from scalegen.shop.blank import BlankReport
from scalegen.shop.facing import Facing

Data = dict[str, Any]


def pattern_record(scale: Scale) -> Data:
    """The pattern with every number resolved."""
    pattern, front = scale.pattern, scale.pattern.front
    return {
        "name": pattern.name,
        "title": pattern.title,
        "units": pattern.units,
        "file": pattern.path.name,
        "tang": {
            "thickness_mm": pattern.tang_mm,
            "outline": [list(map(float, row)) for row in scale.tang.rows],
        },
        "front": {
            "at_mm": front.at_mm,
            "angle_deg": math.degrees(front.angle_rad),
            "arc_mm": front.arc_mm,
            "arc_shape": front.arc_shape if front.arc_mm else None,
            "treatment": front.treatment,
            "slope_deg": math.degrees(front.slope_rad),
            "land_mm": front.land_mm,
            "top_radius_mm": front.top_radius_mm,
            "radius_mm": front.radius_mm,
            "allowance_mm": front.allowance_mm,
        },
        "thickness": "stack" if pattern.thickness_mm is None else pattern.thickness_mm,
        "face": face_record(scale),
        "relief": relief_record(scale),
        "liner": liner_record(scale),
        "edge": {
            "treatment": pattern.edge.treatment,
            "size_mm": pattern.edge.size_mm,
            "spine_mm": [list(station) for station in pattern.edge.spine],
            "belly_mm": [list(station) for station in pattern.edge.belly],
        },
        "trim_mm": pattern.trim_mm,
        "back_allowance_mm": pattern.back_allowance_mm,
        "stock": scale.stack.name,
    }


def relief_record(scale: Scale) -> Data | None:
    """Grooves in the face; None where there are none."""
    relief = scale.pattern.relief
    if relief is None:
        return None
    return {
        "lines": relief.lines,
        "angle_deg": math.degrees(relief.angle_rad),
        "pitch_mm": relief.pitch_mm,
        "depth_mm": relief.depth_mm,
        "width_mm": relief.width_mm,
        "cutter": relief.cutter,
        "margin_mm": relief.margin_mm,
    }


def liner_record(scale: Scale) -> Data | None:
    """Layers at the back with an outline of their own; None where there are none.

    ``sheets`` is None where all liners are meant.
    """
    liner, stepped = scale.pattern.liner, scale.stepped
    if liner is None or stepped is None:
        return None
    return {
        "step_mm": liner.step_mm,
        "sheets": liner.sheets,
        "up_to_mm": stepped.top_mm,
        "finished_area_mm2": stepped.finished.area_mm2,
        "as_cut_area_mm2": stepped.as_cut.area_mm2,
    }


def layer_records(scale: Scale) -> list[Data]:
    """Where each layer of a scale lies, from back to face, and how far its outline is off the scale's own."""
    return [
        {
            "name": span.name,
            "kind": span.kind,
            "from_mm": span.bottom_mm,
            "to_mm": span.top_mm,
            "step_mm": scale.step_mm(number),
        }
        for number, span in enumerate(scale.spans)
    ]


def face_record(scale: Scale) -> Data:
    """The outer side: crown and swell; None and an empty list where it has none."""
    face = scale.face
    crown = {
        "radius_mm": face.crown_mm,
        "height_mm": crown_height_mm(face, scale.finished),
        "through_mm": list(map(float, face.point)),
        "angle_deg": math.degrees(face.angle_rad),
    }
    return {
        "crown": crown if face.crown_mm else None,
        "swell_mm": [list(station) for station in scale.pattern.face.swell],
    }


def stack_record(scale: Scale) -> Data:
    """The blank: layers from back to face and what it measured."""
    stack = scale.stack
    return {
        "layers": [{"name": layer.name, "thickness_mm": layer.thickness_mm} for layer in stack.layers],
        "nominal_mm": stack.nominal_mm,
        "measured_mm": list(stack.measured_mm),
        "used_mm": stack.used_mm,
        "spread_mm": stack.spread_mm,
    }


def blank_record(blank: BlankReport | None, facing: Facing | None = None) -> Data | None:
    """What readings and tables tell of the blank; None when neither does.

    What only readings tell is None, and ``readings`` is 0, for a blank that was not measured. A face faced by
    less than 0 lacks as much.
    """
    tolerances = facing or blank
    if tolerances is None:
        return None
    return {
        "readings": blank.count if blank else 0,
        "mean_mm": blank.mean_mm if blank else None,
        "outliers": [k + 1 for k in blank.outliers] if blank else [],
        "used_without_outliers_mm": blank.used_without_outliers_mm if blank else None,
        "off_nominal_mm": blank.off_nominal_mm if blank else None,
        "worst_case_mm": tolerances.worst_case_mm,
        "root_sum_square_mm": tolerances.root_sum_square_mm,
        "plane": _plane_record(blank) if blank else None,
        "bond_mm": blank.bond_mm if blank else None,
        "film_mm": blank.film_mm if blank and blank.bond_lines else None,
        "faced_mm": {"least": facing.faced_least_mm, "most": facing.faced_most_mm} if facing else None,
        "enough_everywhere": facing.enough_everywhere if facing else None,
        "layers_left": [asdict(layer) for layer in facing.layers] if facing else [],
    }


def _plane_record(blank: BlankReport) -> Data | None:
    plane = blank.plane
    if plane is None:
        return None
    return {
        "at_mm": list(plane.middle_mm),
        "thickness_mm": plane.thickness_mm,
        "along_x_mm_per_100_mm": blank.along_x_mm_per_100_mm,
        "across_y_mm_per_100_mm": blank.across_y_mm_per_100_mm,
        "rms_mm": plane.rms_mm,
    }


def scale_record(scale: Scale, volumes: Volumes | None) -> Data:
    """Sizes of one scale; volumes are None where the shape can't be made."""
    front, top = scale.pattern.front, scale.thickness_mm
    run = setback_mm(front, top, top) if front.treatment == "bevel" else 0.0
    return {
        "thickness_mm": top,
        "finished_area_mm2": scale.finished.area_mm2,
        "as_cut_area_mm2": scale.as_cut.area_mm2,
        "finished_perimeter_mm": scale.finished.perimeter_mm,
        "finished_volume_mm3": sum(volumes.finished_mm3.values()) if volumes else None,
        "as_cut_volume_mm3": sum(volumes.as_cut_mm3.values()) if volumes else None,
        "layers": layer_records(scale),
        "layer_volumes_mm3": volumes.finished_mm3 if volumes else None,
        "bevel_run_mm": run,
        "reveals_mm": reveals_mm(scale),
        "reveals": reveal_records(scale) if volumes else [],
    }


def reveals_mm(scale: Scale) -> list[float]:
    """How far behind the front line each layer boundary shows in the front treatment, from back to face."""
    front, top = scale.pattern.front, scale.thickness_mm
    backs = (setback_mm(front, top, span.top_mm) for span in scale.spans[:-1])
    return [back for back in backs if back > 0]


def reveal_records(scale: Scale) -> list[Data]:
    """Every boundary between layers that shows: where, and how far from front, outline or crown line."""
    return [
        {
            "under": each.under,
            "over": each.over,
            "height_mm": each.z_mm,
            "place": each.place,
            "least_mm": each.least_mm,
            "most_mm": each.most_mm,
        }
        for each in reveals(scale)
    ]


def pin_records(scale: Scale) -> list[Data]:
    """Every hole with its drill, edge distance and the length of its pin."""
    return [
        {
            "at_mm": list(hole.at_mm),
            "hardware": hole.hardware.name,
            "hole_mm": hole.hole_mm,
            "drill": hole.drill.designation if hole.drill else None,
            "edge_distance_mm": edge_distance_mm(scale, hole),
            "cut_length_mm": hole.cut_length_mm,
            "thickness_mm": hole.thickness_mm,
            "head_hole_mm": hole.head_hole_mm or None,
            "seat_mm": hole.seat_mm if hole.head_hole_mm else None,
            "blind_end_mm": hole.end_mm if hole.is_blind else None,
        }
        for hole in scale.holes
    ]
