"""What wears out, what is kept, and what keeps you safe: abrasives, cutters and drills, protection."""

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Final

from scalegen.design import Scale
from scalegen.machining.stages import Stage
from scalegen.model import BomRow, Shop
from scalegen.report.bom_rows import Part, priced, row, times
from scalegen.report.finishing import finishing_plan
from scalegen.units import format_area, format_length

LAW: Final = "local law, your safety data sheets and machine manuals come first"

_DUST: Final = {
    "glass": "glass fibre: NIOSH 5 mg/m3 total, or 3 fibres/cm3",
    "carbon": "carbon: irritates and conducts electricity, keep it out of controllers (OSHA, composites)",
    "phenolic": "phenolic, hot or freshly cut: formaldehyde, OSHA 0.75 ppm over 8 h (29 CFR 1910.1048)",
    "wood": "wood: NIOSH 1 mg/m3",
}
_WOODS: Final = (
    *("wood", "maple", "walnut", "oak", "ash", "birch", "beech", "olive", "ebony", "rosewood", "cedar"),
    *("cherry", "elm", "boxwood", "bamboo"),
)
_ANY_DUST: Final = "any dust: OSHA 15 mg/m3 total and 5 respirable over 8 h (29 CFR 1910.1000)"


def abrasive_rows(parts: Sequence[Part], shop: Shop) -> Iterator[BomRow]:
    """Paper by grade, for all surfaces of all patterns."""
    units = parts[0].scale.pattern.units
    worn: dict[str, float] = {}
    where: dict[str, dict[str, None]] = {}
    for part in parts:
        for paper in finishing_plan(part.scale, shop, part.cut, part.facing, part.ridge_mm).papers:
            worn[paper.grade] = worn.get(paper.grade, 0.0) + paper.paper_mm2
            where.setdefault(paper.grade, {}).update(dict.fromkeys(paper.surfaces))
    for grade in sorted(worn, key=lambda each: -shop.abrasives[each].grain_um):
        abrasive, area_mm2 = shop.abrasives[grade], worn[grade]
        note = f"for {', '.join(where[grade])}; {format_area(area_mm2, units)} of it wears out"
        details = {"name": grade, "paper_mm2": area_mm2, "surfaces": list(where[grade])}
        if abrasive.paper_mm is None:
            yield row("abrasives", grade, (area_mm2 / 100, "cm2"), note, details=details | {"name": ""})
            continue
        sheets = math.ceil(area_mm2 / (abrasive.paper_mm[0] * abrasive.paper_mm[1]) - 1e-9)
        price = times(abrasive.price, sheets)
        yield priced("abrasives", grade, (sheets, "sheet"), note, price=price, details=details)


def tool_rows(parts: Sequence[Part], cutter: str, shop: Shop, stages: Sequence[Stage]) -> Iterator[BomRow]:
    """Cutters and drills; a tool outlasts the job, so none is counted into the cost."""
    units = parts[0].scale.pattern.units
    used: dict[str, dict[str, None]] = {cutter: {}}
    for stage in stages:
        if stage.cutter in shop.cutters or not stage.cutter.startswith("drill "):
            used.setdefault(stage.cutter, {})[stage.name] = None
    for name, works in used.items():
        tool = shop.cutters.get(name)
        known = f"diameter {format_length(tool.diameter_mm, units)}" if tool else "not in the cutter table"
        does = f" for {'; '.join(works)}" if works else ""
        note = f"{known}{does}; kept, not counted into the cost"
        yield row("tools", f"cutter: {name}", (1, "piece"), note, details={"name": name, "for": list(works)})
    drilled: Counter[str] = Counter()
    for part in parts:
        for hole in part.scale.holes:
            diameter = format_length(hole.hole_mm, units)
            made = (
                f"drill: {hole.drill.designation} ({diameter})" if hole.drill else f"milled hole: {diameter}"
            )
            drilled[made] += 2 * part.cut
        for hole in part.scale.holes:
            if hole.head_hole_mm:
                drilled[f"milled recess: {format_length(hole.head_hole_mm, units)}"] += 2 * part.cut
    for item, number in drilled.items():
        kept = "kept, not counted into the cost" if item.startswith("drill") else "made with the cutter"
        yield row("tools", item, (1, "piece"), f"{number} holes; {kept}", details={"holes": number})


def safety_rows(scale: Scale, shop: Shop, mixes: int) -> Iterator[BomRow]:
    """What protects lungs, skin, eyes and ears; generic words, with the source of every figure."""
    yield row(
        "safety",
        "half mask with particle filters",
        (1, "piece"),
        f"class P3 (EN 143) or P100 (42 CFR 84), from memory; {'; '.join(_dusts(scale, shop))}",
    )
    yield row(
        "safety",
        "gloves for epoxy",
        (max(1, mixes), "pair"),
        "laminate, or thick nitrile: thin rubber protects poorly (HSE RR079); epoxy, half-cured dust"
        " included, makes people allergic; none near a spinning tool",
    )
    yield row(
        "safety",
        "safety glasses",
        (1, "piece"),
        "EN 166 or ANSI Z87.1, from memory; at the cutter, when sanding and when mixing",
    )
    yield row(
        "safety",
        "ear protection",
        (1, "piece"),
        "from 85 dBA over 8 h (NIOSH); OSHA's limit is 90 dBA",
    )
    yield row(
        "safety",
        "extraction at the cut",
        (1, "piece"),
        f"wet sanding or extraction by hand too; no limit makes dust safe; {LAW}",
    )


def _dusts(scale: Scale, shop: Shop) -> list[str]:
    """What the dust of the sheets is known for."""
    words = " ".join(
        f"{shop.sheets[layer.name].material} {layer.name}" if layer.name in shop.sheets else layer.name
        for layer in scale.stack.layers
        if layer.kind != "bond"
    ).lower()
    found = [text for word, text in _DUST.items() if word in words and word != "wood"]
    if set(words.replace(",", " ").split()) & set(_WOODS):
        found.append(_DUST["wood"])
    return [*found, _ANY_DUST]
