"""A tang laid on a flatbed scanner, or photographed beside a card: its outline and pin holes.

What to expect is kept in step with the table that ``python -m benchmarks scans`` prints.
"""

from pathlib import Path

import numpy as np

from scalegen.errors import GeometryError, PatternError
from scalegen.outline.drawing import NO_HINTS, Drawing, LeftOut
from scalegen.outline.join import Piece, arc_rows
from scalegen.outline.scan_circle import fit_circle
from scalegen.outline.scan_edges import Edge, contours_of, refined
from scalegen.outline.scan_load import Picture, load_picture
from scalegen.outline.scan_regions import Region, Tones, regions_of, tell_apart
from scalegen.outline.scan_scale import Mapping, by_card, by_dpi, by_marks, card_corners
from scalegen.outline.scan_shape import shape_of
from scalegen.sources import FileUnit, Hints, ScanSettings

_LEAST_DPI, _MOST_DPI = 100.0, 4800.0
_SPECK_SHARE = 0.02  # of the largest region's area
_RIVAL_SHARE = 0.2
_SPECK_PX = 60
_LEAST_HOLE_MM = 1.0
_LEAST_EDGE_PX = 16
_LARGEST_HOLE_MM = 30.0
_LEAST_LENGTH_MM = 10.0
_ROUND_MM = 0.03
_ROUND_PX = 0.3
_LEAST_KEPT = 0.75
_SHADOW_SHARE = 0.04
_COARSE_MM = 0.1
_LONGEST_PX = 25_000  # of all edges together
_LONGEST_MM = 1500.0
_MOST_HOLES = 300
_MOST_SHAPES = 12


def read_drawing(path: Path, *, units: FileUnit | None, where: str, hints: Hints = NO_HINTS) -> Drawing:
    """Read a scan by the resolution in its file; see :class:`scalegen.outline.read.Reader`.

    Args:
        path: A PNG, JPEG or TIFF file.
        units: Means nothing for pixels.
        where: Named in errors.
        hints: Its scan settings are used.

    Raises:
        PatternError: The file cannot be read, states no usable resolution, or shows no clear outline.
    """
    del units
    return read_scan(path, hints.scan, where)


def read_scan(path: Path, settings: ScanSettings, where: str) -> Drawing:
    """Read a scan or photo.

    Args:
        path: A PNG, JPEG or TIFF file.
        settings: What the user says about it.
        where: Named in errors.

    Returns:
        Every shape large enough for the tang as one closed piece of lines and arcs, and each hole in it as
        a circle of two arcs, in mm, y up, the origin at the picture's lower left (the card's corner for a
        photo).

    Raises:
        PatternError: The file cannot be read, its scale is not known, or it shows no clear outline.
    """
    _check_settings(settings, where)
    picture = load_picture(path, where)
    mapping = None if settings.card else _mapping(picture, settings, where)
    tones = tell_apart(picture.grey, settings.tang, settings.threshold, where)
    regions, specks = regions_of(tones, _SPECK_PX, where)
    if mapping is None:
        mapping, regions = _by_card(tones, regions, where)
    shapes, cut, notes = _chosen(tones, regions, mapping, where)
    try:
        found = [_pieces(tones, shape, mapping, settings, where) for shape in shapes]
    except GeometryError as error:
        raise PatternError(
            f"no outline can be made of the shape: {error.message}", where=where, remedy=error.remedy
        ) from error
    few = [f"ignored {_counted(specks, 'speck')}"] if specks else []
    return Drawing(
        pieces=tuple(piece for pieces, _ in found for piece in pieces),
        units=f"pixels, by {mapping.how}",
        notes=(*picture.notes, *notes, *few, *found[0][1], *_advice(mapping)),
        left_out=tuple(cut),
    )


def _check_settings(settings: ScanSettings, where: str) -> None:
    """Refuse settings that contradict each other or make no sense."""
    ways = [settings.dpi is not None, settings.marks is not None, settings.card]
    if sum(ways) > 1:
        raise PatternError(
            "dpi, marks and card all give the scale; only one of them can", where=where, remedy="keep one"
        )
    if settings.dpi is not None and not _LEAST_DPI / 4 <= settings.dpi <= 2 * _MOST_DPI:
        raise PatternError(
            f"{settings.dpi:g} dpi is no resolution to read a tang from",
            where=where,
            remedy=f"scan at 300 or 600 dpi; {_LEAST_DPI / 4:g} to {2 * _MOST_DPI:g} are taken",
        )
    marks = settings.marks
    if marks is not None:
        apart = float(np.hypot(*np.subtract(marks.second_px, marks.first_px)))
        if not (np.isfinite(apart) and apart >= 20 and 0 < marks.distance_mm < 1e4):
            raise PatternError(
                "the two marks need to be well apart and their distance above 0 mm",
                where=where,
                remedy="mark two places at the tang's ends and measure between them",
            )
    if not 0.001 <= settings.tolerance_mm <= 1:
        raise PatternError(
            f"a tolerance of {settings.tolerance_mm:g} mm cannot be kept",
            where=where,
            remedy="state one from 0.001 to 1 mm",
        )


def _mapping(picture: Picture, settings: ScanSettings, where: str) -> Mapping:
    """The scale from marks, from the stated resolution or from the file."""
    if settings.marks is not None:
        top = picture.grey.shape[0] - 1
        (x0, y0), (x1, y1) = settings.marks.first_px, settings.marks.second_px
        return by_marks(np.array([x0, top - y0]), np.array([x1, top - y1]), settings.marks.distance_mm)
    if settings.dpi is not None:
        return by_dpi((settings.dpi, settings.dpi), f"the stated {settings.dpi:g} dpi")
    remedy = (
        "give --dpi 300 or whatever it was scanned at, or --card for a photo with a card of 85.60 x 53.98"
        " mm beside the tang; in a pattern, under [tang]: scan = { dpi = 300 } or { card = true }, or marks"
        " and their distance"
    )
    if picture.dpi is None:
        raise PatternError("the picture does not say its resolution", where=where, remedy=remedy)
    text = " x ".join(f"{value:g}" for value in sorted(set(picture.dpi)))
    if picture.camera:
        raise PatternError(
            f"this is a photo; the {text} dpi in its file say nothing about sizes", where=where, remedy=remedy
        )
    if not all(_LEAST_DPI <= value <= _MOST_DPI for value in picture.dpi):
        raise PatternError(
            f"the file says {text} dpi, which programs write when they do not know it",
            where=where,
            remedy=remedy,
        )
    return by_dpi(picture.dpi, f"the {text} dpi in the file")


def _by_card(tones: Tones, regions: list[Region], where: str) -> tuple[Mapping, list[Region]]:
    """Find the one card among the regions, and leave it out of them."""
    found = []
    for region in regions[:12]:
        if region.area_px < _SPECK_SHARE * regions[0].area_px or _touches(tones, region):
            continue
        contour = contours_of(tones, region)[0]
        corners = card_corners(refined(tones, contour).points) if len(contour) <= _LONGEST_PX else None
        if corners is not None:
            found.append((region, corners))
    if len(found) == 1:
        card, corners = found[0]
        return by_card(corners), [region for region in regions if region is not card]
    places = ", ".join(_place(tones, region) for region, _ in found)
    raise PatternError(
        f"{len(found)} shapes could be the card: {places}" if found else "no card is to be seen",
        where=where,
        remedy="lay one card flat beside the tang, all of it in the picture and as clear against the ground"
        " as the tang, and hold the camera nearly square above them",
    )


# ------------------------------------------------------------------------------------ which shape it is


def _chosen(
    tones: Tones, regions: list[Region], mapping: Mapping, where: str
) -> tuple[list[Region], list[LeftOut], list[str]]:
    """The regions that may be the tang, largest first; those that reach over the border; and notes."""
    inner = [region for region in regions if not _is_shadow(tones, region)]
    if not inner:
        raise PatternError(
            "there is no shape in the picture",
            where=where,
            remedy="lay the tang on plain paper that is clearly lighter or darker",
        )
    if _touches(tones, inner[0]):
        raise PatternError(
            f"the shape touches the picture's border: {_place(tones, inner[0])}",
            where=where,
            remedy="leave some ground all round the tang",
        )
    large = [region for region in inner if region.area_px >= _RIVAL_SHARE * inner[0].area_px]
    whole = [region for region in large if not _touches(tones, region)][:_MOST_SHAPES]
    others = [r for r in inner if r not in whole and r.area_px >= _SPECK_SHARE * inner[0].area_px]
    notes = [f"left out a shape beside the outline: {_size(tones, region, mapping)}" for region in others]
    if len(regions) > len(inner):
        notes.append(f"left out {_counted(len(regions) - len(inner), 'strip')} along the picture's border")
    cut = [
        LeftOut(kind="shape", reason="it reaches over the picture's border", curve=False)
        for region in others
        if region in large and _touches(tones, region)
    ]
    return whole, cut, notes


def _counted(count: int, word: str) -> str:
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def _touches(tones: Tones, region: Region) -> bool:
    """Whether a region reaches the picture's border; edges need a few pixels beyond them."""
    (x0, y0, x1, y1), (height, width) = region.box_px, tones.grey.shape
    return bool(x0 <= 1 or y0 <= 1 or x1 >= width - 2 or y1 >= height - 2)


def _is_shadow(tones: Tones, region: Region) -> bool:
    """Whether it is a narrow strip along the border, as a scanner's lid makes."""
    (x0, y0, x1, y1), (height, width) = region.box_px, tones.grey.shape
    if not _touches(tones, region):
        return False
    upright = (x0 <= 1 or x1 >= width - 2) and x1 - x0 < _SHADOW_SHARE * width
    lying = (y0 <= 1 or y1 >= height - 2) and y1 - y0 < _SHADOW_SHARE * height
    return bool(upright or lying)


def _place(tones: Tones, region: Region) -> str:
    """Where a region is, in pixels as picture viewers count them."""
    (x0, y0, x1, y1), top = region.box_px, tones.grey.shape[0] - 1
    return f"columns {x0} to {x1}, rows {top - y1} to {top - y0}"


def _size(tones: Tones, region: Region, mapping: Mapping) -> str:
    """How large a region is and where."""
    x0, y0, x1, y1 = region.box_px
    size = mapping.pixel_mm(np.array([(x0 + x1) / 2, (y0 + y1) / 2]))
    return f"{(x1 - x0 + 1) * size:.1f} x {(y1 - y0 + 1) * size:.1f} mm at {_place(tones, region)}"


# --------------------------------------------------------------------------------------- outline, holes


def _pieces(
    tones: Tones, tang: Region, mapping: Mapping, settings: ScanSettings, where: str
) -> tuple[list[Piece], list[str]]:
    """The outline and the holes as pieces, and notes about how well they are known."""
    contours = contours_of(tones, tang)
    lengths = [len(contour) for contour in contours if len(contour) >= _LEAST_EDGE_PX]
    pixel = mapping.pixel_mm(contours[0].mean(axis=0))
    longest = min(_LONGEST_PX, _LONGEST_MM / pixel)
    if sum(lengths) > longest or len(lengths) > _MOST_HOLES:
        raise PatternError(
            "the shape is too ragged or too full of holes to be a tang",
            where=where,
            remedy="clean the glass, lay the tang on plain paper, and scan at 300 or 600 dpi",
        )
    edge = refined(tones, contours[0])
    points = mapping.to_mm(edge.points)
    length = float(np.ptp(points, axis=0).max())
    if length < _LEAST_LENGTH_MM or not np.isfinite(length):
        raise PatternError(
            f"the largest shape in the picture is only {length:.2f} mm long",
            where=where,
            remedy="check the resolution; lay the tang on plain paper that is clearly lighter or darker",
        )
    shape = shape_of(points, edge.blur_px, pixel, settings.tolerance_mm)
    pieces = [Piece(rows=shape.rows, closed=True, name="scanned edge")]
    specks = 0
    for contour in contours[1:]:
        if len(contour) * pixel < np.pi * _LEAST_HOLE_MM or len(contour) < _LEAST_EDGE_PX:
            specks += 1
            continue
        pieces.append(_hole(refined(tones, contour), mapping, settings))
    expected = expected_mm(pixel, shape.noise_mm, settings.tolerance_mm)
    known = (
        f"pixels of {pixel:.4f} mm, edges blurred by {edge.blur_px:.1f} pixels,"
        f" single edge points sure to {shape.noise_mm:.4f} mm; the outline should be within"
        f" {expected:.2f} mm on the plane that was scanned"
    )
    tone = "dark" if tones.dark_tang else "light"
    notes = [known, f"the tang is the {tone} part, with {_counted(shape.corners, 'sharp corner')}"]
    if specks:
        notes.append(f"ignored {_counted(specks, 'speck')} inside the outline")
    return pieces, notes


def expected_mm(pixel_mm: float, noise_mm: float, tolerance_mm: float) -> float:
    """How far the outline may be off: the fit, a quarter of a pixel, and what smoothing leaves of the noise.

    The share of a pixel is on the safe side of the table that ``python -m benchmarks scans`` prints. Pixels
    above 0.1 mm leave sharp corners that lie close together rounded; a pixel and a half is added for that.
    """
    corners_mm = 1.5 * pixel_mm if pixel_mm > _COARSE_MM else 0.0
    return tolerance_mm + 0.25 * pixel_mm + 4.0 * noise_mm + corners_mm


def _hole(edge: Edge, mapping: Mapping, settings: ScanSettings) -> Piece:
    """A circle if the edge is one, else lines and arcs."""
    points = mapping.to_mm(edge.points)
    pixel = mapping.pixel_mm(edge.points.mean(axis=0))
    circle = fit_circle(points)
    limit = max(_ROUND_MM, _ROUND_PX * pixel)
    if (
        circle is not None
        and circle.off <= limit
        and circle.kept >= _LEAST_KEPT
        and 2 * circle.radius <= _LARGEST_HOLE_MM
    ):
        # Blur s draws the half-way line of a round spot of radius R inward by s^2 / (2 R).
        radius = circle.radius + (edge.blur_px * pixel) ** 2 / (2 * circle.radius)
        rows = arc_rows((circle.x, circle.y), radius, 0.0, 2 * np.pi)[:-1]
        return Piece(rows=rows, closed=True, name="scanned hole")
    shape = shape_of(points[::-1], edge.blur_px, pixel, settings.tolerance_mm)
    return Piece(rows=shape.rows, closed=True, name="scanned hole, not round")


def _advice(mapping: Mapping) -> tuple[str, ...]:
    """What a user should know about a photo's sizes."""
    if not mapping.straightened:
        return ()
    advice = (
        "sizes hold in the card's plane: what lies 1 mm nearer to a camera 500 mm away comes out 0.2 % too"
        " large; check one measured length"
    )
    return (advice,)
