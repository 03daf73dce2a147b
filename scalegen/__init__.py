"""Matched knife handle scales from a tang outline, pin positions and a stack of layers."""

__version__ = "0.1.0"
