"""Small sound files of every kind that an outline can come from, invented, for changing at random."""

import gzip
import io
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ezdxf.document import Drawing

Seed = tuple[str, bytes]


def dxf_seeds() -> list[Seed]:
    """Old and new, text and binary, simple and with everything that is read."""
    from ezdxf import filemanagement

    out = []
    for version, binary in (
        ("R12", False),
        ("R2000", False),
        ("R2010", False),
        ("R12", True),
        ("R2013", True),
    ):
        doc = filemanagement.new(version, units=0 if version == "R12" else 4)
        _drawn(doc, splines=version != "R12")
        out.append((".dxf", _saved(doc, binary=binary)))
    loose = filemanagement.new("R2000", units=1)
    for a, b in (((0, 0), (4, 0)), ((4, 0), (4, 1)), ((4, 1), (0, 1)), ((0, 1), (0, 0))):
        loose.modelspace().add_line(a, b)
    out.append((".dxf", _bare(_saved(loose, binary=False))))
    return out


def _drawn(doc: "Drawing", *, splines: bool) -> None:
    """An outline, holes, blocks in blocks, curves and things that are no outline."""
    space = doc.modelspace()
    doc.layers.add("off").off()
    doc.layers.add("cold").freeze()
    space.add_polyline2d([(0, 0, 0), (100, 0, 0.4), (100, 20, 0), (0, 20, 0.1)], format="xyb", close=True)
    space.add_circle((30, 10), 2)
    space.add_arc((60, 10), 3, 10, 200, dxfattribs={"layer": "off"})
    inner = doc.blocks.new("inner", base_point=(1, 1))
    inner.add_circle((1, 1), 1)
    inner.add_line((0, 0), (1, 1), dxfattribs={"layer": "cold"})
    outer = doc.blocks.new("outer")
    outer.add_blockref("inner", (0, 0), dxfattribs={"xscale": 1.5, "yscale": -1.5})
    space.add_blockref("outer", (80, 10), dxfattribs={"rotation": 20, "row_count": 2, "row_spacing": 4})
    space.add_text("tang", height=3).set_placement((10, 30))
    space.add_polyline3d([(0, 0, 0), (5, 5, 5), (9, 2, 1)])
    if splines:
        space.add_ellipse((45, 10), (4, 0), 0.5)
        space.add_open_spline([(50, 5), (55, 15), (60, 5), (65, 15)])
        space.add_spline([(70, 5), (72, 9), (75, 6), (78, 12)])
        space.add_lwpolyline([(0, 40, 0), (60, 40, 1), (60, 55, 0)], format="xyb", close=True)
        hatch = space.add_hatch()
        hatch.paths.add_polyline_path([(0, 0), (5, 0), (5, 5)], is_closed=True)


def _saved(doc: "Drawing", *, binary: bool) -> bytes:
    """A drawing as a file."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "seed.dxf"
        doc.saveas(path, fmt="bin" if binary else "asc")
        return path.read_bytes()


def _bare(data: bytes) -> bytes:
    """The entities alone, without header and tables."""
    start = data.index(b"ENTITIES")
    return b"  0\nSECTION\n  2\n" + data[start : data.index(b"ENDSEC", start)] + b"ENDSEC\n  0\nEOF\n"


def svg_seeds() -> list[Seed]:
    """Paths of all commands, shapes, transforms, styles, reuse and nested views."""
    plain = b"""<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="40mm" viewBox="0 0 120 40">
<path d="M5 5 H105 a10 10 0 0 1 0 20 L5 25 Z"/><circle cx="30" cy="15" r="2"/></svg>
"""
    rich = b"""<?xml version="1.0"?>
<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="4in" height="2in"
 viewBox="0 -10 400 200"><style>.hide { display: none } rect { stroke: none }</style>
<defs><circle id="pin" r="3"/><clipPath id="c"><rect width="9" height="9"/></clipPath></defs>
<g transform="translate(10,20) rotate(5) scale(1,-1)" style="fill:none">
<path d="m0 0c20-10 60-12 100-4s60 6 120-2q10 5 20 10t15 12l-12 22s-60 10-110 6-90 4-133-4z"/>
<use xlink:href="#pin" x="40" y="12"/><use href="#pin" transform="matrix(1 .2 0 1 120 14)"/></g>
<svg x="5%" y="10" width="50%" height="40" viewBox="0 0 100 50" preserveAspectRatio="xMinYMid slice">
<ellipse cx="20" cy="20" rx="12" ry="5"/><polygon points="1,1 9,1 9 9"/><polyline points="0 0 5 5 8 2"/>
<rect class="hide" width="30" height="20" rx="3"/><line x1="0" y1="0" x2="5" y2="5"/><text>a</text></svg>
<path d="M300 20a25 12 30 0125 8z" transform="skewX(10)"/></svg>
"""
    return [(".svg", plain), (".svg", rich), (".svgz", gzip.compress(plain, mtime=0))]


def points_seeds() -> list[Seed]:
    """Tables with comma, semicolon, tab and blanks, decimal comma, headings."""
    comma = b"# measured\nx,y\n0,0\n50,-2\n100,0\n104,10\n100,20\n50,21\n0,20\n"
    german = b"x;y;bulge\n0,0;0,0;0\n100,5;0,0;0,4\n100,5;20,0;0\n0,0;20,0;0,1\n"
    tabs = b"0\t0\n40\t-1.5\n80\t0\n80\t15\n40\t17\n0\t15\n"
    return [(".csv", comma), (".csv", german), (".tsv", tabs), (".txt", tabs.replace(b"\t", b"  "))]


def scan_seeds() -> list[Seed]:
    """A small dark tang on white, as PNG, JPEG and TIFF."""
    from PIL import Image, ImageDraw

    picture = Image.new("L", (360, 130), 245)
    draw = ImageDraw.Draw(picture)
    draw.rounded_rectangle((30, 30, 330, 100), 20, fill=30)
    draw.ellipse((80, 55, 100, 75), fill=245)
    out = []
    for suffix, kind in ((".png", "PNG"), (".jpg", "JPEG"), (".tif", "TIFF")):
        stream = io.BytesIO()
        picture.save(stream, kind, dpi=(100, 100))
        out.append((suffix, stream.getvalue()))
    return out


SEEDS: dict[str, Callable[[], list[Seed]]] = {
    "dxf": dxf_seeds,
    "svg": svg_seeds,
    "points": points_seeds,
    "scan": scan_seeds,
}
