"""Steps 1, 2 and 4 have the shapes that the list of steps says."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from etude_charts import INVENTED, written
from hypothesis import given
from hypothesis import strategies as st
from shared_bars import shared_bars

from halfstep.etude.chord_runs import zigzag
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_writer import write_etude
from halfstep.etude.slots import phrase_ends
from halfstep.etude.steps import find_step
from halfstep.etude.steps.arpeggio_in_rhythm import has_repeat, repeated
from halfstep.etude.written_etude import Etude
from halfstep.harmony.analysis import analyse
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.random_stream import RandomStream
from typed_charts import read_chart_text


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
    offsets = repeated(count, up=up, again=again, rng=RandomStream(seed))
    assert len(offsets) == count
    assert all(0 <= place <= 3 for place in offsets)
    assert all(abs(new - old) <= 1 for old, new in pairwise(offsets))
    assert offsets[0] == (0 if up or count < 4 or count > 8 else 3)
    if (again and count > 1) or count > 7 or 4 < count <= 7:
        assert has_repeat(offsets)
    moves = [new - old for old, new in pairwise(offsets) if new != old]
    turns = sum(a != b for a, b in pairwise(moves))
    assert turns == (1 if count > 8 else 0)


@given(st.integers(1, 16), st.booleans(), st.booleans(), st.integers(0, 99))
def test_repeated_tones_come_home_when_asked(count: int, up: bool, again: bool, seed: int) -> None:
    rng = RandomStream(seed)
    offsets = repeated(count, up=up, again=again, rng=rng, home=True)
    assert len(offsets) == count
    assert offsets[-1] == 0
    assert all(abs(new - old) <= 1 for old, new in pairwise(offsets))


def test_no_tone_is_repeated_much_more_than_another() -> None:
    for seed in range(20):
        offsets = repeated(8, up=True, again=False, rng=RandomStream(seed))
        assert {offsets.count(tone) for tone in range(4)} == {2}


def by_bar(etude: Etude) -> list[str]:
    """Degrees in each bar, as words."""
    bar = etude.analysis.chart.meter.bar_beats
    bars: dict[Fraction, list[str]] = {}
    for note in etude.notes:
        bars.setdefault(note.onset // bar, []).append(note.degree.ascii if note.degree else "r")
    return [" ".join(words) for words in bars.values()]


def over(
    step: str,
    chart: str,
    instrument: str = "flute",
    seed: int = 0,
    level: Level = Level.ADVANCED,
) -> Etude:
    brief = Brief(INSTRUMENTS[instrument], level, 120.0, seed)
    return write_etude(find_step(step), analyse(read_chart_text(chart), level=level), brief)


@pytest.mark.parametrize("level", [Level.INTERMEDIATE, Level.ADVANCED])
def test_an_arpeggio_in_one_bar_goes_up_and_down_within_it(level: Level) -> None:
    assert by_bar(over("arpeggio", "| Dm7 | G7 | Cmaj7 | C7 |", level=level)) == [
        "1 b3 5 b7 5 b3 1",
        "1 3 5 b7 5 3 1",
        "1 3 5 7 5 3 1",
        "1 3 5 b7 5 3 1",
    ]


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("text", ["| Dm7 | G7 | Cmaj7 | % |", "meter: 3/4\n| F6 | % | C7 | F6 |"])
def test_a_beginner_has_plain_quarters(text: str, seed: int) -> None:
    etude = over("arpeggio", text, level=Level.BEGINNER, seed=seed)
    assert {note.beats for note in etude.notes} == {1}


def test_a_beginner_goes_one_way_in_a_bar_and_comes_down_at_the_end() -> None:
    assert by_bar(over("arpeggio", "| Dm7 | G7 | Cmaj7 | C7 |", level=Level.BEGINNER)) == [
        "1 b3 5 b7",
        "b7 5 3 1",
        "1 3 5 7",
        "b7 5 3 1",
    ]


@pytest.mark.parametrize(
    ("text", "notice"),
    [
        ("key: F\n| Gm7 C7 | F6 |", "where the notes are too long for all tones of the chord, "
         "some are left out: the fifth and seventh in bar 1"),
        ("meter: 3/4\n| F7 | Bb7 |", "where the notes are too long for all tones of the chord, "
         "some are left out: the seventh in bars 1–2"),
    ],
)  # fmt: skip
def test_tones_that_quarters_leave_no_time_for_are_told(text: str, notice: str) -> None:
    etude = over("arpeggio", text, level=Level.BEGINNER)
    assert any(said.text.startswith(notice) for said in etude.notices)


def test_a_last_arpeggio_ends_on_a_held_root() -> None:
    """Also over half a bar, in three and in six eighth, and where the last chord is short."""
    for text in (
        "| Dm7 | G7 Cmaj7 |",
        "meter: 3/4\n| Dm7 | G7 |",
        "meter: 6/8\n| Dm7 | G7 |",
        "meter: 6/8\n| Dm7 | G7 Cmaj7 |",
        "| Dm7 | % | % |",
    ):
        for step, level in (("arpeggio", Level.BEGINNER), ("arpeggio", Level.ADVANCED)):
            last = over(step, text, level=level).notes[-1]
            assert last.beats >= 1, text
            assert last.degree, text
            assert last.degree.number == 1, text


@pytest.mark.sampled
@pytest.mark.parametrize("name", INVENTED)
@pytest.mark.parametrize("level", Level)
@pytest.mark.parametrize("step", ["arpeggio", "arpeggio-in-rhythm"])
def test_players_breathe_after_a_note_of_a_pulse_or_more(
    name: str, level: Level, step: str
) -> None:
    """Unless the chord under the breath is shorter."""
    etude = written(step, name, "alto-sax", level)
    pulse = etude.analysis.chart.meter.tempo_beats
    breaths = [note for note in etude.notes if note.breath]
    assert breaths
    for note in breaths:
        assert note.beats >= min(pulse, etude.analysis.chords[note.chord].span.beats)


def test_in_compound_time_an_arpeggio_falls_into_the_groups() -> None:
    """Four notes over two dotted beats are long, short, long, short; over four, all equal."""
    six = over("arpeggio", "meter: 6/8\n| Dm7 | % | G7 | % |", level=Level.BEGINNER)
    long_short = [Fraction(1), Fraction(1, 2)] * 2
    assert [note.beats for note in six.notes[:8]] == long_short * 2
    twelve = over("arpeggio", "meter: 12/8\n| Dm7 | % | G7 | % |", level=Level.BEGINNER)
    assert [note.beats for note in twelve.notes[:8]] == [Fraction(3, 2)] * 8


@pytest.mark.parametrize("step", ["arpeggio", "arpeggio-in-rhythm"])
@pytest.mark.parametrize("level", Level)
def test_no_note_of_an_arpeggio_crosses_a_group_of_a_compound_bar_but_a_held_one(
    step: str, level: Level
) -> None:
    """A note that goes on into the next group fills that to its end."""
    etude = over(step, INVENTED["six eight"], level=level)
    pulse = etude.analysis.chart.meter.pulse_beats
    for note in etude.notes:
        within = note.onset // pulse == (note.end - Fraction(1, 8)) // pulse
        assert within or note.end % pulse == 0, note


def test_a_longer_arpeggio_goes_up_in_one_bar_and_down_in_the_next() -> None:
    assert by_bar(over("arpeggio", "| Dm7 | % | % | % | G7 | % |")) == [
        "1 b3 5 b7",
        "b7 5 b3 1",
        "1 b3 5 b7",
        "b7 5 b3 1",
        "1 3 5 b7",
        "b7 5 3 1",
    ]


def test_two_arpeggios_in_a_bar_go_up_and_down_in_turn() -> None:
    """At the end of a phrase the last tone gives way to a held one."""
    assert by_bar(over("arpeggio", "| Dm7 G7 | Cmaj7 A7 |")) == [
        "1 b3 5 b7 b7 5 3 1",
        "1 3 5 7 5 3 1",
    ]


def test_a_triad_goes_on_to_its_octave() -> None:
    assert by_bar(over("arpeggio", "| C | F |")) == ["1 3 5 1 5 3 1"] * 2


def test_a_short_scale_begins_or_ends_on_the_root_and_not_always_in_one_way() -> None:
    """Up from it, up to it, down from it; none begins on the fourth."""
    ways = set()
    for seed in range(6):
        etude = over("scale", "| Dm7 Gm7 | Cm7 Fm7 | Am7 Dm7 | Gm7 Cm7 | Dm7 |", seed=seed)
        for chord in range(7):
            own = [n for n in etude.notes if n.chord == chord and n.degree and n.pitch]
            numbers = [n.degree.number for n in own if n.degree]
            assert 1 in {numbers[0], numbers[-1]}
            ways.add(tuple(numbers))
    assert ways == {(1, 2, 3, 4), (5, 6, 7, 1), (1, 7, 6, 5)}


@pytest.mark.parametrize("instrument", ["flute", "clarinet", "guitar", "alto-sax"])
def test_a_scale_of_a_bar_goes_root_to_root(instrument: str) -> None:
    """Where the range allows it: up, or down from the octave; a close takes time from it."""
    etude = over("scale", INVENTED["dominants"], instrument)
    bars = phrase_ends(etude.analysis, etude.brief)
    open_chords = [n for n, c in enumerate(etude.analysis.chords) if c.span.bar not in bars]
    assert len(open_chords) > 2
    for chord in open_chords:
        own = [note for note in etude.notes if note.chord == chord]
        assert len(own) == 8
        assert {own[0].degree.number, own[-1].degree.number} == {1}  # type: ignore[union-attr]
        ends = [note.pitch.midi for note in (own[0], own[-1]) if note.pitch]
        assert abs(ends[1] - ends[0]) == 12


def test_a_range_without_an_octave_turns_the_scale_and_keeps_its_root() -> None:
    """A beginner on the trumpet has C4 to E5 written: from A to E and back, and is told so."""
    brief = Brief(INSTRUMENTS["trumpet"], Level.BEGINNER, 120.0)
    analysis = analyse(read_chart_text("key: C\n| G7 | Cmaj7 |"), level=Level.BEGINNER)
    for seed in range(5):
        etude = write_etude(find_step("scale"), analysis, replace(brief, seed=seed))
        first = etude.notes[0]
        assert first.degree
        assert first.degree.number == 1
        assert any(
            "turn back before it" in notice.text for notice in etude.notices if not notice.chord
        )


def test_a_scale_of_two_bars_goes_over_the_ninth_and_comes_back() -> None:
    degrees = by_bar(over("scale", "key: C\n| Cmaj7 | % | Fmaj7 | % |"))
    up, down = "1 2 3 4 5 6 7 1", "2 1 7 6 5 4 3 2"
    assert degrees[:2] == [up, down]


def test_a_last_scale_ends_on_a_held_chord_tone() -> None:
    """Half a bar holds 1 2 3 with the third held, not 1 2 3 4."""
    etude = over("scale", "key: C\n| Cmaj7 | Fmaj7 C7 |")
    last = etude.notes[-1]
    assert last.degree
    assert last.degree.ascii in {"1", "3", "5", "b7"}
    assert last.beats >= 1


@pytest.mark.sampled
@pytest.mark.parametrize("name", INVENTED)
@pytest.mark.parametrize("level", Level)
def test_arpeggios_in_rhythm_repeat_tones_and_change_their_rhythm(name: str, level: Level) -> None:
    etude = written("arpeggio-in-rhythm", name, "alto-sax", level)
    bar = etude.analysis.chart.meter.bar_beats
    groups: dict[tuple[Fraction, int], list[Fraction]] = {}
    for note in etude.notes:
        groups.setdefault((note.onset // bar, note.chord), []).append(note.beats)
    rhythms = list(groups.values())
    assert all(old != new for old, new in pairwise(rhythms) if len(old) > 2)
    pitches = [note.pitch for note in etude.notes]
    repeats = sum(old == new for old, new in pairwise(pitches))
    assert repeats >= len(rhythms) / 4


@pytest.mark.slow
@pytest.mark.parametrize("step", ["arpeggio", "arpeggio-in-rhythm", "scale"])
@pytest.mark.parametrize("level", [Level.INTERMEDIATE, Level.ADVANCED])
def test_any_two_of_five_seeds_share_fewer_than_half_their_bars(step: str, level: Level) -> None:
    """Over every other chart in turn."""
    turn = ("arpeggio", "arpeggio-in-rhythm", "scale").index(step) + list(Level).index(level)
    for name in ("evening class", "dominants", "minor", "waltz", "six eight")[turn % 2 :: 2]:
        etudes = [written(step, name, "alto-sax", level, seed) for seed in range(1, 6)]
        shared = shared_bars(etudes)
        assert sum(share < 0.5 for share in shared) >= 0.9 * len(shared), name


@pytest.mark.sampled
@pytest.mark.parametrize("step", ["arpeggio", "broken-arpeggio", "scale", "guide-tones", "cells"])
@pytest.mark.parametrize("seed", [0, 1, 2])
@pytest.mark.parametrize("level", [Level.INTERMEDIATE, Level.ADVANCED])
def test_no_bar_stands_three_times_over_a_chord_that_stays_or_comes_again(
    step: str, seed: int, level: Level
) -> None:
    """Eight bars of one chord, and a form whose first part comes three times."""
    part = "Dm7 | G7 | Cmaj7 | A7"
    for chart in ("| Dm7 | % | % | % | % | % | % | % |", f"| {part} | {part} | {part} |"):
        etude = over(step, chart, level=level, seed=seed)
        bars = Counter(
            tuple((n.onset % 4, n.beats, n.pitch) for n in etude.notes if n.onset // 4 == bar)
            for bar in range(12)
        )
        assert max(count for bar, count in bars.items() if bar) <= 2


def test_the_first_seed_has_the_plainest_arpeggios() -> None:
    """Eighths with the last one held, over any chart; other seeds hold another note somewhere."""
    for chart in ("| Dm7 | G7 | Cmaj7 | C7 | Fmaj7 |", "| Dm7 | C7 | Bb7 | A7 | Ab7 |"):
        for seed in range(4):
            notes = over("arpeggio", chart, seed=seed).notes[:28]
            plain = [note.beats for note in notes] == [*[Fraction(1, 2)] * 6, 1] * 4
            assert plain == (seed == 0)


@pytest.mark.parametrize("step", ["arpeggio", "scale"])
def test_what_comes_again_in_the_form_does_not_come_as_a_copy(step: str) -> None:
    """Four bars and the same four; the scale of a whole bar leaves a beginner no other way."""
    chart = "| Dm7 | G7 | Cmaj7 | A7 | Dm7 | G7 | Cmaj7 | A7 |"
    etude = over(step, chart, seed=1)
    bars = [[(n.onset % 4, n.pitch) for n in etude.notes if n.onset // 4 == bar]
            for bar in range(8)]  # fmt: skip
    assert bars[:4] != bars[4:]


@pytest.mark.parametrize("step", ["arpeggio", "arpeggio-in-rhythm", "scale"])
@pytest.mark.parametrize("meter", ["1/16", "5/16", "13/16", "32/16", "7/8", "15/8"])
def test_runs_fit_into_bars_of_any_groups(step: str, meter: str) -> None:
    """Groups shorter than a beat, and lengths that no eighth divides."""
    etude = over(step, f"meter: {meter}\n| Dm7 | G7 | C6 |", level=Level.BEGINNER)
    assert etude.notes[-1].end == etude.analysis.chart.beats
    assert {note.chord for note in etude.notes} == {0, 1, 2}
