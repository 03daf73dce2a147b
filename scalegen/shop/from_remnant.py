"""A job on a remnant: its outline, what was measured of it and its stack, from the shop table."""

from dataclasses import replace

from scalegen.errors import UsageError
from scalegen.fields.words import suggest
from scalegen.model import JobSpec, Reading, Shop
from scalegen.outline.blank import blank_of
from scalegen.outline.ring import Ring


def with_remnant(spec: JobSpec, shop: Shop) -> JobSpec:
    """A job with everything that the table says about its remnant.

    Args:
        spec: With the number of the remnant, or without: then it comes back as it is. Readings of its own go
            before those in the table.
        shop: Tables.

    Raises:
        UsageError: There is no such remnant, or it is of another stack than the one asked for.
    """
    if spec.remnant is None:
        return spec
    remnant = shop.remnants.get(spec.remnant)
    if remnant is None:
        known = ", ".join(sorted(shop.remnants))
        raise UsageError(
            f'there is no remnant "{spec.remnant}" in the shop tables',
            where="sheet",
            remedy=f"{suggest(spec.remnant, shop.remnants)} the remnants are: {known}".strip()
            if known
            else "list what you kept in shared/remnants.toml",
        )
    if spec.stock not in {None, remnant.stack}:
        raise UsageError(
            f'remnant {remnant.number} was bonded as "{remnant.stack}", and "{spec.stock}" is asked for',
            where="stock",
            remedy="leave the stock out, or take another remnant",
        )
    outline = Ring.from_rows(remnant.outline)
    x0, y0, _, _ = outline.bounds_mm
    shape, size_mm = blank_of(
        outline, [Ring.from_rows(rows) for rows in remnant.zones], source=f"remnant {remnant.number}"
    )
    spec = replace(spec, sheet_shape=shape, sheet_mm=size_mm, stock=remnant.stack)
    if spec.measured_mm:
        return spec
    # Places of readings move with the outline.
    placed = tuple(_moved(each, -x0, -y0) for each in remnant.readings)
    return replace(spec, measured_mm=remnant.measured_mm, readings=placed)


def _moved(reading: Reading, x_mm: float, y_mm: float) -> Reading:
    """A reading at another place; one without a place as it is."""
    if reading.x_mm is None or reading.y_mm is None:
        return reading
    return replace(reading, x_mm=reading.x_mm + x_mm, y_mm=reading.y_mm + y_mm)
