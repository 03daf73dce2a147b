"""The shape of a scale worked out in outlines and heights, without the CAD kernel."""
