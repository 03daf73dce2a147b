"""From a stack's name to its layers."""

import math

import pytest

from scalegen.errors import UsageError
from scalegen.model import Adhesive, LayerKind, SheetStock, Shop, ShopRules, StackRecipe
from scalegen.shop.stacks import resolve_stack

IN = 25.4  # mm, NBS Circular 572


def _sheet(name: str, kind: LayerKind, thickness_mm: float, tolerance_mm: float) -> SheetStock:
    return SheetStock(
        name=name,
        kind=kind,
        material="test",
        thickness_mm=thickness_mm,
        tolerance_mm=tolerance_mm,
        length_mm=300.0,
        width_mm=150.0,
        density_g_cm3=1.5,
        color="#808080",
        price=None,
    )


@pytest.fixture
def shop() -> Shop:
    """A shop with the sheets of a worked example in inches, and a few stacks built from them."""
    sheets = (
        _sheet("thin", "liner", 0.031 * IN, 0.0065 * IN),
        _sheet("thick", "face", 0.1875 * IN, 0.0125 * IN),
        _sheet("bond line 1", "spacer", 0.5, 0.05),
    )
    recipes = {
        "two": ("thin", "thick"),
        "one": ("thick",),
        "twins": ("thin", "thin", "bond line 1", "thick"),
    }
    return Shop(
        folder=None,
        rules=ShopRules(
            slip_fit_mm=0.05,
            drill_series=("metric",),
            clearance_mm=1.0,
            saw_kerf_mm=1.0,
            tape_waste=1.1,
            currency="EUR",
        ),
        sheets={sheet.name: sheet for sheet in sheets},
        adhesives={
            "glue": Adhesive(
                name="glue",
                density_g_cm3=1.15,
                bond_mm=0.004 * IN,
                waste=2.0,
                color="#ffffff",
                price_per_g=None,
            )
        },
        stacks={
            name: StackRecipe(name=name, sheets=each, adhesive="glue", glue_up="glue")
            for name, each in recipes.items()
        },
        hardware={},
        cutters={},
        abrasives={},
    )


def test_sheets_and_glue_add_up(shop: Shop) -> None:
    """3/16 + 0.031 + 0.004 in is 0.2225 in, worst case of 0.0125 and 0.0065 in is 0.0190 in.

    Source: thickness and tolerance rows of NEMA LI 1 as a converter prints them; the sum is arithmetic.
    """
    stack = resolve_stack(shop, "two")
    assert stack.nominal_mm == pytest.approx(0.2225 * IN, abs=1e-9)
    assert stack.tolerance_mm == pytest.approx(0.0190 * IN, abs=1e-9)
    assert stack.used_mm == stack.nominal_mm
    assert [layer.kind for layer in stack.layers] == ["liner", "bond", "face"]
    assert (stack.name, stack.adhesive, stack.glue_up) == ("two", "glue", "glue")


@pytest.mark.parametrize("readings_mm", [(5.5,), (5.9, 5.5, 5.7), (6.2,)])
def test_the_face_takes_up_what_was_measured(shop: Shop, readings_mm: tuple[float, ...]) -> None:
    """Layers add up to the smallest reading; liner and glue stay as the tables have them."""
    nominal, measured = resolve_stack(shop, "two"), resolve_stack(shop, "two", readings_mm)
    total_mm = math.fsum(layer.thickness_mm for layer in measured.layers)
    assert total_mm == pytest.approx(min(readings_mm), abs=1e-12)
    assert measured.layers[:-1] == nominal.layers[:-1]
    assert measured.nominal_mm == nominal.nominal_mm
    assert measured.measured_mm == readings_mm


def test_one_sheet_needs_no_glue(shop: Shop) -> None:
    """A stack of one sheet has one layer."""
    stack = resolve_stack(shop, "one", [4.0])
    assert [layer.thickness_mm for layer in stack.layers] == [pytest.approx(4.0)]


def test_layer_names_are_unique(shop: Shop) -> None:
    """The same sheet twice, or a sheet named like a bond line, still gives each layer its own name."""
    stack = resolve_stack(shop, "twins")
    layer_names = [layer.name for layer in stack.layers]
    assert len(layer_names) == 7
    assert len(set(layer_names)) == 7
    assert [layer.kind for layer in stack.layers].count("bond") == 3


def test_a_reading_that_leaves_no_face_is_refused(shop: Shop) -> None:
    """The message says what was measured and what liner and glue alone add up to (0.035 in)."""
    with pytest.raises(UsageError) as caught:
        resolve_stack(shop, "two", [5.5, 0.889])
    assert "0.889 mm" in str(caught.value)
    assert f"{0.035 * IN:.3f} mm" in str(caught.value)


@pytest.mark.parametrize("reading_mm", [0.0, -5.0, math.nan, math.inf])
def test_readings_that_are_no_thickness_are_refused(shop: Shop, reading_mm: float) -> None:
    """Any single senseless reading is refused, even beside a sound one."""
    with pytest.raises(UsageError, match="not a thickness"):
        resolve_stack(shop, "two", [5.5, reading_mm])


def test_an_unknown_stack_is_refused_with_a_suggestion(shop: Shop) -> None:
    """The message names the stack that was probably meant, and all there are."""
    with pytest.raises(UsageError) as caught:
        resolve_stack(shop, "twin")
    assert 'did you mean "twins"?' in str(caught.value)
    assert "one, twins, two" in str(caught.value)
