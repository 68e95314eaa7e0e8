"""Which written notes does a player play sharp or flat, against the tuning of the whole take?

A bend, a fall, a scoop is no tuning: short notes are left out, and so are the notes that are
bent by custom, the minor third and the flattened fifth over a chord with a major third. What
is scattered widens the interval.

Conventions: cents, sharp is positive, from the median of the pitches of the take.

Sources: a mistuned note of a melody is heard from about 25 cents (Larrouy-Maestri 2018), a
tendency from 12; the ear is right to within 5 cents on notes of 150 ms and more, measured on
recorded notes.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from math import sqrt

import numpy as np

from halfstep.feedback.estimate import Estimate
from halfstep.feedback.findings import Finding, FindingKind, Unit
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.laid_take import LaidTake
from halfstep.feedback.note_roles import RoledNote, note_roles
from halfstep.feedback.take_note import TakeNote
from halfstep.harmony.tones import chord_steps
from halfstep.listen.heard_take import HeardNote

_FEWEST = 3
_LONG_S = 0.15
_SURE = 0.5
"""A note is heard less surely the farther it is off, so that little is asked."""
_HEARD_CENTS = 15.0
"""A tendency is heard from 12; the notes of a good instrument lie up to 14 off, as those of the
recordings in sound banks do."""
_EAR_CENTS = 2.5
"""Standard error of the ear for all notes of a pitch together."""
_BENT = (3, 6)
_MAJOR_THIRD = 4

_SoundedNote = tuple[RoledNote, HeardNote]


def tuning_findings(taken: LaidTake) -> Iterator[Finding]:
    """The written notes that are sharp or flat throughout."""
    take = taken.take
    notes = [
        (roled, sound) for roled in note_roles(taken) if (sound := _tuned_sound(take, roled.note))
    ]
    if not notes:
        return
    by_pitch: dict[int, list[_SoundedNote]] = defaultdict(list)
    for roled, sound in notes:
        by_pitch[roled.note.midi].append((roled, sound))
    # by pitches, so that one that is off and often played does not move the others
    tuning = float(np.median([_mean_cents(pair) for pair in by_pitch.values()]))
    usual = _usual_spread(by_pitch)
    for pair in by_pitch.values():
        if len(pair) >= _FEWEST:
            yield from _of_pitch(take, pair, tuning, usual)


def _mean_cents(notes: Sequence[_SoundedNote]) -> float:
    return float(np.mean([sound.cents for _, sound in notes]))


def _tuned_sound(take: JudgedTake, note: TakeNote) -> HeardNote | None:
    """What was heard of a note that tells its tuning."""
    sound = note.sound
    if sound is None or sound.offset_s - sound.onset_s < _LONG_S or sound.certainty < _SURE:
        return None
    return None if _is_bent(take, note) else sound


def _is_bent(take: JudgedTake, note: TakeNote) -> bool:
    """True for a note that players bend over its chord."""
    symbol = take.analysis.chords[take.chord_at(note.onset)].span.symbol
    if symbol.silent:
        return False
    step = (note.midi - symbol.root.pitch_class) % 12
    return step in _BENT and _MAJOR_THIRD in chord_steps(symbol) and step not in chord_steps(symbol)


def _usual_spread(by_pitch: Mapping[int, Sequence[_SoundedNote]]) -> tuple[float, int]:
    """How far notes of one pitch scatter, in cents, and the degrees of freedom of that."""
    groups = [np.array([sound.cents for _, sound in notes]) for notes in by_pitch.values()]
    freedom = sum(len(cents) - 1 for cents in groups)
    squares = sum(float(np.sum((cents - cents.mean()) ** 2)) for cents in groups)
    return sqrt(squares / max(1, freedom)), max(1, freedom)


def _of_pitch(
    take: JudgedTake, notes: Sequence[_SoundedNote], tuning: float, usual: tuple[float, int]
) -> Iterator[Finding]:
    cents = np.array([sound.cents - tuning for _, sound in notes])
    spread, freedom = max((float(np.std(cents, ddof=1)), len(cents) - 1), usual)
    estimate = Estimate(float(cents.mean()), spread / sqrt(len(cents)), freedom)
    estimate = estimate.with_error(_EAR_CENTS)
    low, high = estimate.interval
    if low > _HEARD_CENTS:
        yield _finding(take, FindingKind.SHARP, notes[0], estimate, estimate.above(_HEARD_CENTS))
    elif high < -_HEARD_CENTS:
        yield _finding(take, FindingKind.FLAT, notes[0], estimate, estimate.below(-_HEARD_CENTS))


def _finding(
    take: JudgedTake,
    kind: FindingKind,
    first: _SoundedNote,
    estimate: Estimate,
    certainty: float,
) -> Finding:
    roled, _ = first
    low, high = estimate.interval
    return Finding(
        kind=kind,
        fault=True,
        place=take.place_at(roled.note.onset),
        time_s=take.time_s(roled.note.sounded),
        certainty=round(certainty, 3),
        note=roled.pitch,
        amount=round(estimate.value, 1),
        unit=Unit.CENTS,
        interval=(round(low, 1), round(high, 1)),
    )
