"""Tables and a progress display for people at a terminal."""

import os
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from scalegen.model import Finding, Lengths
from scalegen.report.tables import print_findings
from scalegen.units import bare_length, format_length, unit_word

_PIPE_COLUMNS = 120

CAUTION = (
    "Dust, epoxy and fast cutters can harm you: extract and wear a mask, gloves for epoxy and none near a "
    "cutter, eye and hearing protection. Local law, your safety data sheets and machine manual come first."
)


def console() -> Console:
    """A console on standard output; a fixed width where that is not a terminal."""
    if sys.stdout.isatty() or os.environ.get("COLUMNS"):
        return Console(highlight=False)
    return Console(width=_PIPE_COLUMNS, highlight=False)


def sizes_in(units: Lengths) -> Callable[[float, int], str]:
    """How lengths are shown: with so many decimals in mm, and one more in inches."""
    return lambda mm, digits: format_length(mm, units, digits + (units == "in"))


@contextmanager
def step_display(name: str, *, quiet: bool) -> Iterator[Callable[[str], None]]:
    """A line on standard error that says what is being done; nothing when quiet or not at a terminal."""
    if quiet or not sys.stderr.isatty():
        yield lambda _: None
        return
    status = Console(stderr=True, highlight=False).status(f"{name}: starting")
    with status:
        yield lambda step: status.update(Text(f"{name}: {step}"))


def print_study(
    record: Mapping[str, Any], findings: Sequence[Finding], out: Console, lengths: Lengths | None = None
) -> None:
    """Print every number of a pattern, with lengths as asked for, else in the pattern's unit."""
    units: Lengths = lengths or record["pattern"]["units"]
    out.print(Text(record["pattern"]["title"], style="bold"))
    out.print(sizes_table(record, units))
    if record["pins"]:
        out.print(pins_table(record, units))
    print_findings(findings, out)


def sizes_table(record: Mapping[str, Any], units: Lengths) -> Table:
    """The sizes of a scale, its blank and its layers."""
    table = Table(title="Scale", title_justify="left", show_header=False)
    table.add_column("what")
    table.add_column("value", overflow="fold")
    for what, value in _sizes(record, units):
        table.add_row(Text(what), Text(value))
    return table


def print_blank(blank: Mapping[str, Any] | None, units: Lengths, out: Console) -> None:
    """Print what readings and tables tell of a blank, and what facing leaves of it."""
    table = Table(title="Blank", title_justify="left", show_header=False)
    table.add_column("what", overflow="fold")
    table.add_column("value", overflow="fold")
    for what, value in _blank(blank, sizes_in(units)):
        table.add_row(Text(what), Text(value))
    if table.row_count:
        out.print(table)


def _blank(blank: Mapping[str, Any] | None, size: Callable[[float, int], str]) -> Iterator[tuple[str, str]]:
    """How the blank stands to the tables, how it tapers, how much is faced off and what that leaves."""
    if blank is None:
        return
    off, plane, bond = (blank.get(key) for key in ("off_nominal_mm", "plane", "bond_mm"))
    worst, likely = size(blank["worst_case_mm"], 3), size(blank["root_sum_square_mm"], 3)
    by_readings = "not measured" if off is None else f"{size(off, 3)} off the tables on average"
    tolerances = f"tolerances allow ±{worst} at worst, ±{likely} likely (root of the sum of squares)"
    yield "blank", f"{by_readings}; {tolerances}"
    if plane is not None:
        along, across = (size(plane[key], 3) for key in ("along_x_mm_per_100_mm", "across_y_mm_per_100_mm"))
        yield (
            "taper of the blank",
            f"{along} along and {across} across, for every 100 mm; sound to {size(plane['rms_mm'], 3)}",
        )
    if bond is not None:
        film = size(blank["film_mm"], 3)
        yield "bond line", f"{size(bond, 3)} by sheets and blank as measured; by the tables {film}"
    if blank.get("faced_mm"):
        yield "faced off", _faced_words(blank, size)
    for layer in blank.get("layers_left", ()):
        if layer["kind"] == "bond":
            continue
        least, most = (size(layer[key], 3) for key in ("least_left_mm", "most_left_mm"))
        left = least if least == most else f"{least} to {most}"
        yield f"left of {layer['name']}", f"{left} of {size(layer['bonded_mm'], 3)}"


def _faced_words(blank: Mapping[str, Any], size: Callable[[float, int], str]) -> str:
    """How much is faced off over the blank, and whether there is enough everywhere."""
    least_mm, most_mm = blank["faced_mm"]["least"], blank["faced_mm"]["most"]
    least, most = (size(max(each, 0.0), 3) for each in (least_mm, most_mm))
    faced = least if least == most else f"{least} to {most}"
    if blank["enough_everywhere"]:
        return f"{faced} over the blank; the finished thickness can be had everywhere"
    lacking = size(-least_mm, 3)
    if blank["readings"]:
        return f"{faced} over the blank; where it is thinnest {lacking} is lacking"
    return f"{faced} over the blank; {lacking} could be lacking, the tolerances allow it"


_REVEALED = {
    "front": "behind the front",
    "edge": "inside the outline, in the edge",
    "face": "beside the crown line, in the face",
}


def _revealed(reveal: Mapping[str, Any], size: Callable[[float, int], str]) -> str:
    """Where a boundary between layers shows."""
    least, most = (size(reveal[key], 2) for key in ("least_mm", "most_mm"))
    away = least if least == most else f"{least} to {most}"
    return f"shows {away} {_REVEALED[reveal['place']]}"


def _sizes(record: Mapping[str, Any], units: Lengths) -> Iterator[tuple[str, str]]:
    """What the table of sizes says, row by row."""
    pattern, scale, stack = record["pattern"], record["scale"], record["stack"]
    size = sizes_in(units)
    layers = [f"{layer['name']} ({size(layer['thickness_mm'], 3)})" for layer in stack["layers"]]
    yield "stack, back to face", ", ".join(layers)
    measured = ", ".join(size(value, 2) for value in stack["measured_mm"])
    used, nominal = size(stack["used_mm"], 3), size(stack["nominal_mm"], 3)
    if measured:
        yield "stack thickness", f"{used}, the smallest of {measured}; by the tables {nominal}"
    else:
        yield "stack thickness", f"{used} by the tables; not measured"
    yield from _blank(record.get("blank"), size)
    back, trim = pattern["back_allowance_mm"], pattern["trim_mm"]
    yield "finished thickness", size(scale["thickness_mm"], 3)
    yield (
        "left to take off",
        f"{size(trim, 2)} outside the outline, {size(back, 2) if back else 'nothing'} at the back",
    )
    yield "front", _front_words(record, units)
    for each in scale["reveals"]:
        yield f"{each['over']} over {each['under']}", _revealed(each, size)
    yield "face", _face_words(pattern["face"], size)
    relief = pattern["relief"]
    if relief is not None:
        cutter = f"{relief['cutter']} cutter of {size(relief['width_mm'], 2)}"
        cut = f"{size(relief['depth_mm'], 2)} deep, every {size(relief['pitch_mm'], 2)}"
        yield "grooves", f"{relief['lines']}, {cutter}, {cut}"
    if pattern["liner"] is not None:
        yield "liner", _liner_words(pattern["liner"], size)
    yield "edge", _edge_words(pattern["edge"], size)
    area_unit, mm2 = ("cm2", 100.0) if units == "mm" else ("in2", 25.4**2)
    volume_unit, mm3 = ("cm3", 1000.0) if units == "mm" else ("in3", 25.4**3)
    areas = [f"{scale[key] / mm2:.2f} {area_unit}" for key in ("finished_area_mm2", "as_cut_area_mm2")]
    yield "area", f"finished {areas[0]}, as cut {areas[1]}"
    if scale["finished_volume_mm3"] is not None:
        keys = ("finished_volume_mm3", "as_cut_volume_mm3")
        volumes = [f"{scale[key] / mm3:.3f} {volume_unit}" for key in keys]
        yield "volume of one scale", f"finished {volumes[0]}, as cut {volumes[1]}"
    yield from _pin_heights(record, size)


def _face_words(face: Mapping[str, Any], size: Callable[[float, int], str]) -> str:
    """The outer side in a few words."""
    crown, words = face["crown"], []
    if crown is not None:
        lower = f"{size(crown['height_mm'], 2)} lower at the widest place"
        words.append(f"crown of radius {size(crown['radius_mm'], 1)}, {lower}")
    if face["swell_mm"]:
        words.append(f"swell, thickness at x: {_along(face['swell_mm'], size)}")
    return "; ".join(words) or "flat"


def _liner_words(liner: Mapping[str, Any], size: Callable[[float, int], str]) -> str:
    """Layers at the back with an outline of their own in a few words."""
    step_mm, up = liner["step_mm"], f"up to {size(liner['up_to_mm'], 2)} from the back"
    if step_mm > 0:
        return f"stands {size(step_mm, 2)} proud of tang and face, {up}"
    return f"set in by {size(-step_mm, 2)}, {up}"


def _edge_words(edge: Mapping[str, Any], size: Callable[[float, int], str]) -> str:
    """The edge treatment in a few words."""
    if edge["treatment"] == "square":
        return "square"
    if not edge["spine_mm"]:
        return f"{edge['treatment']}, {size(edge['size_mm'], 2)}"
    sides = [f"{side} at x: {_along(edge[f'{side}_mm'], size)}" for side in ("spine", "belly")]
    return f"{edge['treatment']}, changing; {'; '.join(sides)}"


def _along(stations: Sequence[Sequence[float]], size: Callable[[float, int], str]) -> str:
    return ", ".join(f"{size(x, 1)}: {size(value, 2)}" for x, value in stations)


def _front_words(record: Mapping[str, Any], units: Lengths) -> str:
    """The front in a few words: where, how it runs, how it is finished."""
    front, size = record["pattern"]["front"], sizes_in(units)
    run = size(record["scale"]["bevel_run_mm"], 2)
    over = f", rounded over with {size(front['top_radius_mm'], 2)}" if front["top_radius_mm"] else ""
    treatment = {
        "bevel": f"bevel of {front['slope_deg']:g}°, land {size(front['land_mm'], 2)}, runs back {run}{over}",
        "round": f"round, {size(front['radius_mm'], 2)}",
        "square": "square",
    }[front["treatment"]]
    curve = f", {front['arc_shape']} arc of {size(front['arc_mm'], 2)}" if front["arc_mm"] else ""
    ahead = f", {size(front['allowance_mm'], 2)} left ahead of it" if front["allowance_mm"] else ""
    return f"at x = {size(front['at_mm'], 2)}, {front['angle_deg']:g}°{curve}{ahead}; {treatment}"


def pins_table(record: Mapping[str, Any], units: Lengths) -> Table:
    """Where the pins stand, with hole, drill and length."""
    table = Table(title=f"Pins (sizes in {unit_word(units)})", title_justify="left")
    table.add_column("pin", justify="right")
    table.add_column("hardware", overflow="fold")
    for name in ("x", "y", "hole"):
        table.add_column(name, justify="right")
    table.add_column("drill")
    table.add_column("to edge", justify="right")
    table.add_column("cut to", justify="right")

    def bare(mm: float, digits: int) -> str:
        return bare_length(mm, units, digits + (units == "in"))

    for number, pin in enumerate(record["pins"], start=1):
        x, y = pin["at_mm"]
        table.add_row(
            str(number),
            Text(pin["hardware"]),
            bare(x, 2),
            bare(y, 2),
            bare(pin["hole_mm"], 3),
            Text(pin["drill"] or "mill it"),
            bare(pin["edge_distance_mm"], 2),
            bare(pin["cut_length_mm"], 2) if pin["cut_length_mm"] else "as is",
        )
    return table


def _pin_heights(record: Mapping[str, Any], size: Callable[[float, int], str]) -> Iterator[tuple[str, str]]:
    """Thickness at each pin, seats and ends; nothing where all pins go straight through a flat face."""
    pins, flat = record["pins"], not any(record["pattern"]["face"].values())
    for number, pin in enumerate(pins, start=1):
        words = [] if flat else [f"scale {size(pin['thickness_mm'], 2)} thick there"]
        if pin["head_hole_mm"]:
            words.append(f"recess {size(pin['head_hole_mm'], 2)} wide, seat {size(pin['seat_mm'], 2)} up")
        if pin["blind_end_mm"]:
            words.append(f"blind, ends {size(pin['blind_end_mm'], 2)} up")
        if words:
            yield f"pin {number}", "; ".join(words)
