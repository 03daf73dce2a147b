"""A stack by name becomes the layers of the bonded blank."""

import math
from collections.abc import Sequence
from dataclasses import replace

from scalegen.errors import UsageError
from scalegen.fields.words import suggest
from scalegen.model import Adhesive, Layer, SheetStock, Shop, Stack


def resolve_stack(
    shop: Shop, name: str, measured_mm: Sequence[float] = (), counted_mm: float | None = None
) -> Stack:
    """Build a stack from the tables and, when there are any, the readings of the bonded blank.

    A film of glue lies between every two sheets. What was measured and what the tables add up to differ by
    the sheets' tolerances and the glue, and the face layer takes up the difference: it is the thickest and
    the only one that is machined away from outside, so liner and glue stay where the tables put them.

    Args:
        shop: Shop tables.
        name: Name of the stack.
        measured_mm: Readings of the bonded blank, each above 0; the smallest counts.
        counted_mm: Thickness to count on instead.

    Returns:
        The stack, layers from back to face.

    Raises:
        UsageError: There is no such stack; or a reading cannot be right, such as one that liner and glue
            alone reach.
    """
    recipe = shop.stacks.get(name)
    if recipe is None:
        known = sorted(shop.stacks)
        raise UsageError(
            f'there is no stack "{name}" in the shop tables',
            where="stock",
            remedy=" ".join(filter(None, [suggest(name, known), f"the stacks are: {', '.join(known)}"])),
        )
    sheets = [shop.sheets[each] for each in recipe.sheets]
    layers = _layers(sheets, shop.adhesives[recipe.adhesive])
    nominal_mm = math.fsum(layer.thickness_mm for layer in layers)
    readings_mm = tuple(float(each) for each in measured_mm)
    if readings_mm:
        layers = _fit_to_reading(layers, nominal_mm, readings_mm, name, counted_mm)
    return Stack(
        name=name,
        layers=layers,
        nominal_mm=nominal_mm,
        measured_mm=readings_mm,
        tolerance_mm=math.fsum(sheet.tolerance_mm for sheet in sheets),
        adhesive=recipe.adhesive,
        glue_up=recipe.glue_up,
        counted_mm=counted_mm,
    )


def _layers(sheets: Sequence[SheetStock], adhesive: Adhesive) -> tuple[Layer, ...]:
    """Sheets from back to face with a film of glue between them, each under a name of its own."""
    layers: list[Layer] = []
    taken: set[str] = set()
    for count, sheet in enumerate(sheets):
        if count:
            layers.append(
                Layer(
                    name=_own_name(f"bond line {count}", taken),
                    kind="bond",
                    thickness_mm=adhesive.bond_mm,
                    density_g_cm3=adhesive.density_g_cm3,
                    color=adhesive.color,
                )
            )
        layers.append(
            Layer(
                name=_own_name(sheet.name, taken),
                kind=sheet.kind,
                thickness_mm=sheet.thickness_mm,
                density_g_cm3=sheet.density_g_cm3,
                color=sheet.color,
            )
        )
    return tuple(layers)


def _own_name(wanted: str, taken: set[str]) -> str:
    """The name wanted, or the first of "name (2)", "name (3)" ... that is free; it is taken from then on."""
    name, count = wanted, 1
    while name in taken:
        count += 1
        name = f"{wanted} ({count})"
    taken.add(name)
    return name


def _fit_to_reading(
    layers: tuple[Layer, ...],
    nominal_mm: float,
    readings_mm: tuple[float, ...],
    name: str,
    counted_mm: float | None,
) -> tuple[Layer, ...]:
    """The same layers with a face that makes their sum what is counted on, or the smallest reading."""
    for reading_mm in readings_mm:
        if not (math.isfinite(reading_mm) and reading_mm > 0):
            raise UsageError(
                f"a reading of {reading_mm:g} mm is not a thickness",
                where="measured",
                remedy="measure the bonded blank and give its thickness above 0",
            )
    used_mm = min(readings_mm) if counted_mm is None else counted_mm
    face = layers[-1]
    face_mm = face.thickness_mm + (used_mm - nominal_mm)
    if face_mm <= 0:
        raise UsageError(
            f'stack "{name}" measured {used_mm:.3f} mm, but what lies under the face (liner and glue) alone '
            f"adds up to {nominal_mm - face.thickness_mm:.3f} mm",
            where="measured",
            remedy="measure the whole bonded blank, and check the unit of the reading",
        )
    return (*layers[:-1], replace(face, thickness_mm=face_mm))
