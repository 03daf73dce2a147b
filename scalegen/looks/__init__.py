"""What a job looks like: pictures drawn without a display, and a page to turn it about in. No kernel."""
