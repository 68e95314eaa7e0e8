"""What a call meets where it is played back: notes that fit both, bars that go by ones or twos."""

from __future__ import annotations

from bisect import bisect_right
from fractions import Fraction

import numpy as np
import pytest
from briefs_over_charts import brief_over, midis_of, slots_laid_out
from step_lines import line_of

from halfstep.etude.played_back import (
    EVERY_CLASS,
    answers,
    calls_by_twos,
    calls_that_fit,
    clashes_back,
    fits_back,
    fitting_classes,
    has_choice,
)
from halfstep.etude.steps.question import asked_bars
from halfstep.etude.written_etude import Etude

FAR = "| Cmaj7 | % | F#maj7 | % |"
HALF_STEP = "| Cmaj7 | Dbmaj7 | Ebm7 | Am7 |"
NEAR = "key: C\n| Dm7 | G7 | Cmaj7 | A7 | Dm7 | G7 | Cmaj7 | % |"
SLIPPING = "| Abmaj7 | Gb7 | Fm7 | Bb7 | Am7 | D7 | Ebmaj7 | Cm7b5 |"
DIM = "| Cdim7 | % | F#7 | E7 | Bb7b9 | Eb7 | E7 | % |"


@pytest.mark.parametrize(
    ("symbol", "names"),
    [
        ("Cmaj7", "C D E G A B"),  # F lies a half step above E
        ("G7", "G A B D E F"),
        ("N.C.", "C C# D D# E F F# G G# A A# B"),
    ],
)
def test_what_fits_a_chord(symbol: str, names: str) -> None:
    """Common practice, no source."""
    chord = brief_over(f"key: C\n| {symbol} | C |").analysis.chords[0]
    assert fitting_classes(chord) == {midi % 12 for midi in midis_of(" ".join(
        f"{name}4" for name in names.split()
    ))}  # fmt: skip


@pytest.mark.parametrize(
    ("played", "bars", "backs"),
    [
        ({1, 2, 5, 6}, 8, {1: 3, 2: 4, 5: 7, 6: 8}),
        ({1, 3}, 4, {1: 2, 3: 4}),
        ({1, 2}, 3, {1: 3}),  # the form ends before bar 2 is played back
        ({1, 2, 3, 4}, 4, {}),
        ({1, 2, 4}, 4, {1: 3}),
    ],
)
def test_each_bar_is_played_back_in_the_bar_left_for_it(
    played: set[int], bars: int, backs: dict[int, int]
) -> None:
    assert answers(played, bars) == backs


def test_one_bar_is_played_at_a_time_where_two_do_not_fit() -> None:
    assert calls_that_fit(brief_over(FAR).analysis) == {1, 3}
    assert calls_that_fit(brief_over(NEAR).analysis) == {1, 2, 5, 6}
    assert calls_by_twos(brief_over(FAR).analysis) == {1, 2}


def misfits(etude: Etude, played: set[int]) -> int:
    """Notes that clash where they are played back, by the beat, in plain code."""
    starts = [start for _, start in etude.analysis.chart.placed()]
    backs = answers(played, len(starts))
    count = 0
    for note in etude.notes:
        number = bisect_right(starts, note.onset)
        if note.pitch is None or number not in backs:
            continue
        at = note.onset + starts[backs[number] - 1] - starts[number - 1]
        for chord in etude.analysis.chords:
            if chord.span.start < at + note.beats and at < chord.span.end:
                count += note.pitch.midi % 12 not in fitting_classes(chord)
    return count


@pytest.mark.sampled
@pytest.mark.parametrize("level", ["beginner", "intermediate", "advanced"])
@pytest.mark.parametrize("chart", [FAR, NEAR, SLIPPING, DIM])
@pytest.mark.parametrize("seed", [0, 1])
def test_every_note_of_an_echo_and_a_call_fits_where_it_is_played_back(
    chart: str, level: str, seed: int
) -> None:
    request = brief_over(chart, level=level, seed=seed, instrument="alto-sax")
    for step in ("echo", "call-and-response"):
        etude = line_of(step, request)
        assert misfits(etude, calls_that_fit(request.analysis)) == 0
        assert not any("a note does not fit" in notice.text for notice in etude.notices)
    assert misfits(line_of("question", request), asked_bars(request.analysis)) == 0


@pytest.mark.parametrize("level", ["beginner", "advanced"])
def test_an_echo_stays_on_the_one_note_that_fits_both(level: str) -> None:
    """D flat major seventh, played back over A minor seventh, has C alone."""
    request = brief_over(HALF_STEP, level=level, instrument="alto-sax")
    etude = line_of("echo", request)
    assert misfits(etude, calls_that_fit(request.analysis)) == 0
    assert {n.pitch.midi % 12 for n in etude.notes if n.pitch and n.chord == 1} == {0}


def test_a_teacher_is_told_that_one_bar_goes_at_a_time() -> None:
    notices = line_of("echo", brief_over(FAR)).notices
    assert [notice.text for notice in notices] == [
        "where two bars do not fit when they come back, one is played and one is yours: "
        "bars 1–4 over {0}"
    ]


def test_what_fits_nowhere_is_told() -> None:
    """C major seventh, played back over F sharp with neither of their two shared tones."""
    request = brief_over("| C | F#m | C | F#m |", known="C4 E4 G4 F#4 A4 C#5 C5")
    etude = line_of("echo", request)
    assert misfits(etude, calls_that_fit(request.analysis)) == 0
    alone = brief_over("| C | F# | Db | G |", known="C4 E4 G4 F#4 A#4 C#4 F4 G#4 B4 D4")
    told = [n.text for n in line_of("echo", alone).notices if "a note does not fit" in n.text]
    assert bool(told) is bool(misfits(line_of("echo", alone), calls_that_fit(alone.analysis)))


def test_the_notes_of_a_call_where_few_or_none_fit() -> None:
    """Of C major's arpeggio those that fit; then of both scales; then any of the arpeggio."""
    slot = next(s for s in slots_laid_out("echo", brief_over("key: C\n| Cmaj7 | % |")) if s.palette)

    def open_names(classes: set[int]) -> set[int]:
        echo = slot._replace(echo=frozenset(classes))
        grid = np.arange(60, 72)
        return {int(n) % 12 for n in grid[fits_back([echo], [grid])]}

    assert open_names({4, 7, 8}) == {4, 7}
    assert open_names({4, 9, 8}) == {4, 9}
    assert open_names({4, 8}) == {4}
    assert open_names({1, 8}) == {0, 4, 7, 11}
    assert open_names(set(EVERY_CLASS)) == {0, 4, 7, 11}
    assert not has_choice([slot, slot._replace(echo=frozenset({4, 8}))])
    assert has_choice([slot, slot._replace(echo=frozenset({4, 7}))])


def test_a_note_that_does_not_fit_later_costs_one() -> None:
    slot = slots_laid_out("echo", brief_over("key: C\n| Cmaj7 | % |"))[0]
    midis = [np.array(midis_of("C4 C#4"))]
    assert clashes_back([slot._replace(echo=frozenset({0}))], midis).tolist() == [0, 1]
    assert clashes_back([slot._replace(echo=None)], midis).tolist() == [0, 0]


@pytest.mark.sampled
@pytest.mark.parametrize("bars", [2, 3, 4, 6, 8, 12])
@pytest.mark.parametrize("seed", range(3))
def test_every_question_ends_on_another_tone_than_the_root(bars: int, seed: int) -> None:
    """The last one too, which no rest follows but the written answer."""
    chart = "key: C\n" + "| Dm7 | G7 | Cmaj7 | A7 " * 3
    cut = "|".join(chart.split("|")[: bars + 1]) + "|"
    etude = line_of("question", brief_over(cut, seed=seed, instrument="alto-sax"))
    asking = [n for n in range(1, bars) if n % 4 in {1, 2} and (n % 4 == 2 or n == bars - 1)]
    for number in asking:
        last = next(n for n in etude.notes if n.end == 4 * number)
        assert last.beats >= Fraction(1)
        assert last.breath
        assert last.degree is not None
        assert last.degree.number != 1
