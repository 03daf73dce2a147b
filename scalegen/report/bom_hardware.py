"""Pins, tubes and fasteners: rods to buy, and what to cut from them."""

import math
from collections import Counter
from collections.abc import Iterator, Sequence

from scalegen.design import BLIND_PLAY_MM, Hole
from scalegen.model import BomRow, Shop, Units
from scalegen.report.bom_rows import Part, priced, row, times
from scalegen.report.rods import RodPlan, fewest_rods, rods_words
from scalegen.units import format_length


def _pieces(parts: Sequence[Part]) -> dict[str, list[Hole]]:
    """Every pin of the job by the name of its hardware, in the patterns' order; one goes through a pair."""
    pieces: dict[str, list[Hole]] = {}
    for part in parts:
        for hole in part.scale.holes:
            pieces.setdefault(hole.hardware.name, []).extend([hole] * part.cut)
    return pieces


def hardware_rows(parts: Sequence[Part], shop: Shop) -> Iterator[BomRow]:
    """Rods and single pieces to buy."""
    units, kerf_mm = parts[0].scale.pattern.units, shop.rules.saw_kerf_mm
    for name, holes in _pieces(parts).items():
        hardware, number = holes[0].hardware, len(holes)
        lengths_mm = [hole.cut_length_mm for hole in holes]
        if hardware.length_mm <= 0:
            note = f"{hardware.material}, comes as single pieces, one for each hole of a pair"
            price = times(hardware.price, number)
            yield priced("hardware", name, (number, "piece"), note, price=price, details={"name": name})
            continue
        if max(lengths_mm, default=0.0) > hardware.length_mm + 1e-6:
            longest, rod = (format_length(each, units) for each in (max(lengths_mm), hardware.length_mm))
            note = f"cut to {longest}; a rod of {rod} is too short for that, find a longer one"
            yield row("hardware", name, (number, "piece"), note)
            continue
        plan = fewest_rods(lengths_mm, hardware.length_mm, kerf_mm)
        rods = len(plan.rods)
        note = f"{hardware.material}, {_rod_use(plan, hardware.length_mm, kerf_mm, units)}"
        price = times(hardware.price, rods)
        details = {
            "name": name,
            "rods_mm": [list(each) for each in plan.rods],
            "rod_mm": hardware.length_mm,
            "fewest_possible": plan.bound,
            "proven": plan.proven,
        }
        yield priced("hardware", name, (rods, "rod"), note, price=price, details=details)


def _rod_use(plan: RodPlan, rod_mm: float, kerf_mm: float, units: Units) -> str:
    """How much of the rods goes into pieces and between them, what is left, and whether fewer would do."""
    pieces = [piece for rod in plan.rods for piece in rod]
    taken_mm = math.fsum(pieces) + kerf_mm * (len(pieces) - len(plan.rods))
    left_mm = rod_mm * len(plan.rods) - taken_mm
    taken, left = (format_length(each, units, 2) for each in (taken_mm, left_mm))
    kerf, rod = format_length(kerf_mm, units), format_length(rod_mm, units)
    cut = rods_words(plan, [format_length(piece, units) for piece in pieces])
    fewer = "fewer cannot do" if plan.proven else f"{plan.bound} at least are needed"
    words = f"rods of {rod}; {taken} with saw cuts of {kerf} between pieces, {left} left over"
    return f"{words}; {cut}; {fewer}" if pieces else words


def cut_rows(parts: Sequence[Part]) -> Iterator[BomRow]:
    """How many pins and tubes to cut to which length; stepped fasteners come as they are."""
    units = parts[0].scale.pattern.units
    for name, holes in _pieces(parts).items():
        hardware = holes[0].hardware
        if hardware.kind == "stepped":
            continue
        for length_mm, number in Counter(round(hole.cut_length_mm, 6) for hole in holes).items():
            note = f"cut each to {format_length(length_mm, units)}"
            blind = any(hole.is_blind and abs(hole.cut_length_mm - length_mm) < 1e-5 for hole in holes)
            if blind:
                note += f" for a blind hole, {format_length(BLIND_PLAY_MM, units)} of play in it"
            elif hardware.end_allowance_mm > 0:
                note += f", with {format_length(hardware.end_allowance_mm, units)} at each end to take off"
            note += f"; {format_length(length_mm * number, units, 1 + (units == 'in'))} in all"
            details = {"length_mm": length_mm, "total_mm": length_mm * number}
            yield row("cut list", name, (number, "piece"), note, details=details)
