"""The find room: which moves are circles, which of them are holes and bosses, and how that is known."""

from roundwright.find.calm import Calm, calm_of
from roundwright.find.census import find_features
from roundwright.find.feature import Feature, Ring, free_of_doubt

__all__ = ["Calm", "Feature", "Ring", "calm_of", "find_features", "free_of_doubt"]
