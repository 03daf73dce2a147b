"""Room: machining."""
