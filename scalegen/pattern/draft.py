"""A new pattern file in words: every field with what it means, so that it can be filled in at the bench."""

import math
from dataclasses import dataclass

from scalegen.model import Edge, Front, OutlineSource, Units
from scalegen.sources import Placing, ScanSettings
from scalegen.units import MM_PER_INCH

_COLUMN = 33


@dataclass(frozen=True, kw_only=True)
class DraftPin:
    """One hole found in the outline.

    Attributes:
        at_mm: Its centre.
        found_mm: Its diameter in the outline.
        hardware: Names in the hardware table that fit, nearest first.
        against: Why it is left out of the pattern; empty when it is not.
    """

    at_mm: tuple[float, float]
    found_mm: float
    hardware: tuple[str, ...] = ()
    against: str = ""


@dataclass(frozen=True, kw_only=True)
class Draft:
    """What goes into a new pattern.

    Attributes:
        name: Its name.
        units: Unit of bare numbers in the file.
        stock: Stack in the shop tables.
        stocks: All stacks there are, for the comment.
        outline: Where the outline is, and what is said about it.
        file: Name of the outline's file beside the pattern.
        known: How its unit is known.
        tang_mm: Thickness of the tang.
        tang_given: The user said so; otherwise it is a guess.
        front: Front line and treatment.
        front_given: The user said where it is.
        edge: Edge treatment.
        trim_mm: Trim allowance.
        pins: Holes found.
    """

    name: str
    units: Units
    stock: str
    stocks: tuple[str, ...]
    outline: OutlineSource
    file: str
    known: str
    tang_mm: float
    tang_given: bool
    front: Front
    front_given: bool
    edge: Edge
    trim_mm: float
    pins: tuple[DraftPin, ...]


def draft_text(draft: Draft) -> str:
    """The text of a pattern file, TOML with a comment for every field."""
    write = _Writer(units=draft.units)
    lines = [
        f"# {draft.name}: made from {draft.file}. Look through it and set what is yours.",
        "#",
        "# The frame: x runs from the blade (small x) to the butt, y towards the spine of the knife.",
        '# A bare number is in the unit named below; text may carry its own, such as "1/8in" or "3.2 mm".',
        "",
        write.line("name", _quoted(draft.name), "goes into file names: letters, digits, - and _"),
        write.line("title", _quoted(draft.name), "free text for the papers"),
        write.line("units", _quoted(draft.units), '"mm" or "in": unit of bare numbers in this file'),
        write.line("stock", _quoted(draft.stock), f"bonded stack it is cut from; {_either(draft.stocks)}"),
        "",
        *_tang(draft, write),
        "",
        *_front(draft, write),
        "",
        *_scale(draft, write),
        *_pins(draft, write),
    ]
    return "\n".join(lines) + "\n"


@dataclass(frozen=True, kw_only=True)
class _Writer:
    """Lines of key, value and comment in one unit."""

    units: Units

    def size(self, mm: float) -> str:
        """A length as a bare number, to 0.001 mm or 0.0001 in."""
        value = round(mm / float(MM_PER_INCH), 4) if self.units == "in" else round(mm, 3)
        return f"{value + 0.0!r}"

    def line(self, key: str, value: str, comment: str) -> str:
        """One field with its comment."""
        return self.beside(f"{key} = {value}", comment)

    def beside(self, text: str, comment: str) -> str:
        """A comment beside something."""
        return f"{text:<{_COLUMN - 1}} # {comment}"

    def spot(self, at_mm: tuple[float, float]) -> str:
        """A point."""
        return f"[{self.size(at_mm[0])}, {self.size(at_mm[1])}]"


def _tang(draft: Draft, write: _Writer) -> list[str]:
    source = draft.outline
    lines = ["[tang]", write.line("outline", _quoted(draft.file), f"file beside this one; {draft.known}")]
    if source.units is not None:
        lines.append(write.line("outline_units", _quoted(source.units), "unit of the file's numbers"))
    if source.contour is not None:
        lines.append(write.line("contour", str(source.contour), "which contour in it, 1 is the largest"))
    if source.hints.smooth is not None:
        words = _quoted("smooth" if source.hints.smooth else "straight")
        lines.append(write.line("points", words, '"smooth" curve through the points, or "straight" lines'))
    scan = _scan(source.hints.scan, write)
    if scan:
        lines.append(write.line("scan", scan, "how the picture gets its scale"))
    if source.hints.tolerance_mm != type(source.hints).tolerance_mm:
        size = _quoted(f"{source.hints.tolerance_mm:g} mm")
        lines.append(write.line("tolerance", size, "how far lines and arcs may be from a curve"))
    if source.placing != Placing():
        comment = "how the drawing is laid: front to the left, spine up"
        lines.append(write.line("place", _placing(source.placing), comment))
    guess = "of the steel" if draft.tang_given else "of the steel; A GUESS: measure yours"
    lines.append(write.line("thickness", write.size(draft.tang_mm), guess))
    return lines


def _scan(scan: ScanSettings, write: _Writer) -> str:
    entries = []
    if scan.dpi is not None:
        entries.append(f"dpi = {scan.dpi:g}")
    if scan.card:
        entries.append("card = true")
    if scan.marks is not None:
        first, second = ([round(v, 2) for v in at] for at in (scan.marks.first_px, scan.marks.second_px))
        distance = write.size(scan.marks.distance_mm)
        entries.append(f"marks = {{ first = {first}, second = {second}, distance = {distance} }}")
    if scan.tang != "auto":
        entries.append(f"tang = {_quoted(scan.tang)}")
    return f"{{ {', '.join(entries)} }}" if entries else ""


def _placing(placing: Placing) -> str:
    entries = []
    if placing.rotate_rad:
        entries.append(f"rotate = {round(math.degrees(placing.rotate_rad), 6):g}")
    if placing.front != "left":
        entries.append(f"front = {_quoted(placing.front)}")
    if placing.flip:
        entries.append("flip = true")
    if placing.zero != "drawing":
        entries.append(f"zero = {_quoted(placing.zero)}")
    return f"{{ {', '.join(entries)} }}"


def _front(draft: Draft, write: _Writer) -> list[str]:
    front = draft.front
    where = "x where the front line crosses y = 0"
    guess = where if draft.front_given else f"{where}; A GUESS: the scale begins here"
    lines = [
        "[front]",
        write.line("at", write.size(front.at_mm), guess),
        write.line("angle", f"{math.degrees(front.angle_rad):g}", "degrees; 90 is straight across"),
        write.line("treatment", _quoted(front.treatment), '"bevel", "round" or "square"'),
    ]
    if front.treatment == "bevel":
        slope = f"{math.degrees(front.slope_rad):g}"
        lines.append(write.line("slope", slope, "degrees between the bevel and the tang"))
        lines.append(write.line("land", write.size(front.land_mm), "upright strip left below the bevel"))
    return lines


def _scale(draft: Draft, write: _Writer) -> list[str]:
    edge = draft.edge
    shown = f'{{ treatment = "{edge.treatment}"'
    shown += f", radius = {write.size(edge.size_mm)} }}" if edge.treatment == "round" else " }"
    return [
        "[scale]",
        write.line("thickness", _quoted("stack"), 'of one finished scale, or "stack" for all there is'),
        write.line("edge", shown, 'around the face: "round", "chamfer" or "square"'),
        write.line("trim", write.size(draft.trim_mm), "left outside the outline, sanded flush on the knife"),
        write.line("back_allowance", "0.0", "extra at the back, taken off when it is flattened"),
        '# crown = { radius = "55 mm" }  # rounds the face across the handle',
        "",
        "# [restock]                      # what the heights do at another thickness of the stack",
        '# bevel = "keep slope"           # or "keep run"',
    ]


def _pins(draft: Draft, write: _Writer) -> list[str]:
    if not draft.pins:
        return [
            "",
            "# The outline has no holes. One [[pin]] for each pin or tube:",
            "# [[pin]]",
            "# at = [30, 0]",
            '# hardware = "pin 1/8in"',
        ]
    lines: list[str] = []
    for pin in draft.pins:
        hole = f"hole of {write.size(pin.found_mm)} in the outline"
        hash_mark = "# " if pin.against else ""
        comment = f"{hole}; left out: {pin.against}" if pin.against else hole
        lines += ["", hash_mark + write.beside("[[pin]]", comment)]
        lines.append(hash_mark + f"at = {write.spot(pin.at_mm)}")
        if pin.hardware:
            others = f"; also fits: {', '.join(pin.hardware[1:])}" if pin.hardware[1:] else ""
            comment = f"by its name in the shop tables{others}"
            lines.append(hash_mark + write.line("hardware", _quoted(pin.hardware[0]), comment))
        else:
            comment = "of the pin; nothing in the hardware table fits this hole"
            lines.append(hash_mark + write.line("diameter", write.size(pin.found_mm), comment))
    return lines


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


def _either(names: tuple[str, ...]) -> str:
    return f"the tables have {', '.join(names)}"
