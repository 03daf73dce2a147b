"""Room: what a job takes and what the checks found, as rows first and as tables after."""
