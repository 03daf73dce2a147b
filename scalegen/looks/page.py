"""The page of a job: one file that needs nothing else, to turn pair, handle and sheets about in."""

import base64
import html
import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from importlib.resources import files
from typing import Any

import numpy as np

from scalegen.design import Scale
from scalegen.looks.facts import (
    Fact,
    layer_fact,
    pad_fact,
    pin_fact,
    place_fact,
    scale_fact,
    sheet_fact,
    tabs_fact,
    tang_fact,
)
from scalegen.looks.hardware import set_hardware
from scalegen.looks.pack import packed
from scalegen.looks.pictures import pair_scene, steps_apart
from scalegen.looks.plain import blank_shown, hole_plug, pad_box, tab_box
from scalegen.looks.scene import BELOW, IDENTITY, MIRRORED, into_place, moved, turned
from scalegen.machining.tabs import Tab
from scalegen.outline.measure import centroid_mm
from scalegen.report.made import Lot, Made
from scalegen.sheet.layout import Placement, SheetLayout
from scalegen.solids.look import Looks, Numbers, Shown

_PICTURE_ALT = "The pair as cut, from three sides"
_PICTURE = '<img{} alt="{}" src="data:image/png;base64,{}">'
_NOTE = (
    "Films of glue are drawn as thick as they count, pins as wide as their holes. The files to cut by are the"
    " STEP, STL and DXF files beside this page."
)
_DIGITS = 5
_CLEAR_MM = 4.0


@dataclass(kw_only=True)
class _Kept:
    """Pieces and facts as they are gathered; each is kept once."""

    pieces: list[Shown] = field(default_factory=list)
    facts: list[Fact] = field(default_factory=list)

    def piece(self, shown: Shown) -> int:
        """Its number."""
        for number, known in enumerate(self.pieces):
            if known is shown:
                return number
        self.pieces.append(shown)
        return len(self.pieces) - 1

    def fact(self, fact: Fact) -> int:
        """Its number."""
        if fact not in self.facts:
            self.facts.append(fact)
        return self.facts.index(fact)

    def item(
        self,
        shown: Shown,
        move: Numbers,
        fact: Fact | None,
        *,
        layer: str = "",
        step: float = 0.0,
        ghost: bool = False,
    ) -> dict[str, Any]:
        """One use of a piece: where, what is told, its layer, how far it goes when drawn apart."""
        return {
            "piece": self.piece(shown),
            "move": [round(float(value), _DIGITS) + 0.0 for value in move.T.ravel()],
            "told": None if fact is None else self.fact(fact),
            "layer": layer,
            "step": round(step, 4),
            "ghost": ghost,
        }


def page(made: Made, looks: Sequence[Looks], previews_png: Sequence[bytes]) -> bytes:
    """The page as UTF-8 HTML.

    Args:
        made: The job.
        looks: Meshes of its patterns, in the order of its lots.
        previews_png: What is shown of each where the browser cannot draw.
    """
    kept = _Kept()
    modes = []
    for lot, each in zip(made.lots, looks, strict=True):
        modes += [_cut_mode(lot.scale, each, kept), _tang_mode(lot.scale, each, kept)]
    known = {lot.scale.pattern.name: (lot.scale, each) for lot, each in zip(made.lots, looks, strict=True)}
    tabs = [each.tabs for each in made.bridges] or [()] * len(made.layouts)
    modes += [_sheet_mode(known, layout, own, kept) for layout, own in zip(made.layouts, tabs, strict=True)]
    data = {
        "patterns": [{"id": lot.scale.pattern.name, "name": _title(lot)} for lot in made.lots],
        "modes": modes,
        "facts": [_fact_data(fact) for fact in kept.facts],
        "pieces": [packed(shown) for shown in kept.pieces],
    }
    title = _listed([_title(lot) for lot in made.lots])
    words = {
        "TITLE": html.escape(f"{title}: scales in 3D"),
        "HEADING": html.escape(title),
        "UNDER": html.escape(_under(made)),
        "NOTE": html.escape(_NOTE),
        "PICTURES": _pictures(made, previews_png, ""),
        "PLAIN_PICTURES": _pictures(made, previews_png, ' class="plain"'),
        "STYLE": _part("view.css"),
        "SCRIPT": f"{_part('draw.js')}\n{_part('view.js')}",
        # "<" may not stand in a script element as it is, or a name could end it.
        "DATA": json.dumps(data, ensure_ascii=False, separators=(",", ":")).replace("<", "\\u003c"),
    }
    return _filled(_part("view.html"), words).encode()


def _title(lot: Lot) -> str:
    return lot.scale.pattern.title or lot.scale.pattern.name


def _pictures(made: Made, previews_png: Sequence[bytes], more: str) -> str:
    """The pictures as elements, one under the other; of several patterns each says which it is."""
    found = []
    for lot, png in zip(made.lots, previews_png, strict=True):
        alt = _PICTURE_ALT if len(made.lots) == 1 else f"{_PICTURE_ALT}: {_title(lot)}"
        found.append(_PICTURE.format(more, html.escape(alt), base64.b64encode(png).decode("ascii")))
    return "\n".join(found)


def _part(name: str) -> str:
    return (files("scalegen") / "data" / "page" / name).read_text(encoding="utf-8").strip()


def _filled(text: str, words: dict[str, str]) -> str:
    """A template with its places filled in; what is filled in is not looked through again."""
    start, *rest = text.split("@@")
    out = [start]
    for place, plain in zip(rest[::2], rest[1::2], strict=True):
        out += [words[place], plain]
    return "".join(out)


def _under(made: Made) -> str:
    sheets = len(made.layouts)
    lots = [_pairs(lot, named=len(made.lots) > 1) for lot in made.lots]
    stack = made.lots[0].scale.stack.name
    return f"{_listed(lots)} on {sheets} sheet{'s' if sheets != 1 else ''}, from {stack}"


def _pairs(lot: Lot, *, named: bool) -> str:
    of = f" of {lot.scale.pattern.name}" if named else ""
    spares = f" and {lot.spares} spare" if lot.spares else ""
    return f"{lot.pairs} pair{'s' if lot.pairs != 1 else ''}{of}{spares}"


def _listed(words: Sequence[str]) -> str:
    *first, last = words
    return f"{', '.join(first)} and {last}" if first else last


def _fact_data(fact: Fact) -> dict[str, Any]:
    return {
        "title": fact.title,
        "short": fact.short,
        "rows": fact.rows,
        "more": [{"title": title, "rows": rows} for title, rows in fact.more],
    }


# ----------------------------------------------------------------------------------------------- modes


def _mode(
    name: tuple[str, str, str],
    items: list[dict[str, Any]],
    box: Numbers,
    *,
    view_deg: tuple[float, float],
    apart_mm: float,
    told: int,
    pattern: str = "",
    tags: Sequence[tuple[str, Numbers]] = (),
) -> dict[str, Any]:
    """One way to show the job.

    Args:
        name: Identity, name and note.
        items: Uses of pieces.
        box: Corners (2, 3) of what is in view.
        view_deg: Azimuth and height that it is seen from.
        apart_mm: A step of drawing apart.
        told: What is told before anything is chosen.
        pattern: Which pattern it shows; "" for all.
        tags: Words that stand at places (3,) of the scene.
    """
    return {
        "id": name[0],
        "name": name[1],
        "note": name[2],
        "items": items,
        "box": [[round(float(value), 3) for value in row] for row in box],
        "turn": round(math.radians(view_deg[0]), 6),
        "tip": round(math.radians(view_deg[1]), 6),
        "apart": round(apart_mm, 3),
        "told": told,
        "pattern": pattern,
        "tags": [{"text": text, "at": [round(float(value), 2) for value in at]} for text, at in tags],
    }


def _cut_mode(scale: Scale, looks: Looks, kept: _Kept) -> dict[str, Any]:
    placed = pair_scene(looks.as_cut)
    count, steps = len(looks.as_cut), steps_apart(looks.as_cut)
    items = []
    for number, each in enumerate(placed):
        span = scale.spans[number % count]
        fact = layer_fact(scale, span, "left" if number < count else "right", finished=False)
        step = float(steps[number % count] - 1)
        items.append(kept.item(each.shown, each.move, fact, layer=span.name, step=step))
    for number, hole in enumerate(scale.holes, 1):
        x, y = hole.at_mm
        plug = hole_plug(hole, -scale.back_allowance_mm, hole.thickness_mm)
        for move in (placed[0].move, placed[-1].move):
            where = np.hstack([move[:, :3], move[:, :3] @ np.array([[x], [y], [0.0]]) + move[:, 3:]])
            items.append(kept.item(plug, where, pin_fact(scale, number), ghost=True))
    name = ("cut", "As cut", "Both scales as they leave the machine, backs down.")
    box = _box_of([(each.shown, each.move) for each in placed])
    told = kept.fact(scale_fact(scale, finished=False))
    return _mode(
        name,
        items,
        box,
        view_deg=(-108.0, 44.0),
        apart_mm=_gap_mm(looks),
        told=told,
        pattern=scale.pattern.name,
    )


def _tang_mode(scale: Scale, looks: Looks, kept: _Kept) -> dict[str, Any]:
    half = scale.pattern.tang_mm / 2
    items = [kept.item(looks.tang, IDENTITY, tang_fact(scale), layer="Tang")]
    uses = [(looks.tang, IDENTITY)]
    steps = steps_apart(looks.finished)
    for span, layer, step in zip(scale.spans, looks.finished, steps, strict=True):
        for move, way in ((moved(IDENTITY, z_mm=half), 1), (moved(BELOW, z_mm=-half), -1)):
            fact = layer_fact(scale, span, None, finished=True)
            items.append(kept.item(layer, move, fact, layer=span.name, step=float(way * step)))
            uses.append((layer, move))
    # Hardware goes up until it is clear of the face.
    up = max(steps) + (2 * half + 2 * scale.thickness_mm + _CLEAR_MM) / _gap_mm(looks)
    for number, piece in enumerate(set_hardware(scale), 1):
        items.append(kept.item(piece, IDENTITY, pin_fact(scale, number), layer="Hardware", step=up))
    name = ("tang", "On the tang", "The finished handle with its hardware.")
    told = kept.fact(scale_fact(scale, finished=True))
    return _mode(
        name,
        items,
        _box_of(uses),
        view_deg=(-108.0, 36.0),
        apart_mm=_gap_mm(looks),
        told=told,
        pattern=scale.pattern.name,
    )


def _sheet_mode(
    known: Mapping[str, tuple[Scale, Looks]], layout: SheetLayout, tabs: Sequence[Tab], kept: _Kept
) -> dict[str, Any]:
    first, _ = next(iter(known.values()))
    high = first.stack.used_mm
    items = [kept.item(blank_shown(layout, high), IDENTITY, sheet_fact(first, layout), layer="Blank")]
    for number, pad in enumerate(layout.pads, 1):
        fact = pad_fact(first, layout, pad, number)
        shown = pad_box(pad, high, fact.title)
        items.append(kept.item(shown, IDENTITY, fact, layer="Reference pad"))
    tags = []
    for place in layout.placements:
        scale, looks = known[place.pattern]
        move, fact = _on_sheet(scale, place), place_fact(scale, layout, place)
        items += [
            kept.item(layer, move, fact, layer=span.name)
            for span, layer in zip(scale.spans, looks.as_cut, strict=True)
        ]
        middle = np.array([*centroid_mm(scale.as_cut), scale.thickness_mm])
        tags.append((place.label, into_place(middle, move)))
    items += [kept.item(tab_box(tab), IDENTITY, tabs_fact(first, tabs), layer="Tabs") for tab in tabs]
    short = layout.name.removeprefix("sheet-")
    note = f"{len(layout.placements)} scales on {layout.name}, in the blank that they are cut from."
    name = (layout.name, f"Sheet {short}", note)
    box = np.array([[0.0, 0.0, 0.0], [layout.length_mm, layout.width_mm, high]])
    told = kept.fact(sheet_fact(first, layout))
    return _mode(name, items, box, view_deg=(-90.0, 58.0), apart_mm=0.0, told=told, tags=tags)


def _on_sheet(scale: Scale, place: Placement) -> Numbers:
    """Where a scale's own frame comes to lie in the sheet frame; z = 0 is the blank's underside."""
    start = IDENTITY if place.side == "left" else MIRRORED
    return moved(
        turned(start, place.angle_rad), x_mm=place.x_mm, y_mm=place.y_mm, z_mm=scale.back_allowance_mm
    )


def _gap_mm(looks: Looks) -> float:
    """How far apart layers are drawn at most."""
    return 0.13 * float(np.ptp(looks.finished[-1].vertices[:, 0]))


def _box_of(uses: Sequence[tuple[Shown, Numbers]]) -> Numbers:
    points = np.vstack([into_place(shown.vertices, move) for shown, move in uses])
    return np.stack([points.min(axis=0), points.max(axis=0)])
