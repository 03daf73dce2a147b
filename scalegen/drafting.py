"""A new pattern from an outline: where the front may be, which pins fit the holes, and the file written."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from scalegen.errors import PatternError, ScalegenError, UsageError
from scalegen.export.files import save_bytes
from scalegen.fields.place import Place
from scalegen.model import Edge, Finding, Front, JobSpec, OutlineSource, Pattern, PinSpec, Shop, Units
from scalegen.option_values import length_option
from scalegen.outline.placing import placed
from scalegen.outline.read import Outline, outline_of, place_of
from scalegen.outline.survey import Survey
from scalegen.pattern.draft import Draft, DraftPin, draft_text
from scalegen.pattern.read import parse_pattern
from scalegen.pattern.values import NAME
from scalegen.pipeline import Study, checked, study
from scalegen.shop import find_shared, load_shop
from scalegen.shop.match import hardware_for
from scalegen.units import InputError

_SCANS = {".png", ".jpg", ".jpeg", ".tif", ".tiff"}
_NEAR_ZERO_MM = 60.0
_TANG_MM = 3.0
_TRIM_MM = 0.8
_EDGES_MM = (1.5, 0.8, 0.0)
_SLOPE_RAD = math.pi / 4
_LAND_MM = 1.2
_LARGEST_PIN_MM = 13.0
_LONGEST_HANDLE_MM = 160.0
_AHEAD_OF_PINS_MM = (25.0, 20.0, 15.0, 12.0, 10.0)
_SHARES = (0.1, 0.06, 0.15, 0.03, 0.2, 0.3)
"""Guesses for a new pattern: tang and trim, edges to try, bevel; holes above which it is no pin; length above
which an outline has the blade on it; front ahead of the first pin or at a share of the length. Our choice;
common practice, no source."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Wish:
    """What a user says about a new pattern.

    Attributes:
        name: Its name.
        source: The outline's file and what is said about it.
        found: What is in it, in the drawing's own axes.
        folder: Where the pattern goes.
        tang: Thickness of the tang as typed, in the outline's unit where it has none; None for a guess.
        front_at: x of the front line as typed, likewise.
        stock: Stack, or None for the first in the tables.
    """

    name: str
    source: OutlineSource
    found: Survey
    folder: Path
    tang: str | None = None
    front_at: str | None = None
    stock: str | None = None


@dataclass(frozen=True, kw_only=True)
class Drafted:
    """A pattern that was written.

    Attributes:
        path: The pattern file.
        copied: Copy of the outline's file beside it, or None when it was there already.
        study: The pattern looked at.
        draft: What went into it.
    """

    path: Path
    copied: Path | None
    study: Study
    draft: Draft

    @property
    def pins_text(self) -> str:
        """How many pins were taken from the outline, and how many holes were not."""
        pins = self.draft.pins
        taken = sum(not pin.against for pin in pins)
        text = "no pins" if not taken else f"{taken} pin{'' if taken == 1 else 's'}"
        rest = len(pins) - taken
        if not rest:
            return text
        return f"{text} ({rest} hole{'' if rest == 1 else 's'} left out, see there)"


def draft_pattern(wish: Wish, shop_folder: Path | None = None) -> Drafted:
    """Make a pattern that passes the checks, and write it.

    Args:
        wish: What it is to be.
        shop_folder: Folder of shop tables; None to look for one above the pattern's folder.

    Returns:
        Where it is and what was found.

    Raises:
        UsageError: The name will not do, or the pattern is there already; nothing is written.
        PatternError: The outline cannot be used as it is, or no front line makes a scale of it.
        WriteError: The folder can't be written.
    """
    source = wish.source
    if source.path is None:
        raise UsageError("no file is named", where="--outline", remedy="name a file with an outline")
    target = wish.folder / f"{_checked_name(wish.name)}.toml"
    beside = wish.folder / source.path.name
    if target.exists():
        raise UsageError(
            "there is a pattern of this name already", where=str(target), remedy="choose another name"
        )
    shop = load_shop(shop_folder or find_shared(wish.folder.resolve()))
    wish, outline = _started(wish)
    _require_lying(outline, source)
    draft = _drafted(wish, outline, shop, target)
    text = draft_text(draft)
    copied = _beside(source.path, beside)
    try:
        seen = study(parse_pattern(text, target), outline, JobSpec(), shop)
        save_bytes(target, text.encode())
    except ScalegenError:
        target.unlink(missing_ok=True)
        if copied:
            beside.unlink(missing_ok=True)
        raise
    return Drafted(path=target, copied=beside if copied else None, study=seen, draft=draft)


def _started(wish: Wish) -> tuple[Wish, Outline]:
    """The outline, its zero point at its front end where the drawing's own is far; and the wish so."""
    source, where = wish.source, place_of(wish.source, "--outline")
    if source.path and source.path.suffix.lower() in _SCANS:
        source = _from_front(source)
    outline = outline_of(placed(wish.found, source.placing), where=where)
    x0, y0, _, y1 = outline.ring.bounds_mm
    if source.placing.zero == "drawing" and not (abs(x0) <= _NEAR_ZERO_MM and y0 < 0 < y1):
        source = _from_front(source)
        outline = outline_of(placed(wish.found, source.placing), where=where)
    return replace(wish, source=source), outline


def _from_front(source: OutlineSource) -> OutlineSource:
    return replace(source, placing=replace(source.placing, zero="front"))


def _checked_name(name: str) -> str:
    try:
        NAME.parse(name, Place(file=""))
    except InputError as error:
        raise UsageError(error.found, where="NAME", remedy=error.allowed) from error
    return name


def _beside(file: Path, beside: Path) -> bool:
    """Copy a file into the pattern's folder; False when it is there already."""
    if beside.exists():
        if beside.samefile(file) or beside.read_bytes() == file.read_bytes():
            return False
        raise UsageError(
            "another file of this name is there already",
            where=str(beside),
            remedy="rename the outline's file, or move the one that is there",
        )
    try:
        beside.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UsageError(
            f"there is no such folder: {error.strerror}", where=str(beside.parent), remedy="name another"
        ) from error
    save_bytes(beside, file.read_bytes())
    return True


def _require_lying(outline: Outline, source: OutlineSource) -> None:
    """Refuse an outline that stands upright and of which it is not said where the blade is."""
    x0, y0, x1, y1 = outline.ring.bounds_mm
    if y1 - y0 <= 1.2 * (x1 - x0):
        return
    raise PatternError(
        f"the outline stands upright, {x1 - x0:.1f} mm along x and {y1 - y0:.1f} mm along y",
        where=f"--outline: {source.path}",
        remedy="say at which side of the drawing the blade is, --front top or --front bottom, or how it must"
        " be turned, such as --rotate level; scalegen show outline draws the outcome",
    )


# ---------------------------------------------------------------------------------------------- choices


def _drafted(wish: Wish, outline: Outline, shop: Shop, target: Path) -> Draft:
    """The draft with the fewest findings among front lines and edges that are tried in turn."""
    units: Units = "in" if outline.units.startswith("inch") else "mm"
    tang_mm = None if wish.tang is None else length_option(wish.tang, units, "--tang", least_mm=None)
    front_mm = (
        None
        if wish.front_at is None
        else length_option(wish.front_at, units, "--front-at", least_mm=-math.inf)
    )
    stocks = tuple(shop.stacks)
    if not stocks:
        raise PatternError("the shop tables have no stack", where="shared", remedy="add one to the tables")
    if wish.stock is not None and wish.stock not in stocks:
        raise UsageError(
            f'there is no stack "{wish.stock}" in the shop tables',
            where="--stock",
            remedy=f"the stacks are: {', '.join(stocks)}",
        )
    start = Draft(
        name=wish.name,
        units=units,
        stock=wish.stock or stocks[0],
        stocks=stocks,
        outline=wish.source,
        file=wish.source.path.name if wish.source.path else "",
        known=f"read in {outline.units}",
        tang_mm=_TANG_MM if tang_mm is None else tang_mm,
        tang_given=tang_mm is not None,
        front=_front(0.0),
        front_given=front_mm is not None,
        edge=Edge(),
        trim_mm=_TRIM_MM,
        pins=tuple(_pin(hole, shop) for hole in outline.holes),
    )
    best: tuple[tuple[int, int], Draft] | None = None
    refusal: ScalegenError | None = None
    for draft in _tries(start, front_mm, outline):
        try:
            trial, found = _settled(draft, outline, shop, target)
        except ScalegenError as error:
            refusal = refusal or error
            continue
        score = _score(found)
        if best is None or score < best[0]:
            best = score, trial
        if best[0] == (0, 0):
            break
    if best is None:
        raise refusal or PatternError("no front line makes a scale of this outline", where="--outline")
    return best[1]


def _front(at_mm: float) -> Front:
    return Front(
        at_mm=at_mm, angle_rad=math.pi / 2, treatment="bevel", slope_rad=_SLOPE_RAD, land_mm=_LAND_MM
    )


def _tries(start: Draft, front_mm: float | None, outline: Outline) -> Iterator[Draft]:
    """Front lines and edges worth trying, the likeliest first."""
    for edge_mm in _EDGES_MM:
        edge = Edge(treatment="round", size_mm=edge_mm) if edge_mm else Edge()
        places = [front_mm] if front_mm is not None else _front_places(outline)
        for at_mm in places:
            yield replace(start, front=_front(at_mm), edge=edge)


def _front_places(outline: Outline) -> list[float]:
    """Where a front line may be: ahead of the first pin, or at a share of the length."""
    x0, _, x1, _ = outline.ring.bounds_mm
    length = x1 - x0
    pins = [x for x, _, d in outline.holes if d <= _LARGEST_PIN_MM]
    shares = [x0 + share * length for share in _SHARES]
    if pins:
        ahead = [min(pins) - gap for gap in _AHEAD_OF_PINS_MM]
        ahead = [at for at in ahead if at > x0 + 1]
        clear = [at for at in shares if at < min(pins) - _AHEAD_OF_PINS_MM[-1]]
        shares = clear + ahead if length <= _LONGEST_HANDLE_MM else ahead + clear
    elif length > _LONGEST_HANDLE_MM:
        shares = [x1 - 0.5 * length, x1 - 110, *shares]
    return [round(2 * at) / 2 for at in shares]


def _pin(hole: tuple[float, float, float], shop: Shop) -> DraftPin:
    x, y, diameter = hole
    against = "too large for a pin" if diameter > _LARGEST_PIN_MM else ""
    return DraftPin(at_mm=(x, y), found_mm=diameter, hardware=hardware_for(diameter, shop), against=against)


def _settled(draft: Draft, outline: Outline, shop: Shop, target: Path) -> tuple[Draft, tuple[Finding, ...]]:
    """The draft without the pins that would stop a job, and what the checks say about the rest."""
    found = _findings(draft, outline, shop, target)
    numbers = [k for k, pin in enumerate(draft.pins) if not pin.against]
    reasons: dict[int, str] = {}
    for finding in found:
        if finding.level == "stop" and finding.about.startswith("pin"):
            for word in finding.about.replace("pins", "").replace("pin", "").split(" and "):
                reasons.setdefault(numbers[int(word) - 1], finding.message)
    if not reasons:
        return draft, found
    pins = tuple(
        replace(pin, against=reasons[k]) if k in reasons else pin for k, pin in enumerate(draft.pins)
    )
    draft = replace(draft, pins=pins)
    return draft, (*_findings(draft, outline, shop, target), *_left_out(reasons))


def _left_out(reasons: dict[int, str]) -> tuple[Finding, ...]:
    """A pin that had to go weighs as much as a warning."""
    return tuple(
        Finding(code="", level="warning", about="pin", where="", message=text, remedy="")
        for text in reasons.values()
    )


def _findings(draft: Draft, outline: Outline, shop: Shop, target: Path) -> tuple[Finding, ...]:
    return checked(_pattern(draft, target), outline, JobSpec(), shop)[1]


def _pattern(draft: Draft, target: Path) -> Pattern:
    """The draft as its file will be read."""
    return Pattern(
        name=draft.name,
        title=draft.name,
        units=draft.units,
        path=target,
        outline=draft.outline,
        tang_mm=draft.tang_mm,
        front=draft.front,
        thickness_mm=None,
        edge=draft.edge,
        trim_mm=draft.trim_mm,
        back_allowance_mm=0.0,
        pins=tuple(_spec(pin) for pin in draft.pins if not pin.against),
        stock=draft.stock,
    )


def _spec(pin: DraftPin) -> PinSpec:
    if pin.hardware:
        return PinSpec(at_mm=pin.at_mm, hardware=pin.hardware[0])
    return PinSpec(at_mm=pin.at_mm, diameter_mm=pin.found_mm)


def _score(found: Sequence[Finding]) -> tuple[int, int]:
    """Stops and warnings."""
    levels = [finding.level for finding in found]
    return levels.count("stop"), levels.count("warning")
