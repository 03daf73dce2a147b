"""A job on a remnant: its outline, what was measured of it and its stack, from the shop table."""

from collections.abc import Iterable
from dataclasses import replace
from typing import Final

from scalegen.errors import UsageError
from scalegen.fields.words import suggest
from scalegen.model import JobSpec, Reading, Remnant, Shop
from scalegen.model.job import Rest, SheetShape
from scalegen.outline.blank import blank_of
from scalegen.outline.ring import Ring

APART_MM: Final = 0.05
"""Blanks of one job are no further apart in thickness. Our choice; common practice, no source."""


def with_remnant(spec: JobSpec, shop: Shop) -> JobSpec:
    """A job with everything that the table says about its remnants.

    Args:
        spec: With the numbers of remnants, or without: then it comes back as it is. Readings of its own go
            before those in the table.
        shop: Tables.

    Raises:
        UsageError: There is no such remnant, it is of another stack than the one asked for, or the blanks of
            the job are not known to be of one thickness.
    """
    if spec.rests:
        return _with_several(spec, shop)
    if spec.remnant is None:
        return spec
    remnant = _remnant(spec.remnant, spec.stock, shop)
    x0, y0, _, _ = Ring.from_rows(remnant.outline).bounds_mm
    shape, size_mm = _shape(remnant)
    spec = replace(spec, sheet_shape=shape, sheet_mm=size_mm, stock=remnant.stack)
    if spec.measured_mm:
        return spec
    # Places of readings move with the outline.
    placed = tuple(_moved(each, -x0, -y0) for each in remnant.readings)
    return replace(spec, measured_mm=remnant.measured_mm, readings=placed)


def _with_several(spec: JobSpec, shop: Shop) -> JobSpec:
    """A job on blanks of several kinds: all of one stack and one thickness, for there is one plan."""
    numbers = [rest.remnant for rest in spec.rests if rest.remnant is not None]
    if spec.remnant is not None:
        numbers.append(spec.remnant)
    found: dict[str, Remnant] = {}
    for number in sorted({each for each in numbers if numbers.count(each) > 1}):
        raise UsageError(
            f"remnant {number} is named twice", where="sheet", remedy="there is only one of it: name it once"
        )
    for number in numbers:
        found[number] = _remnant(number, spec.stock, shop)
        spec = replace(spec, stock=found[number].stack)
    rests = tuple(
        rest if rest.remnant is None else _looked_up(rest.remnant, found[rest.remnant]) for rest in spec.rests
    )
    spec = replace(spec, rests=rests)
    if spec.remnant is not None:
        shape, size_mm = _shape(found[spec.remnant])
        spec = replace(spec, sheet_shape=shape, sheet_mm=size_mm)
    if spec.measured_mm:
        # Where a reading was taken says nothing while it is not known on which blank.
        placed = any(each.x_mm is not None for each in spec.readings)
        bare = tuple(Reading(thickness_mm=each.thickness_mm) for each in spec.readings)
        return replace(spec, readings=bare if placed else ())
    _require_one_thickness(found.values(), len(spec.rests) + 1)
    return replace(spec, measured_mm=tuple(t for each in found.values() for t in each.measured_mm))


def _require_one_thickness(remnants: Iterable[Remnant], blanks: int) -> None:
    """Refuse blanks that one plan does not go for."""
    known = {each.number: min(each.measured_mm) for each in remnants if each.measured_mm}
    if not known:
        return
    if len(known) < blanks:
        said = ", ".join(f"{number} {least:.2f} mm" for number, least in known.items())
        raise UsageError(
            f"some of the blanks have readings in the table ({said}) and the others have none, and one job"
            " counts on one thickness",
            where="sheet",
            remedy="measure all of them and give all readings with --measured; or make a job for each",
        )
    thin, thick = min(known, key=lambda n: known[n]), max(known, key=lambda n: known[n])
    if known[thick] - known[thin] > APART_MM:
        raise UsageError(
            f"remnant {thin} measures {known[thin]:.2f} mm and {thick} {known[thick]:.2f} mm, and one job"
            f" counts on one thickness: {APART_MM:g} mm apart at most (our limit; common practice)",
            where="sheet",
            remedy="make a job for each",
        )


def _looked_up(number: str, remnant: Remnant) -> Rest:
    shape, size_mm = _shape(remnant)
    return Rest(sheet_mm=size_mm, sheet_shape=shape, remnant=number)


def _shape(remnant: Remnant) -> tuple[SheetShape, tuple[float, float]]:
    """Outline and holes of a remnant, counted from the corner of the box round it."""
    return blank_of(
        Ring.from_rows(remnant.outline),
        [Ring.from_rows(rows) for rows in remnant.zones],
        source=f"remnant {remnant.number}",
    )


def _remnant(number: str, stock: str | None, shop: Shop) -> Remnant:
    """A remnant of the tables."""
    remnant = shop.remnants.get(number)
    if remnant is None:
        known = ", ".join(sorted(shop.remnants))
        raise UsageError(
            f'there is no remnant "{number}" in the shop tables',
            where="sheet",
            remedy=f"{suggest(number, shop.remnants)} the remnants are: {known}".strip()
            if known
            else "list what you kept in shared/remnants.toml",
        )
    if stock not in {None, remnant.stack}:
        raise UsageError(
            f'remnant {remnant.number} was bonded as "{remnant.stack}", and "{stock}" is asked for',
            where="stock",
            remedy="leave the stock out, or take another remnant",
        )
    return remnant


def _moved(reading: Reading, x_mm: float, y_mm: float) -> Reading:
    """A reading at another place; one without a place as it is."""
    if reading.x_mm is None or reading.y_mm is None:
        return reading
    return replace(reading, x_mm=reading.x_mm + x_mm, y_mm=reading.y_mm + y_mm)
