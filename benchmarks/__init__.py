"""Measurements anyone can run: ``python -m benchmarks``. Not part of the installed package."""
