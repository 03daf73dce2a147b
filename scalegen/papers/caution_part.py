"""What the checks found about a job, and what can hurt whoever does it."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from scalegen.papers.document import Block, Caution, Cautions, Group, Heading, Table, Text
from scalegen.papers.words import plural, units_of
from scalegen.report.made import Made
from scalegen.report.views import sizes_in

LAST_WORD = (
    "Local codes, the safety data sheets of your materials and the machine's manual come first. No limit"
    " makes dust safe, and no paper can tell you that a job is."
)
"""Said under all cautions."""

_DUST = (
    "Extract at the cut, wear a fitted mask, wet-sand where the material allows it. Published limits over 8"
    " h: 15 mg/m3 total and 5 mg/m3 respirable for dust not otherwise regulated (OSHA, 29 CFR 1910.1000)"
)
_WOOD = "; wood dust 1 mg/m3 (NIOSH)"
_GLASS = "; glass fibre 5 mg/m3 in all (NIOSH)"
_PHENOLIC = " Phenolic sheet gives off formaldehyde when hot: 0.75 ppm over 8 h (OSHA, 29 CFR 1910.1048)."
_CARBON = " Carbon dust conducts: keep it out of controls and motors (OSHA)."
_EPOXY = (
    "Uncured and half-cured epoxy, its dust too, makes people allergic for good; it is a leading cause of"
    " allergic skin disease at work (EU-OSHA; HSE research report 79). Thin rubber gloves protect poorly:"
    " take laminate or thick nitrile. No skin contact; change gloves."
)
_CUTTER = (
    "Guard, eye and hearing protection (from 85 dBA, NIOSH). Gloves off and sleeves tight before anything"
    " spins (OSHA 3157). Stand clear while parts are cut free."
)
_BLADE = "The blade is sharp: tape it before you dry-fit, and leave the tape on until all sanding is done."

_BY_TOLERANCE = ("blank-thinner", "blank-thicker")
_UNMEASURED = (
    "not measured: {off} thinner means thin scales and a cut bed, thicker means not cut free. Make the job"
    " again with --measured."
)

Found = Mapping[str, Any]


def caution_part(made: Made) -> Iterator[Block]:
    """What can hurt."""
    box = Cautions(cautions=tuple(_cautions(made)), last=LAST_WORD)
    yield Group(blocks=(Heading(text="What can hurt you"), box))


def finding_part(made: Made) -> Iterator[Block]:
    """What the checks warn of, with the reasons for which stops were accepted; notes are only counted."""
    found: list[Found] = made.record["findings"]
    rows = warnings_of(made)
    notes = sum(each["level"] == "note" for each in found)
    told = f'{plural(notes, "note")}: "scalegen show job" and the folder of the job tell them.'
    heading = Heading(text="What the checks found")
    if rows:
        heads = ("about", "what, and what to do")
        yield Group(
            blocks=(heading, Table(heads=heads, rows=rows, shares=(30, 110), strong=(0,), ticks=True))
        )
        yield from [Text(text=f"Besides, {told}")] if notes else []
        return
    yield heading
    yield Text(
        text=f"No warnings. {told[:1].upper()}{told[1:]}" if notes else "The checks found nothing to say."
    )


def warnings_of(made: Made) -> tuple[tuple[str, str], ...]:
    """What each warning is about, and what it says; all that comes of a blank not measured is one."""
    return tuple(_warnings(made, [each for each in made.record["findings"] if each["level"] != "note"]))


def _warnings(made: Made, found: Sequence[Found]) -> Iterator[tuple[str, str]]:
    loose = [each for each in found if each["code"] in _BY_TOLERANCE and not _measured(made)]
    if loose:
        off = sizes_in(units_of(made))(made.lots[0].scale.stack.tolerance_mm, 2)
        yield "blank", _UNMEASURED.format(off=off)
    for each in found:
        if each not in loose:
            about = f"{each['about']}{', ' + each['where'] if each['where'] else ''}"
            yield about, f"{each['message']}. {_sentence(each['remedy'])}"


def _measured(made: Made) -> bool:
    return bool(made.lots[0].scale.stack.measured_mm)


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}." if text else ""


def _cautions(made: Made) -> Iterator[Caution]:
    materials = _materials(made)
    dust = _DUST + (_GLASS if "glass" in materials else "") + _WOOD + "."
    dust += _PHENOLIC if "phenol" in materials else ""
    dust += _CARBON if "carbon" in materials else ""
    yield Caution(title="Dust harms lungs", text=dust)
    yield Caution(title="Epoxy sensitises", text=_EPOXY)
    yield Caution(title="Fast cutters", text=_CUTTER)
    yield Caution(title="Blades", text=_BLADE)


def _materials(made: Made) -> str:
    """What the layers are made of, in one text."""
    names = [layer.name for lot in made.lots for layer in lot.scale.stack.layers]
    known = [made.shop.sheets[name].material for name in names if name in made.shop.sheets]
    return " ".join([*names, *known]).lower()
