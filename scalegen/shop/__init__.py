"""The shop tables: stock, hardware, cutters, abrasives, drills and fits."""

from scalegen.shop.drills import DRILLS, choose_drill, find_drill
from scalegen.shop.fits import hole_limits_mm, tolerance_um
from scalegen.shop.load import find_shared, load_shop
from scalegen.shop.stacks import resolve_stack
from scalegen.shop.starter import init_folder

__all__ = [
    "DRILLS",
    "choose_drill",
    "find_drill",
    "find_shared",
    "hole_limits_mm",
    "init_folder",
    "load_shop",
    "resolve_stack",
    "tolerance_um",
]
