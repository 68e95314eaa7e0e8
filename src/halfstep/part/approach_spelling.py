"""How is a note spelled that leads by a half step to the next?

On the letter next to its goal: raised from below, lowered from above, as the player reads
the goal; so E♯ leads to F♯ whatever the signature. It keeps the name it has in its scale

- where the letter next to the goal would need a double sign: A and not B𝄫 leads to A♭;
- where it is the changing note that the player listens for;
- where it is a tone of its chord, and the other name E♯, B♯, F♭ or C♭.

The second note of an enclosure leads to its goal, and so does the first.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from fractions import Fraction
from typing import TYPE_CHECKING

from halfstep.pitch import NATURAL_SEMITONES, Name, Pitch, is_odd, pitch_near

if TYPE_CHECKING:
    from halfstep.etude.etude_notes import EtudeNote


def approach_pitches(
    notes: Sequence[EtudeNote],
    pitch_of: Callable[[EtudeNote], Pitch | None],
    tones_of: Callable[[int], Collection[Name]],
) -> dict[Fraction, Pitch]:
    """The written pitches of the notes that are spelled by their goal, by onset.

    Parameters
    ----------
    notes : sequence of EtudeNote
        A line, in order.
    pitch_of : callable
        The written pitch that a note has in its scale; None for a rest.
    tones_of : callable
        The written names of a chord's tones.
    """
    spelled: dict[Fraction, Pitch] = {}
    for place in range(len(notes) - 2, -1, -1):
        note, goal = notes[place], _goal(notes, place)
        if not note.approach or note.changing:
            continue
        pitch, target = pitch_of(note), spelled.get(goal.onset) or pitch_of(goal)
        if not (pitch and target):
            continue
        name = neighbour_name(pitch.midi, target)
        is_tone = pitch.name in tones_of(note.chord)
        if name and not (is_tone and is_odd(name)):
            spelled[note.onset] = pitch_near(name, pitch.midi)
    return spelled


def neighbour_name(midi: int, goal: Pitch) -> Name | None:
    """The name on the letter next to a goal a half step away; None where there is none.

    None as well where it would have a double sign.
    """
    step = goal.midi - midi
    if abs(step) != 1:
        return None
    letter = (goal.name.letter - step) % 7
    alteration = (midi - NATURAL_SEMITONES[letter] + 6) % 12 - 6
    return Name(letter, alteration) if abs(alteration) <= 1 else None


def _goal(notes: Sequence[EtudeNote], place: int) -> EtudeNote:
    """The note that an approach leads to: behind the whole enclosure where it is one."""
    following = notes[place + 1]
    encloses = notes[place].approach == following.approach == "enclosure"
    return notes[place + 2] if encloses and place + 2 < len(notes) else following
