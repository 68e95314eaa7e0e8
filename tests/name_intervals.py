"""Intervals between names, for tests that move music by them."""

from __future__ import annotations

from halfstep.pitch import NATURAL_SEMITONES, Interval, Name


def ascending(low: Name, high: Name) -> Interval:
    """The smallest interval up from one name to the other, counted by letters."""
    letters = (high.letter - low.letter) % 7
    natural = (NATURAL_SEMITONES[high.letter] - NATURAL_SEMITONES[low.letter]) % 12
    return Interval(letters, natural + high.alteration - low.alteration)
