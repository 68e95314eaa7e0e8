"""Steps 1, 2 and 4 have the shapes that the list of steps says."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
from etude_charts import INVENTED, written
from hypothesis import given
from hypothesis import strategies as st

from halfstep.etude.parts import Brief, Etude
from halfstep.etude.runs import has_repeat, repeated, zigzag
from halfstep.etude.write import write_etude
from halfstep.harmony.analysis import analyse
from halfstep.instruments import INSTRUMENTS, Level
from halfstep.progression.text import read_chart_text


@given(st.integers(0, 60), st.integers(1, 9), st.booleans())
def test_a_zigzag_goes_by_one_between_the_root_and_its_peak(
    count: int, peak: int, twice: bool
) -> None:
    way = zigzag(count, peak, twice=twice)
    assert len(way) == count
    assert way[:1] in {(), (0,)}
    assert all(0 <= place <= peak for place in way)
    for old, new in pairwise(way):
        assert abs(new - old) == 1 or (twice and old == new and old in {0, peak})


def test_a_zigzag_turns_at_its_peak_once_or_twice() -> None:
    assert zigzag(9, 3) == (0, 1, 2, 3, 2, 1, 0, 1, 2)
    assert zigzag(9, 3, twice=True) == (0, 1, 2, 3, 3, 2, 1, 0, 0)


@given(st.integers(1, 16), st.booleans(), st.booleans(), st.integers(0, 99))
def test_repeated_tones_stay_in_order(count: int, up: bool, again: bool, seed: int) -> None:
    """The four tones one way, or up and down where there are many notes."""
    offsets = repeated(count, up=up, again=again, rng=np.random.default_rng(seed))
    assert len(offsets) == count
    assert all(0 <= place <= 3 for place in offsets)
    assert all(abs(new - old) <= 1 for old, new in pairwise(offsets))
    assert offsets[0] == (0 if up or count < 4 or count > 8 else 3)
    if (again and count > 1) or count > 7 or 4 < count <= 7:
        assert has_repeat(offsets)
    moves = [new - old for old, new in pairwise(offsets) if new != old]
    turns = sum(a != b for a, b in pairwise(moves))
    assert turns == (1 if count > 8 else 0)


def test_no_tone_is_repeated_much_more_than_another() -> None:
    for seed in range(20):
        offsets = repeated(8, up=True, again=False, rng=np.random.default_rng(seed))
        assert {offsets.count(tone) for tone in range(4)} == {2}


def by_bar(etude: Etude) -> list[str]:
    """Degrees in each bar, as words."""
    bar = etude.analysis.chart.meter.bar_beats
    bars: dict[Fraction, list[str]] = {}
    for note in etude.notes:
        bars.setdefault(note.onset // bar, []).append(note.degree.ascii if note.degree else "r")
    return [" ".join(words) for words in bars.values()]


def over(step: int, chart: str, instrument: str = "flute", seed: int = 0) -> Etude:
    level = Level.ADVANCED
    brief = Brief(INSTRUMENTS[instrument], level, 120.0, seed)
    return write_etude(step, analyse(read_chart_text(chart), level=level), brief)


def test_an_arpeggio_in_one_bar_goes_up_and_down_within_it() -> None:
    assert by_bar(over(1, "| Dm7 | G7 | Cmaj7 | C7 |")) == [
        "1 b3 5 b7 5 b3 1",
        "1 3 5 b7 5 3 1",
        "1 3 5 7 5 3 1",
        "1 3 5 b7 5 3 1",
    ]


def test_a_longer_arpeggio_goes_up_in_one_bar_and_down_in_the_next() -> None:
    assert by_bar(over(1, "| Dm7 | % | % | % | G7 | % |")) == [
        "1 b3 5 b7",
        "b7 5 b3 1",
        "1 b3 5 b7",
        "b7 5 b3 1",
        "1 3 5 b7",
        "b7 5 3 1",
    ]


def test_two_arpeggios_in_a_bar_go_up_and_down_in_turn() -> None:
    assert by_bar(over(1, "| Dm7 G7 | Cmaj7 A7 |")) == ["1 b3 5 b7 b7 5 3 1", "1 3 5 7 b7 5 3 1"]


def test_a_triad_goes_on_to_its_octave() -> None:
    assert by_bar(over(1, "| C | F |")) == ["1 3 5 1 5 3 1"] * 2


@pytest.mark.parametrize("instrument", ["flute", "clarinet", "guitar", "alto-sax"])
def test_a_scale_of_a_bar_goes_root_to_root(instrument: str) -> None:
    """Where the range allows it: up, or down from the octave."""
    etude = over(4, INVENTED["dominants"], instrument)
    for chord in range(len(etude.analysis.chords)):
        own = [note for note in etude.notes if note.chord == chord]
        assert len(own) == 8
        assert {own[0].degree.number, own[-1].degree.number} == {1}  # type: ignore[union-attr]
        ends = [note.pitch.midi for note in (own[0], own[-1]) if note.pitch]
        assert abs(ends[1] - ends[0]) == 12


def test_a_scale_of_two_bars_goes_over_the_ninth_and_comes_back() -> None:
    degrees = by_bar(over(4, "key: C\n| Cmaj7 | % | Fmaj7 | % |"))
    up, down = "1 2 3 4 5 6 7 1", "2 1 7 6 5 4 3 2"
    assert degrees[:2] == [up, down]


def test_a_last_scale_ends_on_a_held_chord_tone() -> None:
    """Half a bar holds 1 2 3 with the third held, not 1 2 3 4."""
    etude = over(4, "key: C\n| Cmaj7 | Fmaj7 C7 |")
    last = etude.notes[-1]
    assert last.degree
    assert last.degree.ascii in {"1", "3", "5", "b7"}
    assert last.beats >= 1


@pytest.mark.parametrize("name", INVENTED)
@pytest.mark.parametrize("level", Level)
def test_arpeggios_in_rhythm_repeat_tones_and_change_their_rhythm(name: str, level: Level) -> None:
    etude = written(2, name, "alto-sax", level)
    bar = etude.analysis.chart.meter.bar_beats
    groups: dict[tuple[Fraction, int], list[Fraction]] = {}
    for note in etude.notes:
        groups.setdefault((note.onset // bar, note.chord), []).append(note.beats)
    rhythms = list(groups.values())
    assert all(old != new for old, new in pairwise(rhythms) if len(old) > 2)
    pitches = [note.pitch for note in etude.notes]
    repeats = sum(old == new for old, new in pairwise(pitches))
    assert repeats >= len(rhythms) / 4
