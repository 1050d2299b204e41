"""The find room: which moves are circles, which of them are holes and bosses, and how that is known."""

from roundwright.find.census import find_features
from roundwright.find.feature import Feature, Ring

__all__ = ["Feature", "Ring", "find_features"]
