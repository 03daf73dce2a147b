"""What the checks found about a job, and what can hurt whoever does it."""

from collections.abc import Iterator

from scalegen.papers.document import Block, Caution, Group, Heading, Table, Text
from scalegen.report.made import Made

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


def caution_part(made: Made) -> Iterator[Block]:
    """What can hurt."""
    first, *others = _cautions(made)
    yield Group(blocks=(Heading(text="What can hurt you"), first))
    yield from others
    yield Text(text=LAST_WORD, strong=True)


def finding_part(made: Made) -> Iterator[Block]:
    """What the checks found, with the reasons for which stops were accepted."""
    yield Heading(text="What the checks found")
    found = made.record["findings"]
    if not found:
        yield Text(text="The checks found nothing to say.")
        return
    rows = tuple(
        (
            str(each["level"]),
            f"{each['about']}{', ' + each['where'] if each['where'] else ''}",
            f"{each['message']}. {_sentence(each['remedy'])}",
        )
        for each in found
    )
    yield Table(
        heads=("", "about", "what, and what to do"),
        rows=rows,
        shares=(18, 26, 84),
        strong=(0,),
    )


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
