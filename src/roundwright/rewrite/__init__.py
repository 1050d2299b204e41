"""The rewrite room."""
