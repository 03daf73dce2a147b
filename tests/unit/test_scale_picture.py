"""The picture of a finished scale: bands as wide as trigonometry says, cuts to scale, the same every time."""

import io
import math
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from PIL import Image

from scalegen.__main__ import main
from scalegen.design import Scale, design
from scalegen.form.draped import draped_plan
from scalegen.form.reveal import creases, face_lines, regions, reveals
from scalegen.model import Crown, Edge, Face, Front, Liner, OutlineSource, Pattern, PinSpec
from scalegen.outline.ring import Ring
from scalegen.report.picture_png import picture_png
from scalegen.report.picture_shapes import Curve, Disc, Label, Picture
from scalegen.report.picture_svg import picture_svg
from scalegen.report.scale_picture import draw_scale
from scalegen.report.scale_picture_plan import stripes
from scalegen.report.scale_picture_profile import across_widest, behind_front, between, spread
from scalegen.shop import load_shop, resolve_stack

SHOP = load_shop(None)
STACK = resolve_stack(SHOP, "paper-six")
LINER, FILM = STACK.layers[0].thickness_mm, STACK.layers[1].thickness_mm
BOX = Ring.from_rows([[-20, -10], [60, -10], [60, 10], [-20, 10]])
PATTERN = Pattern(
    name="stripe",
    title="Stripe <&>",
    units="mm",
    path=Path("stripe.toml"),
    outline=OutlineSource(),
    tang_mm=3.0,
    front=Front(at_mm=0.0, angle_rad=math.pi / 2, treatment="bevel", slope_rad=math.radians(20), land_mm=0.2),
    thickness_mm=3.0,
    edge=Edge(),
    trim_mm=0.5,
    back_allowance_mm=0.0,
    pins=(PinSpec(at_mm=(40.0, 0.0), hardware="pin 3mm"),),
)
CROWNED = replace(PATTERN, face=Face(crown=Crown(radius_mm=20.0, at_mm=0.0)), thickness_mm=3.2)


def scale_of(pattern: Pattern = PATTERN) -> Scale:
    """A block of 60 x 20 mm."""
    return design(pattern, BOX, STACK, SHOP)


def written(picture: Picture) -> str:
    """All that is written on the page."""
    return " | ".join(s.text for s in (*picture.drawn, *picture.over) if isinstance(s, Label))


def per_mm(picture: Picture) -> float:
    """Length on the page of one mm of the block's plan, by the block's own 60 mm."""
    wide = [Ring.from_rows(s.rows).bounds_mm for s in picture.drawn if isinstance(s, Curve) and s.closed]
    return float(max(x1 - x0 for x0, _, x1, _ in wide if x1 - x0 < 250)) / 60


def painted_mm2(picture: Picture, color: str) -> float:
    """Area of a colour within the window, in the block's own size, counted in pixels."""
    image = np.asarray(Image.open(io.BytesIO(picture_png(picture, 2000))))
    dot = picture.width_mm / image.shape[1]
    left, top, right, bottom = (round(v / dot) for v in picture.window_mm)
    want = np.array([int(color[k : k + 2], 16) for k in (1, 3, 5)])
    same = (np.abs(image[top:bottom, left:right].astype(int) - want) < 4).all(axis=2)
    area: float = float(same.sum()) * (dot / per_mm(picture)) ** 2
    return area


def test_the_stripe_of_a_bevel_is_as_wide_as_it_will_be() -> None:
    """The liner's colour must cover 20 mm by (h - land) / tan(slope) but for lines. Source: trigonometry."""
    scale = scale_of()
    width = (LINER - 0.2) / math.tan(math.radians(20))
    picture = draw_scale(scale)
    found = painted_mm2(picture, scale.spans[0].color)
    assert 0.75 * 20 * width < found < 20 * width
    assert f"{width:.2f} mm behind the front" in written(picture)


def test_a_crown_shows_its_liner_along_both_sides() -> None:
    """Two strips between half the width and sqrt(R^2 - (R - (T - h))^2) must be seen. Source: circle."""
    scale = scale_of(CROWNED)
    half = math.sqrt(20**2 - (20 - (3.2 - LINER)) ** 2)
    picture = draw_scale(scale)
    behind_bevel = 60 - (LINER - 0.2) / math.tan(math.radians(20))
    want = 2 * (10 - half) * behind_bevel + 20 * (60 - behind_bevel)
    # Lines along all sides take some of such narrow strips.
    assert 0.7 * want < painted_mm2(picture, scale.spans[0].color) < want


def test_regions_are_sections_and_exact() -> None:
    """Of the block 60 - (h - land) / tan(slope) must be left above a boundary, and all of it below."""
    whole, film, face = regions(scale_of())
    for chains, z in ((whole, 0.0), (film, LINER), (face, LINER + FILM)):
        back = max(0.0, z - 0.2) / math.tan(math.radians(20))
        assert sum(Ring(rows).area_mm2 for rows in chains) == pytest.approx(20 * (60 - back), abs=1e-6)


def test_the_face_begins_where_front_and_edge_end() -> None:
    """On a flat and on a crowned block the face must lie r inside the outline, and behind the bevel."""
    edge = Edge(treatment="round", size_mm=1.2)
    run = 2.8 / math.tan(math.radians(20))
    for face in (Face(), Face(crown=Crown(radius_mm=1e5, at_mm=0.0))):
        (rows,) = face_lines(scale_of(replace(PATTERN, edge=edge, face=face)))
        x0, y0, x1, y1 = Ring(rows).bounds_mm
        assert (x0, y0, x1, y1) == pytest.approx((run, -8.8, 58.8, 8.8), abs=2e-3)


def test_front_and_edge_meet_where_both_leave_the_same() -> None:
    """Every point of a crease must be as high on the bevel as on the round-over. Source: circle and line."""
    r, top, slope = 1.2, 3.0, math.tan(math.radians(20))
    found = creases(scale_of(replace(PATTERN, edge=Edge(treatment="round", size_mm=r))))
    assert len(found) == 2
    for x, y in np.vstack(found):
        inside = 10 - abs(y)
        assert 0.2 + x * slope == pytest.approx(top - r + math.sqrt(r**2 - (r - inside) ** 2), abs=1e-5)


def test_both_cuts_follow_the_surface() -> None:
    """Across, a crown must be a circle; back from the front, the bevel a straight line up to the face."""
    scale = scale_of(CROWNED)
    plan = draped_plan(scale, finished=True)
    across, back = across_widest(scale, plan), behind_front(scale, plan, 12.0)
    q = across.along_mm - 10
    assert across.length_mm == pytest.approx(20)
    assert across.height_mm == pytest.approx(3.2 - 20 + np.sqrt(400 - q**2), abs=1e-4)
    bevel = 0.2 + back.along_mm * math.tan(math.radians(20))
    assert back.length_mm == pytest.approx(12)
    assert back.height_mm == pytest.approx(np.minimum(bevel, 3.2), abs=2e-3)


def test_boundaries_on_both_sides_of_glue_have_one_number() -> None:
    """The liner's upper side and the face's lower one must be told of together, with where the glue ends."""
    (stripe,) = stripes(scale_of(), reveals(scale_of()))
    assert (stripe.below.under, stripe.above.over) == (STACK.layers[0].name, STACK.layers[2].name)
    end = (LINER + FILM - 0.2) / math.tan(math.radians(20))
    assert f"glue up to {end:.2f} mm" in written(draw_scale(scale_of()))


def test_layers_of_one_darkness_are_told_apart_without_colours() -> None:
    """Between two dark layers the line must be light, elsewhere dark, so that a grey print shows it."""
    assert between("#2f6b57", "#6b4a32").color == "#f2f2f2"
    assert between("#2f6b57", "#e2d7b0").color == between("#e2d7b0", "#cfc6a6").color == "#111111"
    grey = Image.open(io.BytesIO(picture_png(draw_scale(scale_of()), 1600))).convert("L")
    picture = draw_scale(scale_of())
    dot = picture.width_mm / 1600
    middle = (picture.window_mm[1] + picture.window_mm[3]) / 2 - 6.0
    row = np.asarray(grey)[round(middle / dot)].astype(int)
    inside = row[np.flatnonzero(row < 60)[0] :][: round(8.0 / dot)]
    # From the front: its dark edge, liner, the light film of glue between dark lines, face.
    assert np.ptp(inside) > 60


def test_what_does_not_show_is_said() -> None:
    """With a square front and edge no number may be drawn, and it must be said that nothing shows."""
    picture = draw_scale(scale_of(replace(PATTERN, front=Front(at_mm=0.0, angle_rad=math.pi / 2))))
    assert "No boundary between layers shows" in written(picture)
    assert not [s for s in picture.drawn if isinstance(s, Label) and s.text.isdigit()]


def test_pins_are_as_wide_as_they_are() -> None:
    """The disc in the hardware's colour must be 3 mm across, and lie in a hole as wide as its drill."""
    scale = scale_of()
    picture = draw_scale(scale)
    part = SHOP.hardware["pin 3mm"]
    discs = [s for s in picture.drawn if isinstance(s, Disc)]
    (pin,) = [s for s in discs if s.fill == part.color]
    assert 2 * pin.radius_mm / per_mm(picture) == pytest.approx(3.0)
    assert any(2 * s.radius_mm / per_mm(picture) == pytest.approx(scale.holes[0].hole_mm) for s in discs)


def test_a_proud_liner_is_seen_round_the_face() -> None:
    """A liner 1 mm proud of three sides must show 2 x 60 + 20 + 2 mm2 more, lines taken off."""
    plain = replace(PATTERN, front=Front(at_mm=0.0, angle_rad=math.pi / 2))
    scale = scale_of(replace(plain, liner=Liner(step_mm=1.0)))
    picture = draw_scale(scale)
    found = painted_mm2(picture, scale.spans[0].color)
    assert 0.7 * 142 < found < 142


def test_places_beside_a_column_keep_apart() -> None:
    """Labels must lie a gap apart, in order, and those with room where they belong."""
    places = spread([100.0, 99.0, 98.5, 60.0], 4.0)
    assert places[3] == 60.0
    assert min(a - b for a, b in pairwise(places)) >= 4.0 - 1e-9
    assert sum(places[:3]) == pytest.approx(297.5)


def test_the_same_scale_gives_the_same_bytes() -> None:
    """Two drawings must be equal, as text and as pixels, and the text well-formed without scripts."""
    one, other = draw_scale(scale_of(CROWNED)), draw_scale(scale_of(CROWNED))
    text = picture_svg(one)
    assert text == picture_svg(other)
    assert picture_png(one, 400) == picture_png(other, 400)
    assert ET.fromstring(text.encode()).attrib["width"] == "280mm"  # noqa: S314 - written above
    assert "Stripe &lt;&amp;&gt;" in text


@pytest.mark.parametrize(("name", "head"), [("x/siskin.svg", b"<?xml"), ("siskin.PNG", b"\x89PNG")])
def test_show_pattern_writes_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str, head: bytes
) -> None:
    """The command must print its tables, write the picture where it is asked for, and say where."""
    profile = Path(__file__).parents[2] / "profiles" / "siskin.toml"
    target = tmp_path / name
    assert main(["show", "pattern", str(profile), "--measured", "6.8", "--picture", str(target)]) == 0
    assert target.read_bytes().startswith(head)
    printed = capsys.readouterr().out
    assert "finished thickness" in printed
    assert f"picture: {target}" in printed


def test_another_kind_of_picture_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What is neither .svg nor .png must be a usage fault, before anything is read."""
    code = main(["show", "pattern", "not-there.toml", "--picture", str(tmp_path / "x.pdf")])
    assert (code, ".svg or .png" in capsys.readouterr().err) == (2, True)
