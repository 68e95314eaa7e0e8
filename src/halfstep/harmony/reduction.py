"""What is left of the changes when they come fast? Three ways to play less.

- `may_skip`: chords that a line may pass over, each with the reason. No two neighbours are
  skipped, and the chords that establish a key never are.
- `triad`: the root, the third and the fifth alone.
- `one_note_line`: one chord tone for each chord, found exactly: the least motion in all,
  with thirds and sevenths preferred.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from halfstep.harmony.analysis import AnalysedChord, Analysis
from halfstep.harmony.chord_in_key import degree_in, is_dominant, is_minor
from halfstep.harmony.function import Role
from halfstep.harmony.scale_choice import Reason
from halfstep.harmony.tones import ChordTone
from halfstep.pitch import Name

SHORT_BEATS = Fraction(2)
"""A chord this short, in quarter notes, may be passed over when it only decorates."""
_NO_GUIDE = 1.0
"""For a root or fifth as the one note of a chord, in semitones of motion."""

_THROUGH_BOTH = "play {after} through both"
_DECORATIONS = {
    Role.PASSING_DIMINISHED: "it only passes from {before} to {after}",
    Role.COMMON_TONE_DIMINISHED: "it only embellishes {after}",
    Role.LEADING_DIMINISHED: "it only leads to {after}",
    Role.LINE_CLICHE: "one voice moves; {root} stays",
    Role.PEDAL: "the bass stays on {bass}",
    Role.SECONDARY_TWO: _THROUGH_BOTH,
    Role.SECONDARY_DOMINANT: "it only leads to {after}",
    Role.TRITONE_SUBSTITUTE: "it only leads to {after}",
}
_SAME_NOTES = "it keeps every note of {before}"


def may_skip(analysis: Analysis, *, beats: Fraction = SHORT_BEATS) -> tuple[Reason | None, ...]:
    """Why each chord may be passed over; None where it may not.

    Parameters
    ----------
    analysis : Analysis
    beats : Fraction
        As short as a decoration must be, in quarter notes; at a fast tempo a whole bar.
    """
    reasons: list[Reason | None] = []
    for place, chord in enumerate(analysis.chords):
        before_stays = place == 0 or reasons[-1] is None
        text = _reason(analysis, place, beats) if before_stays and place else ""
        reasons.append(Reason(text, chord.function.place) if text else None)
    return tuple(reasons)


def _reason(analysis: Analysis, place: int, beats: Fraction) -> str:
    chord = analysis.chords[place]
    change = analysis.changing_into(place)
    if chord.silent or change is None or chord.function.role is Role.TONIC:
        return ""
    if _is_two(chord):
        return _THROUGH_BOTH
    if not change.changing_notes and not change.leaves:
        return "" if chord.function.role is Role.DOMINANT else _SAME_NOTES
    if chord.span.beats > beats or chord.function.place.after.silent:
        return ""
    return _DECORATIONS.get(chord.function.role, "")


def _is_two(chord: AnalysedChord) -> bool:
    """True for ii of the key before its V7."""
    place = chord.function.place
    on_two = degree_in(place.symbol, place.key) == 2 and is_minor(place.symbol)
    return on_two and place.rise == 5 and is_dominant(place.after)


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
