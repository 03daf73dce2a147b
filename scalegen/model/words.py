"""Words that records choose from."""

from typing import Literal

Units = Literal["mm", "in"]
Lengths = Literal["mm", "in", "fraction"]
"""How lengths are shown to people: ``fraction`` is inches to the nearest 1/64, with the rest said."""
Side = Literal["left", "right"]
Corner = Literal["lower-left", "lower-right", "upper-left", "upper-right"]
LayerKind = Literal["liner", "spacer", "face", "bond"]
Treatment = Literal["bevel", "round", "square"]
EdgeTreatment = Literal["square", "chamfer", "round"]
FrontArc = Literal["proud", "hollow"]
HardwareKind = Literal["pin", "tube", "stepped"]
MixBy = Literal["weight", "volume"]
Fit = Literal["slip", "close", "press"]
CutterKind = Literal["flat", "ball", "tapered", "drill"]
Work = Literal[
    "face off",
    "rough",
    "shape",
    "feet",
    "grooves",
    "recesses",
    "pin holes",
    "liner",
    "outlines",
    "blind holes",
]
"""What one stage of a job does; ``shape`` finishes faces, fronts and edges, ``feet`` the foot of a rounded
edge, ``liner`` cuts the face's outline down to a liner that stands proud."""
Level = Literal["stop", "warning", "note"]
Paper = Literal["a4", "letter"]
ACCEPTABLE = ("pad-touched", "part-not-free", "part-cut-into", "layer-thin")
"""Codes of the stops of a dry run that a job may accept in words."""
CurveRows = tuple[tuple[float, float, float], ...]
"""Rows x, y, bulge of a closed outline, in mm."""
Stations = tuple[tuple[float, float], ...]
