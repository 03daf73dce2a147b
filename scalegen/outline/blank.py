"""The outline of a blank, from a drawing, measured points, a scan or typed rows, and the holes in it."""

from scalegen.errors import PatternError
from scalegen.model import CurveRows, OutlineSource, SheetShape
from scalegen.outline.crossing import self_crossings
from scalegen.outline.read import place_of, survey_unplaced
from scalegen.outline.ring import Ring
from scalegen.outline.transform import moved

_NOTES = ("left out a contour inside the outline",)


def read_blank(
    source: OutlineSource, *, where: str, contour_option: str = "contour"
) -> tuple[SheetShape, tuple[float, float]]:
    """A blank of any outline, moved so that the lower left corner of the box round it is (0, 0).

    Args:
        source: A file, or rows x, y, bulge in mm, and what is said about it; its placing is not used.
        where: Named in errors.
        contour_option: How a user says which contour is meant.

    Returns:
        Outline and holes; length and width of the box round it.

    Raises:
        PatternError: It cannot be read, or it must be said which contour is meant; or holes in it cross.
    """
    found = survey_unplaced(source, where=where)
    if found.chosen is None or found.reason:
        listed = f"; say which one with {contour_option}" if len(found.choices) > 1 else ""
        reason = found.reason.replace("the tang", "the sheet")
        remedy = "" if listed else found.remedy
        numbers = ", ".join(
            f"{number}: {x1 - x0:.1f} x {y1 - y0:.1f} mm"
            for number in found.choices
            for x0, y0, x1, y1 in [found.contours[number - 1].bounds_mm]
        )
        remedy = f"the contours are {numbers}{listed}" if listed else remedy
        raise PatternError(reason, where=place_of(source, where), remedy=remedy)
    outer = found.contours[found.chosen - 1]
    holes = [each.ring for each in found.contours if each.inside_of == outer.number]
    for hole in holes:
        crossings = self_crossings(hole)
        if len(crossings):
            x, y = crossings[0]
            raise PatternError(
                f"a hole crosses or touches itself at x = {x:.2f}, y = {y:.2f} mm",
                where=place_of(source, where),
                remedy="mend it in the drawing",
            )
    notes = tuple(note for note in found.notes if not note.startswith(_NOTES))
    name = "typed rows" if source.path is None else source.path.name
    return blank_of(outer.ring, holes, source=name, notes=notes)


def blank_of(
    outline: Ring, holes: list[Ring], *, source: str, notes: tuple[str, ...] = ()
) -> tuple[SheetShape, tuple[float, float]]:
    """As :func:`read_blank`, from rings at hand.

    Args:
        outline: Edge of the blank.
        holes: Edges of the holes in it.
        source: What it was read from, for messages.
        notes: What was noticed.
    """
    x0, y0, x1, y1 = outline.bounds_mm
    shape = SheetShape(
        outline=rows_of(moved(outline, -x0, -y0)),
        holes=tuple(rows_of(moved(hole, -x0, -y0)) for hole in holes),
        source=source,
        notes=notes,
    )
    return shape, (x1 - x0, y1 - y0)


def rows_of(ring: Ring) -> CurveRows:
    """A ring as plain rows x, y, bulge."""
    return tuple((x, y, bulge) for x, y, bulge in ring.rows.tolist())


def box_rows(x_mm: float, y_mm: float, w_mm: float, h_mm: float) -> CurveRows:
    """A rectangle by its lower left corner and size."""
    x1, y1 = x_mm + w_mm, y_mm + h_mm
    return (x_mm, y_mm, 0.0), (x1, y_mm, 0.0), (x1, y1, 0.0), (x_mm, y1, 0.0)


def disc_rows(x_mm: float, y_mm: float, radius_mm: float) -> CurveRows:
    """A circle by its middle and radius."""
    return (x_mm - radius_mm, y_mm, 1.0), (x_mm + radius_mm, y_mm, 1.0)
