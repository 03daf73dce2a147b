"""Room: outline."""
