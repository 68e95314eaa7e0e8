"""In which key is each chord? What a teacher would say, and an exact path.

Charts are invented, written in C and moved to twelve keys. Common practice, no source,
where a group names no other.
"""

from __future__ import annotations

import subprocess
import sys
from itertools import groupby, pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.harmony import key_table
from halfstep.harmony import local_keys as path_costs
from halfstep.harmony.home_key import home_key
from halfstep.harmony.key_costs import (
    blues_keys,
    candidates,
    chord_notes,
    every_key,
    key_costs,
    opens_on_tonic,
)
from halfstep.harmony.local_keys import cheapest_places, local_keys, move_cost
from halfstep.pitch import Interval, Name, name_at
from halfstep.progression.chart import Chart, Span, spans
from halfstep.progression.key import Key, key_of, parse_key
from halfstep.progression.symbol import ChordSymbol, parse_symbol
from name_intervals import ascending
from strategies import charts, keys, names
from typed_charts import read_chart_text

C = Name(0)
TWELVE = tuple(range(-5, 7))
"""Twelve neighbouring signatures, five flats to six sharps."""


def to_signature(fifths: int, *, minor: bool) -> Interval:
    """From C to the tonic of the key with that signature."""
    return ascending(C, key_of(fifths, minor=minor).tonic)


def found_keys(text: str, interval: Interval) -> tuple[Key, list[tuple[Key, int]]]:
    """The home key of a moved chart, and each local key with how many chords it has."""
    found = spans(read_chart_text(text).moved(interval))
    home = home_key(found)
    locals_ = local_keys(found, home)
    return home, [(key, len(list(chords))) for key, chords in groupby(locals_)]


# --- one key ---------------------------------------------------------------------------

ALL_IN_C_MAJOR = {
    "ii-V-I": "| Dm7 | G7 | Cmaj7 | % |",
    "ii-V-I, triads and sixth": "| Dm | G7 | C6 | % |",
    "turnaround": "| Cmaj7 | Am7 | Dm7 | G7 |",
    "turnaround of dominants": "| Cmaj7 A7 | Dm7 G7 | Em7 A7 | Dm7 G7 |",
    "altered cadence": "| Dm7 | G7alt | Cmaj7 | % |",
    "tritone substitute": "| Dm7 | Db7 | Cmaj7 | % |",
    "backdoor": "| Cmaj7 | Fm7 | Bb7 | Cmaj7 |",
    "passing diminished": "| Cmaj7 | C#dim7 | Dm7 | G7 | Cmaj7 |",
    "four triads": "| C | F | G | C |",
    "flat VI flat VII I": "| C | Ab | Bb | C |",
    "circle of fifths": "| Cmaj7 | Fmaj7 | Bm7b5 | Em7 | Am7 | Dm7 | G7 | Cmaj7 |",
    "ii-V of IV": "| Cmaj7 | % | Gm7 | C7 | Fmaj7 | % | Dm7 | G7 | Cmaj7 | % |",
    "applied to vi": "| Cmaj7 | E7 | Am7 | Dm7 G7 |",
    "blues": "| C7 | F7 | C7 | % | F7 | % | C7 | % | G7 | F7 | C7 | G7 |",
    "quick-change blues": (
        "| C7 | F7 | C7 | Gm7 C7 | F7 | F#dim7 | C7 | A7 | Dm7 | G7 | C7 A7 | Dm7 G7 |"
    ),
    "blues without turnaround": "| C7 | % | % | % | F7 | % | C7 | % | G7 | F7 | C7 | % |",
    "bridge of dominants": "| C6 | Dm7 G7 | C6 | % | E7 | A7 | D7 | G7 | C6 | Dm7 G7 | C6 | % |",
}
ALL_IN_C_MINOR = {
    "ii-V-i": "| Dm7b5 | G7 | Cm7 | % |",
    "ii-V-i, sixth": "| Dm7b5 | G7b9 | Cm6 | % |",
    "minor blues": ("| Cm7 | Fm7 | Cm7 | % | Fm7 | % | Cm7 | % | Ab7 | G7 | Cm7 | Dm7b5 G7 |"),
    "natural minor": "| Cm7 | Ab | Bb | Cm7 |",
    "triads": "| Cm | Fm | G | Cm |",
    "descent": "| Cm | Bb | Ab | G7 |",
    "major seventh": "| Cm(maj7) | Dm7b5 G7 | Cm6 | % |",
}


@pytest.mark.sampled
@pytest.mark.parametrize("text", ALL_IN_C_MAJOR.values(), ids=ALL_IN_C_MAJOR)
def test_a_chart_in_one_major_key_has_that_key_throughout(text: str) -> None:
    for fifths in TWELVE:
        home, runs = found_keys(text, to_signature(fifths, minor=False))
        assert (home, [key for key, _ in runs]) == (key_of(fifths), [key_of(fifths)])


@pytest.mark.parametrize("text", ALL_IN_C_MINOR.values(), ids=ALL_IN_C_MINOR)
def test_a_chart_in_one_minor_key_has_that_key_throughout(text: str) -> None:
    for fifths in TWELVE:
        key = key_of(fifths, minor=True)
        home, runs = found_keys(text, to_signature(fifths, minor=True))
        assert (home, [each for each, _ in runs]) == (key, [key])


# --- keys that move: the chart, then each local key (of a chart in C) and its chords ------

MOVES = {
    "to flat III and back": (
        "| Cmaj7 | % | Dm7 | G7 | Fm7 | Bb7 | Ebmaj7 | % | Dm7 | G7 | Cmaj7 | % |",
        "C 3, Eb 3, C 3",
    ),
    "to V for the middle": (
        "| Cmaj7 | % | Dm7 | G7 | Cmaj7 | % | Am7 | D7 | Gmaj7 | % | Am7 | D7 | Gmaj7 | % "
        "| Dm7 | G7 | Cmaj7 | % |",
        "C 4, G 6, C 3",
    ),
    "to flat II": (
        "| Cmaj7 | Am7 | Dm7 | G7 | Cmaj7 | % | Ebm7 | Ab7 | Dbmaj7 | % | Dm7 | G7 | Cmaj7 | % |",
        "C 5, Db 3, C 3",
    ),
    "to III major": (
        "| Cmaj7 | Am7 | Dm7 | G7 | F#m7 | B7 | Emaj7 | % | Dm7 | G7 | Cmaj7 | % |",
        "C 4, E 3, C 3",
    ),
    "to the parallel minor": (
        "| Cmaj7 | Am7 | Dm7 | G7 | Dm7b5 | G7b9 | Cm6 | Fm7 | Dm7b5 | G7b9 | Cm6 | % "
        "| Dm7 | G7 | Cmaj7 | % |",
        "C 4, Cm 7, C 3",
    ),
}


@pytest.mark.parametrize(("text", "expected"), MOVES.values(), ids=MOVES)
def test_a_chart_that_modulates_moves_where_a_teacher_would_say(text: str, expected: str) -> None:
    for fifths in range(-2, 3):
        interval = to_signature(fifths, minor=False)
        wanted = []
        for each in expected.split(", "):
            name, count = each.split()
            key = parse_key(name)
            wanted.append((Key(key.tonic + interval, key.minor), int(count)))
        home, runs = found_keys(text, interval)
        assert home == key_of(fifths)
        assert runs == wanted


def test_a_minor_chart_may_visit_flat_two() -> None:
    text = "| Cm7 | Fm7 | Dm7b5 | G7 | Cm7 | % | Ebm7 | Ab7 | Dbmaj7 | % | Dm7b5 | G7 | Cm7 | % |"
    home, runs = found_keys(text, Interval(0, 0))
    assert home.ascii == "Cm"
    assert [(key.ascii, count) for key, count in runs] == [("Cm", 5), ("Db", 3), ("Cm", 3)]


def test_a_minor_chart_may_end_on_a_major_chord() -> None:
    for fifths in TWELVE:
        interval = to_signature(fifths, minor=True)
        home, runs = found_keys("| Cm7 | Fm7 | G7 | C |", interval)
        assert home == key_of(fifths, minor=True)
        assert runs[0][0] == home
        if fifths <= 4:  # the parallel major of six sharps would need nine
            assert runs[-1][0] == Key(home.tonic, minor=False)


def test_a_chart_that_begins_on_its_tonic_begins_at_home() -> None:
    text = "| Cmaj7 | Bm7b5 E7 | Am7 | Gm7 C7 | Fmaj7 | Fm7 Bb7 | Em7 A7 | Dm7 G7 |"
    for fifths in range(-2, 5):
        home, runs = found_keys(text, to_signature(fifths, minor=False))
        assert home == runs[0][0] == runs[-1][0] == key_of(fifths)


# --- a stated key ----------------------------------------------------------------------


def test_a_stated_key_decides_where_the_chords_do_not() -> None:
    found = spans(read_chart_text("| Dm7 | Em7 | Dm7 | Em7 |"))
    for stated in ("C", "Dm"):
        assert {key.ascii for key in local_keys(found, parse_key(stated))} == {stated}


def test_a_stated_key_does_not_forbid_leaving_it() -> None:
    found = spans(read_chart_text("| Am7 | D7 | Gmaj7 | % | Am7 | D7 | Gmaj7 | % |"))
    assert {key.ascii for key in local_keys(found, parse_key("Eb"))} == {"G"}


def test_the_spelling_of_the_chart_decides_between_g_flat_and_f_sharp() -> None:
    for chart, home in (
        ("| Abm7 | Db7 | Gbmaj7 | % |", "Gb"),
        ("| G#m7 | C#7 | F#maj7 | % |", "F#"),
    ):
        assert home_key(spans(read_chart_text(chart))).ascii == home


LOOPS = {
    "| F | Bdim7 | C | G7 |": "C",
    "| G7 |": "G",
    "| G7 | C7 |": "G",
    "| Am7 | D7 |": "G",
    "| Dm7 | G7 |": "C",
    "| Dm7 | Em7 |": "D dorian",
    "| C | G | Am | F |": "C",
    "| Bm7b5 | E7 |": "Am",
    "| Fmaj7 | Em7 | Dm7 | Cmaj7 |": "C",
    "| C7 | F7 |": "C",
    "| Am | E |": "Am",
    "| C7 | F7 | G7 |": "C",
    "| Fm7 | % | Eb7 | % |": "Fm",
    "| D7 | Eb7 |": "D",
    "| Em7 | Am7 | Dm7 | G7 |": "C",
    "| F | G | C | Am |": "C",
    "| Em7b5 | A7b9 | Dm7 | G7 | Cmaj7 | % |": "C",
    "| Dm7 G7 | Em7 A7 | Dm7 G7 | Cmaj7 |": "C",
    "| Gm7 | C7 | Fmaj7 | D7 | Gm7 | C7 | Fmaj7 | C7 |": "F",
    "| D | A | Bm | G |": "D",
    "| C | Bb | F | C |": "C mixolydian",
}
"""Vamps, loops and other short charts in which one home alone will do."""


@pytest.mark.parametrize(("text", "home"), LOOPS.items(), ids=list(LOOPS))
def test_a_loop_has_one_home_however_often_it_is_played(text: str, home: str) -> None:
    for times in (1, 2, 5):
        assert home_key(spans(read_chart_text(text * times))).ascii == home


def test_a_dominant_by_itself_is_at_home_in_every_key() -> None:
    for fifths in TWELVE:
        dominant = ChordSymbol("", name_at(fifths), seventh=parse_symbol("C7").seventh, extension=7)
        home = home_key(spans(read_chart_text(f"| {dominant.ascii} |")))
        assert home == key_of(fifths)


# --- exact: the path equals the best of all paths ---------------------------------------


@pytest.mark.slow
@settings(max_examples=40)
@given(
    charts(max_bars=2).filter(lambda chart: len(spans(chart)) <= 5),
    st.lists(keys(), min_size=2, max_size=4, unique=True),
    st.data(),
)
def test_no_path_through_the_keys_is_cheaper(
    chart: Chart, offered: list[Key], data: st.DataObject
) -> None:
    found = spans(chart)
    home = data.draw(st.sampled_from([*offered, parse_key("C")]))
    field = candidates(offered)
    path = local_keys(found, home, candidate_keys=field)
    symbols = [span.symbol for span in found]
    in_blues = blues_keys(symbols, field, home=home)
    table, blues = key_costs(symbols, field, in_blues), dict(zip(offered, in_blues, strict=True))
    first, second = (chord_notes(found[place % len(found)].symbol) for place in (0, 1))
    notes_of = dict(zip(field.keys, field.notes, strict=True))

    def chord_cost(place: int, key: Key) -> float:
        one, span = table[place][offered.index(key)], found[place]
        weight = min(max(float(span.beats) / 4, 1), 2)
        one = max(one, min(one * weight, key_table.MOST)) + path_costs.HOME * (key == home)
        ends = place + 1 == len(found) or begins(found[place + 1])
        rests = chord_notes(span.symbol).rests_in(notes_of[key])
        return one + key_table.CLOSES * (ends and rests)

    def begins(span: Span) -> bool:
        return span.at == 0 and span.bar % 8 == 1

    def opens(key: Key) -> bool:
        return opens_on_tonic(first, second, notes_of[key])

    def cost(keys_of_path: tuple[Key, ...]) -> float:
        """The chords from the first to the first again."""
        places = [*range(len(found)), 0]
        total = sum(chord_cost(n, key) for n, key in zip(places, keys_of_path, strict=True))
        for place, (one, two) in zip(places[1:], pairwise(keys_of_path), strict=True):
            total += far(one, two) + move_cost(found[place]) * (one != two)
        total += path_costs.START * opens(keys_of_path[0])
        if home in offered:
            seventh = blues[home] and first.dominant and first.root == home.tonic.pitch_class
            weight = 1.0 if opens(home) or seventh else path_costs.AWAY_AT_START
            start = far(home, keys_of_path[0]) + path_costs.MOVE * (home != keys_of_path[0])
            total += weight * start
        return float(total)

    def far(one: Key, two: Key) -> float:
        return path_costs.MOVE_FIFTH * abs(one.fifths - two.fifths)

    every_path = list(product(offered, repeat=len(found) + 1))
    cheapest = min(map(cost, every_path))
    through = [cost(keys_) for keys_ in every_path if keys_[:-1] == path]
    assert min(through) == pytest.approx(cheapest)


@given(st.data())
def test_no_path_through_any_costs_is_cheaper(data: st.DataObject) -> None:
    """In quarters, so that sums are exact and many paths cost the same."""
    count = data.draw(st.integers(1, 4))
    row = st.tuples(*[st.integers(-8, 24).map(lambda n: n / 4)] * count)
    start, *rows = data.draw(st.lists(row, min_size=1, max_size=4))
    moves = [data.draw(st.sampled_from([0.75, 1.5, 2.0])) for _ in rows]
    far = [tuple(abs(a - b) / 4 for b in range(count)) for a in range(count)]

    def cost(path: tuple[int, ...]) -> float:
        steps = zip(moves, pairwise(path), strict=True)
        total = sum(far[a][b] + move * (a != b) for move, (a, b) in steps)
        return total + sum(r[place] for r, place in zip((start, *rows), path, strict=True))

    every_path = product(range(count), repeat=len(rows) + 1)
    assert cost(tuple(cheapest_places(start, rows, moves, far))) == min(map(cost, every_path))


def test_of_keys_that_cost_the_same_the_first_is_taken() -> None:
    far = [(0.0,) * 3] * 3
    assert cheapest_places((1.0, 0.5, 0.5), [(1.0, 0.5, 0.5)], [2.0], far) == [1, 1]
    assert cheapest_places((0.0, 0.0, 9.0), [(9.0, 9.0, 0.0)], [2.0], far) == [0, 2]


def test_what_explains_a_chart_loads_no_numpy() -> None:
    """It would be half of the start-up of every command that shows a chart."""
    code = "import sys, halfstep.harmony.analysis; sys.exit('numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


@pytest.mark.slow
@given(charts(max_bars=6))
def test_there_is_a_key_for_every_chord(chart: Chart) -> None:
    found = spans(chart)
    assert len(local_keys(found, home_key(found))) == len(found)


# --- moving a chart moves its keys ------------------------------------------------------


@pytest.mark.slow
@settings(max_examples=40)
@given(charts(max_bars=6), names(), names())
def test_local_keys_move_with_the_chart_where_every_key_moves_too(
    chart: Chart, low: Name, high: Name
) -> None:
    up = ascending(low, high)
    found, moved = spans(chart), spans(chart.moved(up))
    home = home_key(found)
    here = local_keys(found, home)
    # no chart is then pushed beyond seven accidentals
    field = candidates([Key(k.tonic + up, k.minor) for k in every_key().keys])
    there = local_keys(moved, Key(home.tonic + up, home.minor), candidate_keys=field)
    assert there == tuple(Key(key.tonic + up, key.minor) for key in here)
