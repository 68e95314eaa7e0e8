"""The chords: which notes, near each other, and when."""

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from invented_charts import SWING, SWINGING, SYMBOLS, chart_of, charts

from halfstep.backing import STYLES, Style, make_backing
from halfstep.backing.bar_layout import chord_timeline
from halfstep.backing.voicing import motion, voiced, voiced_degrees, voicings
from halfstep.harmony.tones import chord_tones
from halfstep.meter import Meter
from halfstep.progression.chart import Chart, spans
from halfstep.progression.symbol import parse_symbol

BANDS = st.sampled_from(STYLES)


@given(charts(), BANDS, st.integers(0, 3))
def test_every_note_is_a_tone_of_the_chord_it_sounds_in(
    chart: Chart, style: Style, seed: int
) -> None:
    """The altered dominant also has its colours, ♯9 and ♭13."""
    _, _, chords = make_backing(chart, style=style, seed=seed)
    for note in chords.notes:
        (span,) = [s for s in spans(chart) if s.start <= note.onset < s.end]
        tones = {t.name.pitch_class for t in chord_tones(span.symbol)}
        if span.symbol.alt:
            tones |= {(span.symbol.root.pitch_class + n) % 12 for n in (3, 8)}
        assert note.midi % 12 in tones
        assert note.onset + note.beats <= span.end
        assert 48 <= note.midi <= 72


@given(charts(), BANDS, st.integers(0, 3))
def test_every_chord_is_heard_within_a_beat(chart: Chart, style: Style, seed: int) -> None:
    _, _, chords = make_backing(chart, style=style, seed=seed)
    onsets = {note.onset for note in chords.notes}
    for span in spans(chart):
        end = min(span.end, span.start + 1)
        heard = any(span.start <= onset < end for onset in onsets)
        assert heard != span.symbol.silent


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Cmaj7", {"3", "5", "7"}),
        ("C7", {"3", "5", "♭7"}),
        ("Cm6", {"♭3", "5", "6"}),
        ("C", {"1", "3", "5"}),
        ("C13", {"3", "♭7", "9", "13"}),
        ("C7alt", {"3", "♭7", "♯9", "♭13"}),
        ("C9sus4", {"4", "♭7", "9"}),
        ("Cm7b5", {"♭3", "♭5", "♭7"}),
        ("Cdim7", {"♭3", "♭5", "𝄫7"}),
        ("C5", {"1", "5"}),
        ("Cadd9", {"3", "5", "9"}),
        ("C7(no3)", {"1", "5", "♭7"}),
        ("C/E", {"1", "3", "5"}),
        ("N.C.", set()),
    ],
)
def test_third_and_seventh_come_first_and_the_root_last(text: str, expected: set[str]) -> None:
    """Common practice, no source."""
    assert {str(degree) for degree in voiced_degrees(parse_symbol(text))} == expected


@pytest.mark.parametrize("text", [s for s in SYMBOLS if s not in {"N.C.", "E5", "G(no3)"}])
def test_chords_have_three_or_four_different_notes(text: str) -> None:
    for notes, _ in voicings(parse_symbol(text)):
        assert 3 <= len({note % 12 for note in notes}) == len(notes) <= 4


def test_voices_move_as_little_as_they_can() -> None:
    """Dm7 G7 Cmaj7: no voice moves by more than a third; common practice, no source."""
    laid = list(voiced(chord_timeline(chart_of("Dm7 | G7 | Cmaj7", Meter()))).values())
    for one, other in pairwise(laid):
        assert all(abs(a - b) <= 4 for a, b in zip(one, other, strict=True))


def test_motion_counts_semitones() -> None:
    assert motion((52, 57, 60), (53, 57, 59)) == 1 + 0 + 1
    assert motion((52, 57, 60), (52, 57, 60, 63)) == 3


def test_comping_is_not_the_same_in_neighbouring_bars() -> None:
    _, _, chords = make_backing(SWING, style=SWINGING)
    bars = [
        {note.onset - 4 * n for note in chords.notes if 4 * n <= note.onset < 4 * n + 4}
        for n in range(12)
    ]
    assert len({frozenset(bar) for bar in bars}) >= 3
    assert all(len(bar) <= 4 for bar in bars)
    assert Fraction(0) in bars[0] | bars[1]
