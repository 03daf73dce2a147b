"""Reading scans: what is taken, what is refused, and in which words."""

import io
import zlib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from scalegen.errors import PatternError
from scalegen.outline.read import Outline, outline_from_drawing
from scalegen.outline.read_scan import read_drawing, read_scan
from scalegen.outline.scan_load import load_picture
from scalegen.outline.scan_regions import Grey
from scalegen.sources import Marks, ScanSettings

DPI = 150.0


def paper(width_mm: float = 60.0, height_mm: float = 30.0) -> Grey:
    """White paper, row 0 on top."""
    return np.full((round(height_mm * DPI / 25.4), round(width_mm * DPI / 25.4)), 240, dtype=np.uint8)


def box(grey: Grey, low: tuple[int, int], high: tuple[int, int], level: int = 40) -> Grey:
    """A rectangle of pixels, ends left out, in another tone."""
    out = grey.copy()
    out[low[1] : high[1], low[0] : high[0]] = level
    return out


def bar() -> Grey:
    """A bar of 236 x 60 pixels (39.96 x 10.16 mm) with a round hole."""
    grey = box(paper(), (50, 50), (286, 110))
    y, x = np.mgrid[0 : grey.shape[0], 0 : grey.shape[1]]
    off = np.hypot(x - 120.0, y - 80.0)
    hole = (off - 9.5).clip(0, 1)  # 20 pixels across, 3.387 mm; the rim's pixels are shaded
    out = np.where(off < 12, 240 - 200 * hole, grey)
    return np.round(out).astype(np.uint8)


def save(path: Path, grey: Grey, dpi: float | None = DPI) -> Path:
    """Write a picture, with a resolution or without."""
    image = Image.fromarray(grey)
    if dpi is None:
        image.save(path)
    else:
        image.save(path, dpi=(dpi, dpi))
    return path


def read(path: Path, **how: Any) -> Outline:
    """Outline of a scan."""
    return outline_from_drawing(read_scan(path, ScanSettings(**how), "scan"), where="scan")


@pytest.mark.parametrize("ending", ["png", "jpg", "tif"])
def test_each_kind_of_file_by_its_own_resolution(tmp_path: Path, ending: str) -> None:
    """PNG, JPEG and TIFF files give the same bar in mm, with its hole as a circle."""
    drawing = read_drawing(save(tmp_path / f"bar.{ending}", bar()), units=None, where="bar")
    outline = outline_from_drawing(drawing, where="bar")
    x0, y0, x1, y1 = outline.ring.bounds_mm
    assert (x1 - x0, y1 - y0) == pytest.approx((236 * 25.4 / DPI, 60 * 25.4 / DPI), abs=0.05)
    assert len(outline.ring) == 4
    ((x, _, diameter),) = outline.holes
    assert x == pytest.approx(120.5 * 25.4 / DPI, abs=0.02)
    assert diameter == pytest.approx(20 * 25.4 / DPI, abs=0.03)
    assert "150 dpi" in outline.units


def test_up_is_up(tmp_path: Path) -> None:
    """What is higher in the picture has the larger y, measured from the picture's lower edge."""
    grey = bar()
    y0, y1 = read(save(tmp_path / "bar.png", grey)).ring.bounds_mm[1::2]
    assert y1 == pytest.approx((grey.shape[0] - 50) * 25.4 / DPI, abs=0.03)
    assert y0 == pytest.approx((grey.shape[0] - 110) * 25.4 / DPI, abs=0.03)


def test_light_on_dark(tmp_path: Path) -> None:
    """The negative of a scan gives the same outline."""
    plain = read(save(tmp_path / "a.png", bar()))
    negative = read(save(tmp_path / "b.png", 255 - bar()))
    assert negative.ring.bounds_mm == pytest.approx(plain.ring.bounds_mm, abs=0.01)


@pytest.mark.parametrize("mode", ["RGB", "RGBA", "P", "CMYK", "LA", "I;16", "F", "1"])
def test_every_kind_of_pixel(tmp_path: Path, mode: str) -> None:
    """Colours, palettes, deep and single-bit pixels all give the same bar."""
    deep = Image.fromarray(bar().astype(np.uint16) * 257)
    image = deep if mode == "I;16" else Image.fromarray(bar()).convert(mode)
    image.save(tmp_path / "bar.tif", dpi=(DPI, DPI))
    x0, _, x1, _ = read(tmp_path / "bar.tif").ring.bounds_mm
    assert x1 - x0 == pytest.approx(236 * 25.4 / DPI, abs=0.06)


def test_see_through_ground_is_white(tmp_path: Path) -> None:
    """A cut-out on nothing is read as dark on white."""
    ink = np.zeros((*bar().shape, 4), dtype=np.uint8)
    ink[..., 3] = 255 * (bar() < 140)
    Image.fromarray(ink).save(tmp_path / "bar.png", dpi=(DPI, DPI))
    assert len(read(tmp_path / "bar.png").holes) == 1


def test_turned_as_the_camera_noted(tmp_path: Path) -> None:
    """A picture stored on its side comes back upright, as every viewer shows it."""
    exif = Image.Exif()
    exif[0x0112] = 6
    stored = np.ascontiguousarray(np.rot90(bar()))
    Image.fromarray(stored).save(tmp_path / "bar.jpg", exif=exif, quality=95)
    upright = load_picture(tmp_path / "bar.jpg", "bar").grey[::-1]
    assert np.abs(upright.astype(float) - bar()).mean() < 2


def test_dust_is_ignored_and_counted(tmp_path: Path) -> None:
    """Specks on the paper and on the steel change nothing and are told of."""
    grey = box(box(bar(), (20, 20), (24, 24)), (200, 70), (204, 74), 240)
    outline = read(save(tmp_path / "bar.png", grey))
    assert len(outline.holes) == 1
    assert "ignored 1 speck" in outline.notes
    assert "ignored 1 speck inside the outline" in outline.notes


def test_two_shapes_are_asked_about(tmp_path: Path) -> None:
    """Two shapes of a size are named with their sizes, and either can be chosen."""
    path = save(tmp_path / "two.png", box(bar(), (60, 120), (260, 165)))
    with pytest.raises(PatternError, match=r"more than one contour.*39\.9.*33\.8"):
        read(path)
    drawing = read_scan(path, ScanSettings(), "scan")
    second = outline_from_drawing(drawing, contour=2, where="scan").ring.bounds_mm
    assert second[2] - second[0] == pytest.approx(200 * 25.4 / DPI, abs=0.06)
    with pytest.raises(PatternError, match="there is no contour 9"):
        outline_from_drawing(drawing, contour=9, where="scan")


REFUSED = [
    (paper(), {}, "no clear difference"),
    (box(paper(), (0, 50), (286, 110)), {}, "touches the picture's border"),
    (box(paper(), (50, 50), (60, 60)), {}, "only 1.69 mm long"),
    (bar(), {"card": True}, "no card is to be seen"),
    (bar(), {"dpi": 300.0, "card": True}, "only one of them"),
    (bar(), {"dpi": 0.0}, "no resolution"),
    (bar(), {"dpi": float("nan")}, "no resolution"),
    (bar(), {"tolerance_mm": 0.0}, "tolerance"),
    (bar(), {"marks": Marks(first_px=(5, 5), second_px=(6, 5), distance_mm=10)}, "well apart"),
    (np.full((10, 300), 9, dtype=np.uint8), {}, "only 300 x 10 pixels"),
]


@pytest.mark.parametrize(("grey", "how", "words"), REFUSED, ids=[case[2] for case in REFUSED])
def test_refused_with_a_remedy(tmp_path: Path, grey: Grey, how: dict[str, object], words: str) -> None:
    """What cannot be read well is refused in one message that says what to do."""
    with pytest.raises(PatternError, match=words) as caught:
        read(save(tmp_path / "bad.png", grey), **how)
    assert caught.value.remedy


@pytest.mark.parametrize(
    ("dpi", "words"), [(None, "does not say its resolution"), (72.0, "72 dpi, which programs write")]
)
def test_no_scale_no_outline(tmp_path: Path, dpi: float | None, words: str) -> None:
    """Without a resolution, or with one that only fills a gap, the tool asks."""
    with pytest.raises(PatternError, match=words):
        read_drawing(save(tmp_path / "bar.png", bar(), dpi), units=None, where="bar")


def test_a_photo_s_resolution_means_nothing(tmp_path: Path) -> None:
    """A file that tells of a lens is refused even with a likely resolution; a stated one goes."""
    exif = Image.Exif()
    exif[0x829A] = 0.01
    Image.fromarray(bar()).save(tmp_path / "bar.jpg", exif=exif, dpi=(300, 300))
    with pytest.raises(PatternError, match="this is a photo"):
        read_drawing(tmp_path / "bar.jpg", units=None, where="bar")
    assert len(read(tmp_path / "bar.jpg", dpi=DPI).holes) == 1


def test_a_huge_picture_is_refused_before_it_is_unpacked(tmp_path: Path) -> None:
    """A small file that would unpack to a thousand million pixels is refused by its size."""
    head = io.BytesIO()
    Image.fromarray(paper()).save(head, "PNG")
    table = bytearray(head.getvalue())
    for size in (5000, 60_000):
        table[16:24] = size.to_bytes(4, "big") * 2
        table[29:33] = zlib.crc32(bytes(table[12:29])).to_bytes(4, "big")
        (tmp_path / "huge.png").write_bytes(bytes(table))
        with pytest.raises(PatternError, match="too large" if size > 5000 else "cannot be read|no clear"):
            read(tmp_path / "huge.png", dpi=DPI)


def test_noise_alone_is_refused(tmp_path: Path) -> None:
    """A picture of nothing but noise has no outline, and that is said within a moment."""
    grey = np.random.default_rng(1).integers(0, 2, (1200, 1200)).astype(np.uint8) * 255
    with pytest.raises(PatternError):
        read(save(tmp_path / "noise.png", grey))


def test_a_missing_file(tmp_path: Path) -> None:
    """A file that is not there is named as such."""
    with pytest.raises(PatternError, match="there is no such file"):
        read(tmp_path / "none.png")


@settings(max_examples=25, deadline=None)
@given(
    kind=st.sampled_from(["PNG", "JPEG", "TIFF"]),
    changes=st.lists(st.tuples(st.integers(0, 4000), st.integers(0, 255)), min_size=1, max_size=8),
    cut=st.integers(0, 4000),
)
def test_damaged_files_give_an_answer_or_a_refusal(
    tmp_path_factory: pytest.TempPathFactory, kind: str, changes: list[tuple[int, int]], cut: int
) -> None:
    """Bytes changed or missing anywhere never lead to another error than a refusal."""
    stream = io.BytesIO()
    Image.fromarray(bar()).save(stream, kind, dpi=(DPI, DPI))
    table = bytearray(stream.getvalue())
    for place, value in changes:
        table[place % len(table)] = value
    path = tmp_path_factory.mktemp("damaged") / "bar.png"
    path.write_bytes(bytes(table[: len(table) - cut % 200 if cut % 3 == 0 else len(table)]))
    try:
        outline = read(path)
    except PatternError as error:
        assert str(error)  # noqa: PT017 - either way is right
    else:
        assert outline.ring.area_mm2 > 0
