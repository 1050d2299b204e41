"""The prove room."""
