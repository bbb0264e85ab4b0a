"""Pages of reports: asked for, followed, read, passed on, verified."""
