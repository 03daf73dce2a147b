"""The 3D page in a real browser: silent, drawn, clickable, usable by keys, readable, fine on a phone."""

import io
import json
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from scalegen.model import JobSpec
from scalegen.pipeline import Job, make_pattern, study_pattern
from scalegen.together import Wanted, make_together

ROOT = Path(__file__).parents[2]
Browser = Any
"""The record of that name in conftest.py, which cannot be imported from here."""

PLACE = """(() => {
  const p = [%s], { view, lens } = matrices();
  const row = (m, v, k) => m[k] * v[0] + m[4 + k] * v[1] + m[8 + k] * v[2] + m[12 + k] * v[3];
  const at = (m, v) => [0, 1, 2, 3].map((k) => row(m, v, k));
  const c = at(lens, at(view, [...p, 1])), box = canvas.getBoundingClientRect();
  return [box.left + (c[0] / c[3] + 1) / 2 * box.width, box.top + (1 - c[1] / c[3]) / 2 * box.height];
})()"""
SAID = "document.getElementById('said').textContent"
TOLD = "document.getElementById('told').textContent"


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Job:
    """The demo with a tube and two sheets."""
    spec = JobSpec(pairs=6, formats=("page",), out=tmp_path_factory.mktemp("out"))
    return make_pattern(ROOT / "profiles" / "harrier.toml", spec)


@pytest.fixture
def page(browser: Browser, job: Job) -> Iterator[Browser]:
    """The job's page, open on a desk; afterwards nothing may have gone wrong in it."""
    browser.open(job.folder / "view.html")
    yield browser
    assert troubles(browser) == []


def troubles(browser: Browser) -> list[Any]:
    """Errors, warnings of ours and requests to outside since the page was opened."""
    found: list[Any] = [browser.said("Runtime.exceptionThrown"), browser.said("Runtime.consoleAPICalled")]
    # A driver that draws by software warns that reading a pixel is slow.
    entries = [each["entry"] for each in browser.said("Log.entryAdded")]
    found.append([e for e in entries if e["level"] == "error" or "GL Driver Message" not in e["text"]])
    urls = [each["request"]["url"] for each in browser.said("Network.requestWillBeSent")]
    found.append([url for url in urls if not url.startswith(("data:", "file:"))])
    found.append(sum(url.startswith("file:") for url in urls) - 1)
    return [each for each in found if each]


def shown(browser: Browser) -> np.ndarray:
    """The pixels of the 3D view."""
    box = browser.run(
        "(({left, top, right, bottom}) => [left, top, right, bottom])(canvas.getBoundingClientRect())"
    )
    with Image.open(io.BytesIO(browser.picture())) as image:
        return np.asarray(image.convert("RGB").crop(box)).astype(int)


def choose(browser: Browser, mode: str) -> None:
    """Show the job in another way."""
    browser.run(f"document.querySelector('[name=mode][value={json.dumps(mode)}]').click()")
    browser.settle()


def click_at(browser: Browser, *place_mm: float) -> None:
    """Click where a place of the scene is seen."""
    x, y = browser.run(PLACE % ", ".join(map(str, place_mm)))
    browser.click(x, y)


def share_of(pixels: np.ndarray, color: str, off: int = 30) -> float:
    """Part of the pixels that have a colour, about."""
    want = np.array([int(color[k : k + 2], 16) for k in (1, 3, 5)])
    return float((np.abs(pixels - want).max(axis=2) <= off).mean())


def test_every_way_to_show_the_job_is_drawn(page: Browser) -> None:
    """Pair, handle and both sheets are drawn, in the face sheet's colour; each is announced."""
    words = {"cut": "As cut.", "tang": "On the tang.", "sheet-1": "8 scales", "sheet-2": "4 scales"}
    modes = page.run("job.modes.map((mode) => mode.id)")
    assert modes == list(words)
    for mode in reversed(modes):
        choose(page, mode)
        assert share_of(shown(page), "#6b4a32") > 0.04, mode
        assert words[mode] in page.run(SAID)


def test_a_click_tells_the_sizes_of_a_layer_and_a_pin(page: Browser, job: Job) -> None:
    """A face tells its thickness, a hole its pin, as in the job's record; a click beside clears."""
    pin = job.record["pins"][0]
    choose(page, "tang")
    top = job.record["pattern"]["tang"]["thickness_mm"] / 2 + job.record["scale"]["thickness_mm"]
    click_at(page, 60.0, 0.0, top)
    layer = job.record["scale"]["layers"][-1]
    assert f"Thickness{layer['to_mm'] - layer['from_mm']:.2f} mm" in page.run(TOLD)
    click_at(page, *pin["at_mm"], top)
    said = page.run(SAID)
    assert f"Hole {pin['hole_mm']:.2f} mm" in said
    assert f"Rod cut to {pin['cut_length_mm']:.2f} mm" in said
    assert pin["drill"] in said
    choose(page, "cut")
    click_at(page, *pin["at_mm"], job.record["scale"]["thickness_mm"])
    assert "Pin 1" in page.run(SAID)
    page.click(30, 400)
    assert page.run("told") is None


def test_every_scale_and_the_pad_answer_on_the_sheet(page: Browser, job: Job) -> None:
    """A click on each scale says its label, one on the pad that it is the pad."""
    choose(page, "sheet-1")
    sheet, high = job.record["sheets"][0], job.record["scale"]["thickness_mm"]
    for place in sheet["placements"]:
        turn, side = math.radians(place["angle_deg"]), 1 if place["side"] == "left" else -1
        x, y = 62.0, 3.0 * side  # between the pins
        at = (x * math.cos(turn) - y * math.sin(turn), x * math.sin(turn) + y * math.cos(turn))
        click_at(page, place["x_mm"] + at[0], place["y_mm"] + at[1], high)
        assert page.run(SAID).startswith(f"{place['label']}, {place['side']} scale"), place
        assert page.run("[...document.querySelectorAll('#tags .lit')].map((e) => e.textContent)") == [
            place["label"]
        ]
    pad = sheet["pad"]
    click_at(
        page, pad["x_mm"] + pad["w_mm"] / 2, pad["y_mm"] + pad["h_mm"] / 2, job.record["stack"]["used_mm"]
    )
    assert page.run(SAID).startswith("Reference pad")


def test_tags_stand_on_their_scales(page: Browser, job: Job) -> None:
    """A click through each tag hits the scale whose label it bears, from wherever the sheet is seen."""
    choose(page, "sheet-1")
    for turn in range(2):
        for number, place in enumerate(job.record["sheets"][0]["placements"]):
            x, y = page.run(
                f"(({{left, top, width, height}}) => [left + width / 2, top + height / 2])"
                f"(byId('tags').children[{number}].getBoundingClientRect())"
            )
            page.click(x, y)
            assert page.run(SAID).startswith(place["label"]), (turn, place)
        page.run("document.querySelector('[data-do=left]').click()")
        page.settle()


def test_layers_go_on_and_off_and_apart(page: Browser) -> None:
    """Without the face sheet its colour is gone and the liner is seen; drawn apart, more of it is."""
    page.run("document.querySelector('[name=layer][value=\"paper face 6mm\"]').click()")
    page.settle()
    assert page.run(SAID) == "paper face 6mm hidden."
    page.run("document.querySelector('[name=layer][value=\"bond line 1\"]').click()")
    page.settle()
    pixels = shown(page)
    assert share_of(pixels, "#6b4a32") < 0.01
    assert share_of(pixels, "#2f6b57") > 0.08
    page.run("document.querySelectorAll('[name=layer]:not(:checked)').forEach((box) => box.click())")
    choose(page, "tang")
    before = share_of(shown(page), "#2f6b57")
    page.run("(() => { const a = byId('apart'); a.value = 100; a.dispatchEvent(new Event('input')); })()")
    page.settle()
    assert share_of(shown(page), "#2f6b57") > before + 0.03
    edge = shown(page)
    background = np.concatenate([edge[0], edge[-1]])
    assert np.ptp(background, axis=0).max() < 24  # nothing is cut off at the top or the bottom


def test_keys_turn_zoom_move_and_put_back(page: Browser) -> None:
    """Each key changes what is seen; 0 brings back the very picture."""
    page.run("canvas.focus()")
    start = shown(page)
    for key, shift in (
        ("ArrowLeft", False),
        ("ArrowUp", False),
        ("+", False),
        ("-", False),
        ("ArrowRight", True),
    ):
        before = shown(page)
        page.press(key, shift)
        assert (shown(page) != before).any(), key
    page.press("0")
    assert (shown(page) == start).all()


def test_buttons_and_mouse_turn_and_zoom(page: Browser) -> None:
    """Every button of the hand changes what is seen; so do a drag, a drag with shift and the wheel."""
    for name in page.run("[...document.querySelectorAll('#hand button')].map((b) => b.dataset.do)"):
        before = page.run("JSON.stringify(eye)")
        page.run(f"document.querySelector('[data-do={name}]').click()")
        page.settle()
        assert page.run("JSON.stringify(eye)") != before, name
    for shift in (0, 8):
        before = page.run("JSON.stringify(eye)")
        for kind, x in (
            ("mousePressed", 400),
            ("mouseMoved", 430),
            ("mouseMoved", 470),
            ("mouseReleased", 470),
        ):
            page.call(
                "Input.dispatchMouseEvent",
                type=kind,
                x=x,
                y=420,
                button="left",
                buttons=1,
                clickCount=1,
                modifiers=shift,
            )
        page.settle()
        assert page.run("JSON.stringify(eye)") != before
        assert page.run("told") is None  # a drag is no click
    before = page.run("eye.away")
    page.call("Input.dispatchMouseEvent", type="mouseWheel", x=400, y=400, deltaX=0, deltaY=-120)
    page.settle()
    assert page.run("eye.away") < before


def test_all_can_be_reached_and_seen_by_tab(page: Browser) -> None:
    """Tab comes to the view, the ways to show, the hand, the slider, the boxes and the list, with a ring."""
    seen = []
    for _ in range(45):
        page.call("Input.dispatchKeyEvent", type="keyDown", key="Tab", windowsVirtualKeyCode=9)
        page.call("Input.dispatchKeyEvent", type="keyUp", key="Tab", windowsVirtualKeyCode=9)
        found = page.run(
            "(() => { const e = document.activeElement;"
            " const s = getComputedStyle(e.matches('[name=mode]') ? e.closest('label') : e);"
            " return [e.id || e.dataset.do || e.name || e.textContent, s.outlineStyle,"
            " parseFloat(s.outlineWidth)]; })()"
        )
        if page.run("document.activeElement === document.body"):
            break
        seen.append(found[0])
        assert found[1] != "none", found
        assert found[2] >= 2, found
    assert {"scene", "mode", "left", "back", "apart", "layer", "pin 1"} <= set(seen)


def test_what_has_a_name_for_the_ear(page: Browser) -> None:
    """Every control has a name in the browser's own accessibility tree, and what speaks is polite."""
    nodes = page.call("Accessibility.getFullAXTree")["nodes"]
    roles = {"button", "checkbox", "radio", "slider", "application", "img"}
    controls = [node for node in nodes if node.get("role", {}).get("value") in roles and not node["ignored"]]
    assert len(controls) > 20
    for node in controls:
        assert node.get("name", {}).get("value"), node
    assert page.run("document.getElementById('said').getAttribute('aria-live')") == "polite"
    assert page.run("document.documentElement.lang") == "en"


CONTRAST = """(() => {
  const part = (c) => (c /= 255) <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
  const light = (c) => 0.2126 * part(c[0]) + 0.7152 * part(c[1]) + 0.0722 * part(c[2]);
  const rgb = (text) => text.match(/[\\d.]+/g).map(Number);
  const found = [];
  for (const e of document.querySelectorAll('body *')) {
    const own = [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim());
    if (!own || e.closest('script, noscript, .hush, .skip, [hidden]') || !e.getClientRects().length) continue;
    let under = e, back = null;
    while (under && !back) {
      const color = rgb(getComputedStyle(under).backgroundColor);
      if (color.length < 4 || color[3] > 0) back = color;
      under = under.parentElement;
    }
    const [a, b] = [light(rgb(getComputedStyle(e).color)), light(back)].sort((p, q) => q - p);
    found.push([e.tagName + ' ' + e.textContent.slice(0, 30), (a + 0.05) / (b + 0.05)]);
  }
  return found;
})()"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_all_text_can_be_read(browser: Browser, job: Job, scheme: str) -> None:
    """In both schemes all text as drawn stands out 4.5 to 1 from what is behind it (WCAG 2.2, 1.4.3)."""
    browser.open(job.folder / "view.html", prefers_color_scheme=scheme)
    browser.run("document.querySelector('#list button').click()")
    browser.run("document.querySelector('details').open = true")
    browser.settle()
    found = browser.run(CONTRAST)
    assert len(found) > 40
    assert min(value for _, value in found) >= 4.5, sorted(found, key=lambda each: each[1])[:3]
    assert troubles(browser) == []


def test_a_phone_shows_it_all_without_sliding_sideways(browser: Browser, job: Job) -> None:
    """At 390 x 844 nothing is wider than the screen, and what is to be touched is 24 px high at least."""
    browser.open(job.folder / "view.html", size=(390, 844))
    assert browser.run("document.documentElement.scrollWidth") <= 390
    assert share_of(shown(browser), "#6b4a32") > 0.03
    heights = browser.run(
        "[...document.querySelectorAll('button, .modes label, #layers label, summary, [type=range]')]"
        ".map((e) => [e.textContent || e.id, e.getBoundingClientRect().height])"
    )
    assert min(height for _, height in heights) >= 24  # WCAG 2.2, 2.5.8
    assert troubles(browser) == []


SEEN = """(() => {
  const { view, lens } = matrices();
  const row = (m, v, k) => m[k] * v[0] + m[4 + k] * v[1] + m[8 + k] * v[2] + m[12 + k] * v[3];
  const at = (m, v) => [0, 1, 2, 3].map((k) => row(m, v, k));
  const box = canvas.getBoundingClientRect(), found = [];
  for (const k of [0, 1, 2, 3, 4, 5, 6, 7]) {
    const corner = [mode.box[k & 1][0], mode.box[(k >> 1) & 1][1], mode.box[k >> 2][2], 1];
    const c = at(lens, at(view, corner));
    found.push([box.left + (c[0] / c[3] + 1) / 2 * box.width, box.top + (1 - c[1] / c[3]) / 2 * box.height]);
  }
  return found;
})()"""


@pytest.mark.parametrize("size", [(1280, 800), (390, 844), (320, 640), (844, 390)])
def test_nothing_covers_the_job(browser: Browser, job: Job, size: tuple[int, int]) -> None:
    """The buttons stand in one row; the box round what is shown lies between them and the ways to show."""
    browser.open(job.folder / "view.html", size=size)
    tops = browser.run(
        "[...document.querySelectorAll('#hand button')].map((e) => e.getBoundingClientRect().top)"
    )
    assert len(set(tops)) == 1
    above, below, right = browser.run(
        "[byId('top').getBoundingClientRect().bottom, byId('hand').getBoundingClientRect().top,"
        " canvas.getBoundingClientRect().right]"
    )
    for mode in browser.run("job.modes.map((mode) => mode.id)"):
        choose(browser, mode)
        corners = np.array(browser.run(SEEN))
        assert corners[:, 0].min() >= 0, mode
        assert corners[:, 0].max() <= right, mode
        assert corners[:, 1].min() >= above, mode
        assert corners[:, 1].max() <= below, mode


def test_a_desk_has_one_scroll_bar(page: Browser) -> None:
    """On a desk the page itself never scrolls; only the panel does."""
    assert page.run("document.documentElement.scrollHeight <= innerHeight")
    page.run("document.querySelector('details').open = true")
    page.settle()
    assert page.run("document.documentElement.scrollHeight <= innerHeight")
    assert page.run(
        "(({scrollHeight, clientHeight}) => scrollHeight > clientHeight)(document.querySelector('.panel'))"
    )


def test_several_patterns_are_chosen_from_a_list(
    browser: Browser, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """The list changes the pattern and keeps the way to show it; on a sheet all stand, without the list."""
    spec = JobSpec(formats=("page",), tabs=0, out=tmp_path_factory.mktemp("two"))
    wanted = [
        Wanted(study=study_pattern(ROOT / "profiles" / f"{name}.toml", spec), pairs=1)
        for name in ("harrier", "siskin")
    ]
    job = make_together(wanted, spec)
    assert sorted(path.name for path in job.folder.glob("*.html")) == ["view.html"]
    browser.open(job.folder / "view.html")
    pick = (
        "(() => { const s = byId('patterns'); s.value = 'siskin'; s.dispatchEvent(new Event('change')); })()"
    )
    choose(browser, "tang")
    before = shown(browser)
    browser.run(pick)
    browser.settle()
    assert (shown(browser) != before).any()
    assert browser.run(SAID).startswith("On the tang, Siskin paring knife.")
    lot = job.record["lots"][1]
    assert f"{2 * lot['scale']['thickness_mm'] + 2.0:.2f} mm" in browser.run(TOLD)  # its tang is 2 mm
    choose(browser, "cut")
    assert browser.run("mode.pattern") == "siskin"
    choose(browser, "sheet-1")
    assert not browser.run("byId('which').checkVisibility()")
    high = job.record["scale"]["thickness_mm"]
    for place in job.record["sheets"][0]["placements"]:
        turn, side = math.radians(place["angle_deg"]), 1 if place["side"] == "left" else -1
        x, y = 62.0, 3.0 * side
        at = (x * math.cos(turn) - y * math.sin(turn), x * math.sin(turn) + y * math.cos(turn))
        click_at(browser, place["x_mm"] + at[0], place["y_mm"] + at[1], high)
        assert browser.run(SAID).startswith(f"{place['label']}, {place['side']} scale"), place
        assert f"Pattern {place['pattern']}" in browser.run(SAID)
    assert troubles(browser) == []


def test_reduced_motion_jumps(browser: Browser, job: Job) -> None:
    """With reduced motion a button takes the view there at once; without, it takes some pictures."""
    for motion, at_once in (("reduce", True), ("no-preference", False)):
        browser.open(job.folder / "view.html", prefers_reduced_motion=motion)
        moved = browser.run(
            "(() => { const before = eye.turn; document.querySelector('[data-do=left]').click();"
            " return eye.turn !== before; })()"
        )
        assert moved is at_once


def test_without_3d_there_is_a_picture_and_the_sizes(browser_without_3d: Browser, job: Job) -> None:
    """A browser that cannot draw in 3D shows the picture, says so, and still tells all sizes."""
    browser = browser_without_3d
    browser.open(job.folder / "view.html")
    assert browser.run("document.getElementById('instead').checkVisibility()")
    assert browser.run("document.querySelector('#instead img').naturalWidth") > 1000
    assert not browser.run("canvas.checkVisibility()")
    browser.run(
        "[...document.querySelectorAll('#list button')].find((b) => b.textContent === 'pin 1').click()"
    )
    assert "Rod cut to 18.00 mm" in browser.run(SAID)
    assert browser.said("Runtime.exceptionThrown") == []


def test_the_job_lists_the_page(job: Job) -> None:
    """The page is in the job's record with its checksum, and below 3 MB."""
    (row,) = [each for each in job.record["files"] if each["path"] == "view.html"]
    assert row["bytes"] == (job.folder / "view.html").stat().st_size < 3e6
