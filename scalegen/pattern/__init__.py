"""Pattern and batch files: read with every fault at once, and edited in place."""
