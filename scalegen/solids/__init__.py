"""Scales as solids, by layer, as cut and finished, left and right. The kernel is loaded here."""
