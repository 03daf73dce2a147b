"""Room: pattern."""
