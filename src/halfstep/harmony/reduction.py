"""What is left of the changes when they come fast? Three ways to play less.

- `may_skip`: chords that a line may pass over, each with the reason. It is the ii of a fast
  ii–V alone, since a line over the V goes with it; any other chord would be missed.
- `triad`: the root, the third and the fifth alone.
- `one_note_line`: one chord tone for each chord, found exactly: the least motion in all,
  with thirds and sevenths preferred.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from halfstep.harmony.analysis import AnalysedChord, Analysis
from halfstep.harmony.chord_in_key import degree_in, is_dominant
from halfstep.harmony.function import Role, is_minor_goal
from halfstep.harmony.scale_choice import Reason
from halfstep.harmony.tones import ChordTone
from halfstep.pitch import Name

SHORT_BEATS = Fraction(2)
"""So long, in quarter notes, each chord of a fast ii–V lasts at most."""
_NO_GUIDE = 1.0
"""For a root or fifth as the one note of a chord, in semitones of motion."""

_THROUGH_BOTH = "play {after} through both"


def may_skip(analysis: Analysis, *, beats: Fraction = SHORT_BEATS) -> tuple[Reason | None, ...]:
    """Why each chord may be passed over; None where it may not.

    Parameters
    ----------
    analysis : Analysis
    beats : Fraction
        How long the ii and its V may each last at most, in quarter notes; at a fast tempo a
        whole bar.
    """
    following = (*analysis.chords[1:], analysis.chords[0])
    return tuple(
        Reason(_THROUGH_BOTH, chord.function.place)
        if _is_two(chord) and max(chord.span.beats, dominant.span.beats) <= beats
        else None
        for chord, dominant in zip(analysis.chords, following, strict=True)
    )


def _is_two(chord: AnalysedChord) -> bool:
    """True for ii before its V7, of the key or of another chord; around the loop it is none."""
    place = chord.function.place
    on_two = degree_in(place.symbol, place.key) == 2 or chord.function.role is Role.SECONDARY_TWO
    to_five = is_dominant(place.after) and place.rise == 5 and not place.closes
    return on_two and is_minor_goal(place.symbol) and to_five


def triad(chord: AnalysedChord) -> tuple[ChordTone, ...]:
    """The root, the third and the fifth of a chord, or what stands for them."""
    tones = [tone for tone in chord.tones if tone.degree.number <= 5]
    return tuple(tones[:3])


def one_note_line(analysis: Analysis) -> tuple[Name | None, ...]:
    """One chord tone for each chord with the least motion in all; None for silence."""
    offers = [[tone.name for tone in chord.core] for chord in analysis.chords if not chord.silent]
    guides = [{tone.name for tone in chord.guides} for chord in analysis.chords if not chord.silent]
    path = iter(_least_motion(offers, guides))
    return tuple(None if chord.silent else next(path) for chord in analysis.chords)


def _least_motion(offers: Sequence[Sequence[Name]], guides: Sequence[set[Name]]) -> list[Name]:
    """The cheapest path through the offers, by dynamic programming."""
    best = [_NO_GUIDE * (name not in guides[0]) for name in offers[0]]
    came_from: list[list[int]] = []
    for old, new, guide in zip(offers, offers[1:], guides[1:], strict=False):
        reach = [[cost + _distance(a, b) for a, cost in zip(old, best, strict=True)] for b in new]
        came_from.append([row.index(min(row)) for row in reach])
        best = [
            min(row) + _NO_GUIDE * (name not in guide) for name, row in zip(new, reach, strict=True)
        ]
    places = [best.index(min(best))]
    for sources in reversed(came_from):
        places.append(sources[places[-1]])
    return [offer[place] for offer, place in zip(offers, reversed(places), strict=True)]


def _distance(old: Name, new: Name) -> int:
    """Semitones between two notes, the short way round."""
    rise = (new.pitch_class - old.pitch_class) % 12
    return min(rise, 12 - rise)
