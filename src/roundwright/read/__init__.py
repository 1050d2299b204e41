"""The read room."""
