"""The trace room."""
