"""What a player says, understood: which symptoms the words mean, one part of the sentence at a time."""

from .scoring import Match, matches
from .understanding import Part, best_match, understood

__all__ = ["Match", "Part", "best_match", "matches", "understood"]
