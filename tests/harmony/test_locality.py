"""In which key is each chord? What a teacher would say, and an exact path.

Charts are invented, written in C and moved to twelve keys. Common practice, no source,
where a group names no other.
"""

from __future__ import annotations

from itertools import groupby, pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.harmony import locality
from halfstep.harmony.locality import (
    KEYS,
    falls_a_fifth,
    home_key,
    is_blues,
    is_dominant,
    is_tonic,
    local_keys,
    numeral,
)
from halfstep.pitch import Interval, Name, name_at, parse_name
from halfstep.progression.chart import Chart, spans
from halfstep.progression.key import Key, key_of, parse_key
from halfstep.progression.notations.text_reader import read_chart_text
from halfstep.progression.symbol import ChordSymbol, parse_symbol
from strategies import charts, keys, names, symbols

C = Name(0)
TWELVE = tuple(range(-5, 7))
"""Twelve neighbouring signatures, five flats to six sharps."""


def to_signature(fifths: int, *, minor: bool) -> Interval:
    """From C to the tonic of the key with that signature."""
    return C.up_to(key_of(fifths, minor=minor).tonic)


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
        "| Dm7 | G7 |",
        "C 4, G 6, C 2",
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
    "| Dm7 | Em7 |": "Dm",
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
    "| C | Bb | F | C |": "C",
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
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(locality, "KEYS", tuple(offered))
        path = local_keys(found, home)
        table = locality._cost_table([span.symbol for span in found])

    def cost(keys_of_path: tuple[Key, ...]) -> float:
        total = sum(table[n][offered.index(key)] for n, key in enumerate(keys_of_path))
        total += locality.AWAY * sum(key != home for key in keys_of_path)
        total += sum(move(one, two) for one, two in pairwise(keys_of_path))
        weight = 1.0 if locality.is_tonic(found[0].symbol, home) else 0.5
        return float(total + weight * (move(home, keys_of_path[0]) if home in offered else 0.0))

    def move(one: Key, two: Key) -> float:
        far = locality.MOVE_FIFTH * abs(one.fifths - two.fifths)
        return 0.0 if one == two else locality.MOVE + far

    cheapest = min(cost(each) for each in product(offered, repeat=len(found)))
    assert cost(path) == pytest.approx(cheapest)


@given(charts(max_bars=6))
def test_there_is_a_key_for_every_chord(chart: Chart) -> None:
    found = spans(chart)
    assert len(local_keys(found, home_key(found))) == len(found)


# --- moving a chart moves its keys ------------------------------------------------------


@settings(max_examples=40)
@given(charts(max_bars=6), names(), names())
def test_local_keys_move_with_the_chart_where_every_key_moves_too(
    chart: Chart, low: Name, high: Name
) -> None:
    up = low.up_to(high)
    found, moved = spans(chart), spans(chart.moved(up))
    home = home_key(found)
    here = local_keys(found, home)
    with pytest.MonkeyPatch.context() as patch:
        # no chart is then pushed beyond seven accidentals
        patch.setattr(locality, "KEYS", tuple(Key(k.tonic + up, k.minor) for k in KEYS))
        there = local_keys(moved, Key(home.tonic + up, home.minor))
    assert there == tuple(Key(key.tonic + up, key.minor) for key in here)


# --- words for chords in a key -------------------------------------------------------------


@pytest.mark.parametrize(
    ("symbol", "key", "text"),
    [
        ("Cmaj7", "C", "Imaj7"),
        ("Dm7", "C", "ii7"),
        ("G7", "C", "V7"),
        ("Bm7b5", "C", "viiø7"),
        ("Bb7", "C", "♭VII7"),
        ("Ebm7", "C", "♭iii7"),
        ("Db7", "C", "♭II7"),
        ("C#dim7", "C", "♯i°7"),
        ("F#dim7", "C", "♯iv°7"),
        ("G#dim7", "C", "♯v°7"),
        ("Gb7", "C", "♭V7"),
        ("Abmaj7", "Cm", "♭VImaj7"),
        ("Bdim7", "Cm", "vii°7"),
        ("Eb", "G", "♭VI"),
        ("F#7", "G", "VII7"),
        ("C#m7", "Ab", "iv7"),
        ("F#7", "Gb", "I7"),
        ("N.C.", "C", "N.C."),
    ],
)
def test_a_numeral_follows_the_spelling_of_the_root(symbol: str, key: str, text: str) -> None:
    assert numeral(parse_symbol(symbol), parse_key(key)) == text


@given(symbols(), keys(), names(), names())
def test_a_numeral_does_not_change_when_chord_and_key_move(
    symbol: ChordSymbol, key: Key, low: Name, high: Name
) -> None:
    up = low.up_to(high)
    assert numeral(symbol.moved(up), Key(key.tonic + up, key.minor)) == numeral(symbol, key)


@pytest.mark.parametrize(
    ("symbol", "dominant"),
    [
        ("G7", True),
        ("G13b9", True),
        ("G7sus4", True),
        ("Gmaj7", False),
        ("Gm7", False),
        ("G", False),
    ],
)
def test_a_dominant_has_a_major_third_or_a_fourth_and_a_minor_seventh(
    symbol: str, dominant: bool
) -> None:
    assert is_dominant(parse_symbol(symbol)) is dominant


@given(names(), names())
def test_a_fifth_falls_however_it_is_spelled(root: Name, other: Name) -> None:
    one, two = ChordSymbol("", root), ChordSymbol("", other)
    up_a_fourth = root + parse_name("C").up_to(parse_name("F"))
    assert falls_a_fifth(one, two) == (up_a_fourth.pitch_class == other.pitch_class)


def test_silence_falls_nowhere() -> None:
    silent, f, g = (parse_symbol(text) for text in ("N.C.", "F", "G7"))
    assert not falls_a_fifth(silent, f)
    assert not falls_a_fifth(g, silent)


@pytest.mark.parametrize(
    ("symbol", "key", "tonic"),
    [
        ("Cmaj7", "C", True),
        ("C6", "C", True),
        ("C7", "C", False),
        ("Cm6", "Cm", True),
        ("Cm", "C", False),
        ("C", "Cm", False),
        ("N.C.", "C", False),
    ],
)
def test_the_tonic_is_the_keys_own_chord(symbol: str, key: str, tonic: bool) -> None:
    assert is_tonic(parse_symbol(symbol), parse_key(key)) is tonic


def test_a_blues_has_dominants_on_one_and_four_of_a_major_key() -> None:
    chords = [parse_symbol(text) for text in ("C7", "F7", "G7")]
    assert is_blues(chords, parse_key("C"))
    assert not is_blues(chords, parse_key("F"))
    assert not is_blues(chords, parse_key("Cm"))
