"""The page of a job: the same bytes, nothing from outside, numbers as in the record, meshes as they were."""

import base64
import html.parser
import json
import re
from dataclasses import fields, replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import scalegen
from scalegen.design import Scale
from scalegen.form.volumes import scale_volumes
from scalegen.looks import looked_at
from scalegen.looks.facts import layer_fact, pin_fact
from scalegen.looks.hardware import loose_hardware
from scalegen.looks.pack import packed
from scalegen.looks.page import page
from scalegen.looks.plain import blank_shown, hole_plug, pad_box, tab_box
from scalegen.machining.bridges import Bridge, Bridges
from scalegen.machining.tabs import Tab
from scalegen.model import JobSpec
from scalegen.outline.ring import Ring
from scalegen.report.made import Lot, Made
from scalegen.sheet.layout import PadBox, Placement, SheetLayout, Zone, box_ring
from scalegen.solids.look import Looks, Shown
from scalegen.study import Study, study_pattern

PROFILES = Path(__file__).parents[2] / "profiles"
STYLE = (Path(scalegen.__file__).parent / "data" / "page" / "view.css").read_text(encoding="utf-8")
LAYOUT = SheetLayout(
    name="sheet-1",
    length_mm=300.0,
    width_mm=150.0,
    margin_mm=3.0,
    spacing_mm=4.0,
    pad=PadBox(x_mm=3.0, y_mm=3.0, w_mm=20.0, h_mm=20.0),
    origin="lower-left",
    placements=(
        Placement(label="1L", pattern="harrier", side="left", x_mm=40.0, y_mm=60.0, angle_rad=0.0),
        Placement(label="1R", pattern="harrier", side="right", x_mm=290.0, y_mm=60.0, angle_rad=np.pi),
    ),
)


@cache
def study() -> Study:
    """The demo with pins and a tube."""
    return study_pattern(PROFILES / "harrier.toml", JobSpec())


def piece(scale: Scale, name: str = "face") -> Shown:
    """A small piece that stands for a layer."""
    return replace(loose_hardware(scale)[0], name=name, kind="face", color="#6b4a32")


def looks(scale: Scale) -> Looks:
    """Pieces in the places of layers."""
    layers = tuple(replace(piece(scale, span.name), kind=span.kind) for span in scale.spans)
    return Looks(pattern="harrier", as_cut=layers, finished=layers, tang=replace(piece(scale), kind="tang"))


def made(scale: Scale) -> Made:
    """A job of one pair on one sheet."""
    lot = Lot(scale=scale, volumes=scale_volumes(scale), pairs=1, spares=0, blank=None, facing=study().facing)
    empty = {each.name: () for each in fields(Made)}
    known = {"lots": (lot,), "spec": JobSpec(), "shop": study().shop, "layouts": (LAYOUT,), "record": {}}
    return Made(**{**empty, **known})


def data_of(text: str) -> Any:
    """What the page's script is given."""
    found = re.search(r'<script id="data" type="application/json">(.*?)</script>', text, re.DOTALL)
    assert found is not None
    return json.loads(found[1])


def test_same_job_same_bytes_and_nothing_from_outside() -> None:
    """Made twice the page is the same; it names no address, and its policy allows none."""
    scale = study().scale
    one = page(made(scale), [looks(scale)], [b"png"])
    assert one == page(made(scale), [looks(scale)], [b"png"])
    text = one.decode()
    assert "@@" not in text
    assert not re.search(r"(?:https?:)?//[\w.-]+\.\w", re.sub(r"^\s*//.*$", "", text, flags=re.MULTILINE))
    assert "default-src 'none'" in text
    assert not re.search(r'<(?:link|script|img)[^>]*(?:src|href)="(?!data:)', text)


def test_names_cannot_break_out_of_the_page() -> None:
    """Markup in a title stays text, in the heading and in the data; "@@" in a name is left as it is."""
    scale = study().scale
    evil = '</script><script>alert(1)</script> & "@@STYLE@@"'
    scale = replace(scale, pattern=replace(scale.pattern, title=evil))
    scale = replace(scale, spans=tuple(replace(span, name=f"{span.name}{evil}") for span in scale.spans))
    text = page(made(scale), [looks(scale)], [b"png"]).decode()

    class Headings(html.parser.HTMLParser):
        """Text of the headings and number of scripts."""

        def __init__(self) -> None:
            super().__init__()
            self.text, self.scripts, self.inside = "", 0, False

        def handle_starttag(self, tag: str, attrs: object) -> None:  # noqa: ARG002 - given by the parser
            self.scripts += tag == "script"
            self.inside = tag == "h1"

        def handle_data(self, data: str) -> None:
            self.text += data if self.inside else ""
            self.inside = False

    found = Headings()
    found.feed(text)
    assert found.text == evil
    assert found.scripts == 2
    titles = [fact["title"] for fact in data_of(text)["facts"]]
    assert any(evil in title for title in titles)


def test_a_packed_mesh_unpacks_to_what_it_was() -> None:
    """Corners come back within half a step of 16 bits, normals within one of 8, rows exactly."""
    shown = piece(study().scale)
    found = packed(shown)
    corners, sides, wide, ends = found["counts"]
    raw = base64.b64decode(found["data"])
    cut = np.cumsum([corners * 8, corners * 4, ends * 8, sides * 6])
    assert (len(raw), wide) == (cut[-1], 0)
    low, size = np.array(found["low"]), np.array(found["size"])
    places = np.frombuffer(raw[: cut[0]], "<u2").reshape(-1, 4)[:, :3]
    step = size / 65535
    assert (np.abs(low + places * step - shown.vertices) <= step / 2 + 2e-6).all()
    outs = np.frombuffer(raw[cut[0] : cut[1]], np.int8).reshape(-1, 4)[:, :3] / 127
    assert np.abs(outs - shown.normals).max() <= 0.5 / 127 + 1e-6
    lines = np.frombuffer(raw[cut[1] : cut[2]], "<u2").reshape(-1, 4)[:, :3]
    assert (np.abs(low + lines * step - shown.edges.reshape(-1, 3)) <= step / 2 + 2e-6).all()
    assert (np.frombuffer(raw[cut[2] :], "<u2").reshape(-1, 3) == shown.triangles).all()


def test_sizes_are_told_in_the_patterns_unit() -> None:
    """What is told of a layer and a pin are the scale's numbers; in inches with one decimal more."""
    scale = study().scale
    face = layer_fact(scale, scale.spans[-1], "left", finished=True)
    assert face.rows == (("Thickness", "5.40 mm"), ("From the back", "0.80 to 6.20 mm"))
    liner = layer_fact(scale, scale.spans[0], None, finished=True)
    assert liner.rows[0] == ("Thickness", "0.70 mm")  # 0.1 of it goes when the back is flattened
    assert layer_fact(scale, scale.spans[0], None, finished=False).rows[0] == ("Thickness", "0.80 mm")
    assert dict(pin_fact(scale, 1).rows)["Hole"] == "3.10 mm"
    inches = replace(scale, pattern=replace(scale.pattern, units="in"))
    assert layer_fact(inches, scale.spans[-1], "left", finished=True).rows[0] == ("Thickness", "0.213 in")


def test_scales_lie_where_the_layout_has_them() -> None:
    """Moves of a placement take the left scale, and the mirror image of it, as the layout places points."""
    scale = study().scale
    modes = {mode["id"]: mode for mode in data_of(page(made(scale), [looks(scale)], [b""]).decode())["modes"]}
    facts = data_of(page(made(scale), [looks(scale)], [b""]).decode())["facts"]
    points = np.array([[0.0, 0.0], [10.0, 0.0], [0.0, 5.0], [33.0, -7.0]])
    for place in LAYOUT.placements:
        (item, *_) = [
            item
            for item in modes["sheet-1"]["items"]
            if item["told"] is not None and facts[item["told"]]["short"] == place.label
        ]
        move = np.array(item["move"]).reshape(4, 3).T
        own = points if place.side == "left" else points * [1, -1]
        there = points @ move[:2, :2].T + move[:2, 3]
        assert there == pytest.approx(place.place(own), abs=1e-4)
        assert move[2] == pytest.approx([0, 0, 1, scale.back_allowance_mm])


def test_before_anything_is_chosen_the_whole_is_told() -> None:
    """As cut the scale's sizes are told, on the tang the handle's: tang and two scales thick."""
    scale = study().scale
    found = data_of(page(made(scale), [looks(scale)], [b""]).decode())
    told = {mode["id"]: found["facts"][mode["told"]] for mode in found["modes"]}
    x0, y0, x1, y1 = scale.as_cut.bounds_mm
    assert dict(told["cut"]["rows"])["Length"] == f"{x1 - x0:.2f} mm"
    assert dict(told["cut"]["rows"])["Width"] == f"{y1 - y0:.2f} mm"
    assert dict(told["cut"]["rows"])["Thickness"] == "6.30 mm"
    assert dict(told["tang"]["rows"])["Handle, thickest"] == "16.40 mm"  # 4 + 2 * 6.2
    assert dict(told["sheet-1"]["rows"])["Size"] == "300.00 × 150.00 mm"
    assert [tag["text"] for tag in found["modes"][2]["tags"]] == ["1L", "1R"]


def two() -> tuple[Made, list[Looks]]:
    """A job of two patterns on one sheet; the second has meshes of its own."""
    one = made(study().scale)
    other = study_pattern(PROFILES / "siskin.toml", JobSpec()).scale
    shown = piece(other, "own")
    meshes = tuple(replace(shown, name=span.name) for span in other.spans)
    own = Looks(pattern="siskin", as_cut=meshes, finished=meshes, tang=replace(shown, kind="tang"))
    places = (*LAYOUT.placements, replace(LAYOUT.placements[0], label="2L", pattern="siskin", y_mm=100.0))
    lots = (*one.lots, replace(one.lots[0], scale=other, pairs=3, spares=1))
    return (
        replace(one, lots=lots, layouts=(replace(LAYOUT, placements=places),)),
        [looks(one.lots[0].scale), own],
    )


def test_several_patterns_have_one_page() -> None:
    """Each pattern is offered as cut and on the tang; on the sheet every scale has its own shape."""
    job, meshes = two()
    text = page(job, meshes, [b"one", b"two"]).decode()
    found = data_of(text)
    assert [each["id"] for each in found["patterns"]] == ["harrier", "siskin"]
    assert [(mode["id"], mode["pattern"]) for mode in found["modes"]] == [
        ("cut", "harrier"),
        ("tang", "harrier"),
        ("cut", "siskin"),
        ("tang", "siskin"),
        ("sheet-1", ""),
    ]
    facts, cut = found["facts"], {}
    for mode in found["modes"][0:4:2]:
        solid = {item["piece"] for item in mode["items"] if not item["ghost"]}
        cut[mode["pattern"]] = solid
    assert not cut["harrier"] & cut["siskin"]
    for item in found["modes"][-1]["items"]:
        rows = dict(facts[item["told"]]["rows"])
        if "Pattern" in rows:
            assert item["piece"] in cut[rows["Pattern"]]
    assert [tag["text"] for tag in found["modes"][-1]["tags"]] == ["1L", "1R", "2L"]
    assert "1 pair of harrier and 3 pairs of siskin and 1 spare on 1 sheet" in text
    for picture in (b"one", b"two"):
        assert text.count(base64.b64encode(picture).decode()) == 2  # without 3D, and without scripts


def test_pictures_of_several_patterns_say_which() -> None:
    """A plain job keeps its names; of several patterns each begins with its pattern; one page for all."""
    job, meshes = two()
    names = ("preview.png", "knife.png", "exploded.png")
    both = [name for name, _ in looked_at(job, meshes)]
    assert both == [
        *(f"harrier-{name}" for name in names),
        *(f"siskin-{name}" for name in names),
        "view.html",
    ]
    alone = [name for name, _ in looked_at(replace(job, lots=job.lots[:1]), meshes[:1])]
    assert alone == [*names, "view.html"]


def test_tabs_stand_on_the_sheet_where_they_are() -> None:
    """A tab's box has its width, length and height and starts at its foot, turned as it leads."""
    tab = Tab(x_mm=50.0, y_mm=40.0, out_rad=np.pi / 6, width_mm=3.0, height_mm=0.8, length_mm=4.2)
    shown = tab_box(tab)
    ways = np.array([[np.cos(np.pi / 6), np.sin(np.pi / 6)], [-np.sin(np.pi / 6), np.cos(np.pi / 6)]])
    own = (shown.vertices[:, :2] - [50.0, 40.0]) @ ways.T
    assert own.min(axis=0) == pytest.approx([0.0, -1.5], abs=1e-5)
    assert own.max(axis=0) == pytest.approx([4.2, 1.5], abs=1e-5)
    assert np.unique(shown.vertices[:, 2]) == pytest.approx([0.0, 0.8])
    a, b, c = (shown.vertices[shown.triangles[:, k]].astype(float) for k in range(3))
    # Triangles that all look outwards add up to the volume (divergence theorem).
    assert np.einsum("ij,ij->", a, np.cross(b, c)) / 6 == pytest.approx(3.0 * 4.2 * 0.8, rel=1e-4)
    towards = np.einsum("ij,ij->i", np.cross(b - a, c - a), shown.normals[shown.triangles[:, 0]])
    assert (towards > 0).all()
    job = made(study().scale)
    bridge = Bridge(label="1L", own_mm=(10.0, -9.0), along_mm=12.0, tab=tab, to="blank")
    job = replace(job, bridges=(Bridges(bridges=(bridge,)),))
    found = data_of(page(job, [looks(study().scale)], [b""]).decode())
    (item,) = [item for item in found["modes"][-1]["items"] if item["layer"] == "Tabs"]
    assert dict(found["facts"][item["told"]]["rows"])["On this sheet"] == "1"


def test_a_blank_with_a_hole_is_filled_but_for_the_hole() -> None:
    """The floor's triangles add up to the area without holes, and run counter-clockwise."""
    ring = Ring(np.array([(0, 0, 0), (200, 10, 0), (180, 90, 0.3), (20, 100, 0)], dtype=float))
    hole = box_ring(30.0, 20.0, 60.0, 40.0)
    zones = (Zone(ring=hole, kind="hole"), Zone(ring=box_ring(9.0, 9.0, 25.0, 20.0)))
    layout = replace(LAYOUT, outline=ring, zones=zones)
    shown = blank_shown(layout, 6.0)
    a, b, c = (shown.vertices[shown.triangles[:, k], :2].astype(float) for k in range(3))
    u, v = b - a, c - a
    areas = (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]) / 2
    assert (areas > -1e-6).all()
    # Chords 0.05 mm at most off an arc of 170 mm take away two thirds of that strip at most (flat segments).
    assert areas.sum() == pytest.approx(ring.area_mm2 - 600.0, abs=0.05 * 170 * 2 / 3)
    assert shown.edges[..., 2].max() == 6.0


def test_pads_and_plugs_are_as_large_as_what_they_stand_for() -> None:
    """A pad's box has its size and height; what fills a hole reaches from back to face."""
    pad = pad_box(LAYOUT.pad, 6.9, "pad")
    assert np.ptp(pad.vertices, axis=0) == pytest.approx([20.0, 20.0, 6.9], abs=1e-5)
    hole = study().scale.holes[0]
    plug = hole_plug(hole, -0.1, 6.2)
    assert plug.vertices[:, 2].min() == pytest.approx(-0.1, abs=1e-6)
    assert plug.vertices[:, 2].max() == pytest.approx(6.2, abs=1e-6)
    assert np.hypot(*plug.vertices[:, :2].T).max() == pytest.approx(hole.hole_mm / 2, abs=1e-5)


# ---------------------------------------------------------------------------------------------- style


def contrast(one: str, other: str) -> float:
    """Contrast of two colours "#rrggbb". Source: WCAG 2.2, contrast ratio and relative luminance."""

    def luminance(color: str) -> float:
        parts = [int(color[k : k + 2], 16) / 255 for k in (1, 3, 5)]
        red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_and_marks_stand_out(scheme: str) -> None:
    """Text has 4.5 to 1 on every paper, edges of controls and the focus ring 3 to 1 (WCAG 2.2)."""
    blocks = re.findall(r":root \{(.*?)\}", STYLE, re.DOTALL)
    colors = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", blocks[scheme == "dark"]))
    papers = ("paper", "sheet", "stage", "glow")
    for paper in papers:
        for ink in ("ink", "soft"):
            assert contrast(colors[ink], colors[paper]) >= 4.5, (ink, paper)
        for mark in ("edge", "blue"):
            assert contrast(colors[mark], colors[paper]) >= 3, (mark, paper)
    assert contrast(colors["on-blue"], colors["blue"]) >= 4.5
    assert contrast(colors["ink"], colors["tint"]) >= 4.5
    assert contrast("#ffffff", "#000000") == pytest.approx(21.0)


def test_motion_and_scheme_follow_the_system() -> None:
    """The style asks for the colour scheme, and the script for reduced motion."""
    script = (Path(scalegen.__file__).parent / "data" / "page" / "view.js").read_text(encoding="utf-8")
    assert "prefers-color-scheme: dark" in STYLE
    assert "prefers-reduced-motion: reduce" in script
    assert not re.search(r"transition|animation", STYLE)
