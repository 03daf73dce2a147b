"""Weights of glue films and rods against figures worked out by hand from published densities."""

import math

import pytest

from scalegen.model import Hardware
from scalegen.report.bom import adhesive_net_g, rod_weight_g


@pytest.mark.parametrize(("film_mm", "grams"), [(0.10, 115.0), (0.15, 172.5), (0.25, 287.5)])
def test_a_square_metre_of_film(film_mm: float, grams: float) -> None:
    """A film on one square metre weighs its thickness in mm times its density in g/cm3 times 1000.

    Source: unit arithmetic, 1 m2 x 1 mm = 1000 cm3; density 1.15 g/cm3 of cured epoxy from memory.
    """
    assert adhesive_net_g(1e6, film_mm, 1.15) == pytest.approx(grams, rel=1e-12)


def test_two_joints_of_a_handle() -> None:
    """Two joints of 40 x 130 mm at 0.15 mm hold 1.79 g; mixed twice over that is 3.6 g.

    Source: by hand, 2 x 4.0 cm x 13.0 cm x 0.015 cm = 1.56 cm3, x 1.15 g/cm3. Twice over:
    common practice, no source.
    """
    net_g = adhesive_net_g(2 * 40.0 * 130.0, 0.15, 1.15)
    assert net_g == pytest.approx(1.794, abs=5e-4)
    assert 2 * net_g == pytest.approx(3.6, abs=0.05)


@pytest.mark.parametrize(
    ("diameter_mm", "bore_mm", "density_g_cm3", "kg_per_m"),
    [
        (10.0, 0.0, 7.85, 0.617),  # round steel bar, 10 mm: 0.617 kg/m in merchants' tables, from memory
        (6.0, 0.0, 7.85, 0.222),  # 6 mm: 0.222 kg/m, the same
        (10.0, 0.0, 8.5, 0.668),  # brass at 8.5 g/cm3: pi/4 cm2 x 100 cm x 8.5 g = 667.6 g, by hand
        (
            10.0,
            8.0,
            8.5,
            0.240,
        ),  # brass tube 10 x 1 mm: pi x 0.9 cm x 0.1 cm x 100 cm x 8.5 g = 240.3 g, by hand
    ],
)
def test_rods_weigh_what_tables_say(
    diameter_mm: float, bore_mm: float, density_g_cm3: float, kg_per_m: float
) -> None:
    """A metre of rod or tube weighs its section times its density; the tables give three digits."""
    rod = Hardware(
        name="rod",
        kind="tube" if bore_mm else "pin",
        material="metal",
        nominal_mm=diameter_mm,
        diameter_mm=diameter_mm,
        bore_mm=bore_mm,
        length_mm=1000.0,
        end_allowance_mm=0.0,
        density_g_cm3=density_g_cm3,
        color="#b4b8bc",
        price=None,
    )
    assert rod_weight_g(rod, 1000.0) / 1000 == pytest.approx(kg_per_m, abs=6e-4)
    assert rod_weight_g(rod, 0.0) == 0.0
    assert math.isclose(rod_weight_g(rod, 500.0) * 2, rod_weight_g(rod, 1000.0))
