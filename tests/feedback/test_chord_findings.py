"""Whatever is played, what is told of it agrees with itself, and is the same for every player."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.feedback.findings import Finding
from halfstep.feedback.judge import LAID_FINDERS
from halfstep.feedback.laid_take import LaidTake, laid_take
from halfstep.feedback.note_roles import NoteRole, note_roles
from halfstep.harmony.line_over_chords import LineNote
from halfstep.instruments import INSTRUMENTS
from typed_takes import take_of

CHARTS = (
    "key: F\n| C7 | F7 |",
    "key: Bb\n| Bb7 | Eb7 | Bb7 | Fm7 Bb7 | Eb7 | Edim7 | Bb7 | G7b9 | Cm7 | F7 | Bb7 G7 | F7 |",
    "meter: 3/4\n{pickup 1} D7 | Gmaj7 | Em7 A7alt | N.C. | Cm7 |",
    "meter: 6/8\n| Dm | Bbmaj7 | Gm7 A7 | Dm7 |",
    "| N.C. | N.C. |  Cmaj7#11 | Cmaj7#11 |",
    "| C5 | Csus2 | C7sus4 | Caug7 | Cdim7 | C6/9 |",
)
PLACES = st.fractions(-2, 40, max_denominator=6)
LINES = st.lists(
    st.tuples(PLACES, st.fractions("1/8", 3, max_denominator=8), st.integers(45, 90)),
    max_size=60,
    unique_by=lambda note: note[0],
)


def line_of(played: list[tuple[Fraction, Fraction, int]]) -> list[LineNote]:
    return [LineNote(*note) for note in sorted(played)]


def findings(taken: LaidTake) -> list[Finding]:
    return [finding for finder in LAID_FINDERS for finding in finder(taken)]


@pytest.mark.slow
@given(LINES, st.sampled_from(CHARTS))
def test_what_is_told_agrees_with_itself(
    played: list[tuple[Fraction, Fraction, int]], chart: str
) -> None:
    line = line_of(played)
    taken = laid_take(take_of(line, chart))
    for finding in findings(taken):
        assert 0 <= finding.certainty <= 1
        assert finding.place.chorus >= 1
        assert 1 <= finding.place.bar <= len(taken.take.chart.form)
        assert finding.chord
    roled = note_roles(taken)
    assert [note.note.midi for note in roled] == [note.midi for note in line]
    for note in roled:
        has_chord = note.role not in {NoteRole.NO_CHORD, NoteRole.BEFORE_FORM}
        assert has_chord == (note.chord is not None) == (note.degree is not None)


@pytest.mark.slow
@given(LINES, st.sampled_from(CHARTS), st.sampled_from(sorted(INSTRUMENTS)))
def test_every_player_is_told_the_same_in_written_pitch(
    played: list[tuple[Fraction, Fraction, int]], chart: str, instrument: str
) -> None:
    line = line_of(played)
    sounding = findings(laid_take(take_of(line, chart)))
    written = findings(laid_take(take_of(line, chart, instrument=instrument)))
    rise = INSTRUMENTS[instrument].rise.semitones
    assert [(f.kind, f.place, f.certainty, f.beats_late) for f in sounding] == [
        (f.kind, f.place, f.certainty, f.beats_late) for f in written
    ]
    for one, other in zip(sounding, written, strict=True):
        assert (one.note is None) == (other.note is None)
        if one.note and other.note:
            assert other.note.midi - one.note.midi == rise
        if one.instead and other.instead:
            assert other.instead.midi - one.instead.midi == rise
