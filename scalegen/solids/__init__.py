"""Room: solids."""
