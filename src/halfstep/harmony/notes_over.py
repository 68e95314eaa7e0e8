"""What is a note over a chord called? Its degree, and its name in concert pitch.

A note of the chord or its scale is named as they spell it, any other by the nearest alteration
in common use (♭2 ♭3 ♯4 ♭6 ♭7). Source: common practice, no source.
"""

from __future__ import annotations

from halfstep.harmony.analysis import AnalysedChord
from halfstep.pitch import Degree, Name, parse_degrees, practical

USUAL_DEGREES = parse_degrees("1 b2 2 b3 3 4 #4 5 b6 6 b7 7")
"""The twelve notes over a root, by semitones."""


def degree_over(chord: AnalysedChord, pitch_class: int) -> Degree:
    """The degree of a note over a chord, as its tones and its scale spell it."""
    above = (pitch_class - chord.span.symbol.root.pitch_class) % 12
    degrees = [tone.degree for tone in chord.tones] + [note.degree for note in chord.scale.notes]
    return next((degree for degree in degrees if degree.semitones == above), USUAL_DEGREES[above])


def concert_name(chord: AnalysedChord, pitch_class: int) -> Name:
    """The name of a note over a chord, in concert pitch."""
    names = (*(tone.name for tone in chord.tones), *chord.scale.names)
    spelled = (name for name in names if name.pitch_class == pitch_class)
    return next(spelled, None) or practical(
        chord.span.symbol.root + degree_over(chord, pitch_class).interval
    )
