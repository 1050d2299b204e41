"""The plan room."""
