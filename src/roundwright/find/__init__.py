"""The find room."""
