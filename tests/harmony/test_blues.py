"""A blues has one home, whatever it visits, in every key and form.

The progressions are our own; what a blues is, and its two scales: common practice, no
source. Each chart is written in C and moved to twelve keys.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from halfstep.harmony.analysis import Analysis, analyse
from halfstep.harmony.blues import blues_tonics
from halfstep.pitch import Name
from halfstep.progression.key import Key, key_of
from halfstep.progression.symbol import parse_symbol
from name_intervals import ascending
from typed_charts import read_chart_text

TWELVE = tuple(range(-6, 6))
"""Signatures, six flats to five sharps."""

MAJOR = {
    "twelve bars": "| C7 | % | % | % | F7 | % | C7 | % | G7 | % | C7 | % |",
    "twelve bars with visits": (
        "| C7 | F7 | C7 | Gm9 C13 | F9 | F#dim7 | C7 | Em7b5 A7b9 | Dm9 | G13 | C7 A7 | Dm7 G7 |"
    ),
    "a backdoor on the way": (
        "| C9 | F9 | C9 | Gm7 C7alt | F7 | Fm7 Bb7 | C7 | Bb7 A7 | Dm7 | Dm7 G7 | C6 A7 | Ab7 G7 |"
    ),
    "sharp four and a chain of twos": (
        "| C13 | F7 F#dim7 | C7 | Gm7 C7 | F7 | F#dim7 | C7 | Ebm7 Ab7 | Dm7 | G7 | "
        "Em7 A7 | Dm7 G7 |"
    ),
    "eight bars": "| C7 | G7 | F7 | F#dim7 | C7 A7 | Dm7 G7 | C7 F7 | C7 G7 |",
    "eight bars, four on three": "| C7 | % | F7 | % | C7 | A7 | Dm7 G7 | C7 G7 |",
    "sixteen bars": (
        "| C7 | % | % | % | C7 | % | % | Gm7 C7 | F7 | F#dim7 | C7 | Em7b5 A7 | D7 | G7 | C7 A7 | "
        "Dm7 G7 |"
    ),
    "sixteen bars, five three times": (
        "| C7 | F7 | C7 | C7 | F7 | F7 | C7 | C7 | G7 | F7 | G7 | F7 | G7 | F7 | C7 | G7 |"
    ),
}
MINOR = {
    "twelve bars": "| Cm7 | % | % | % | Fm7 | % | Cm7 | % | Ab7 | G7 | Cm7 | % |",
    "twelve bars with visits": (
        "| Cm7 | Fm7 | Cm7 | Gm7b5 C7 | Fm7 | % | Cm7 | Am7b5 D7 | Dm7b5 | "
        "G7alt | Cm7 Ab7 | Dm7b5 G7 |"
    ),
    "sixths": (
        "| Cm6 | Dm7b5 G7 | Cm6 | C7alt | Fm6 | % | Cm6 | % | Dm7b5 | G7 | Cm6 Am7b5 | Dm7b5 G7 |"
    ),
    "eight bars": "| Cm7 | G7 | Fm7 | % | Cm7 | Dm7b5 G7 | Cm7 | G7 |",
    "sixteen bars": (
        "| Cm7 | % | % | % | Cm7 | % | % | C7 | Fm7 | % | Cm7 | % | Ab7 | G7 | Cm7 | Dm7b5 G7 |"
    ),
}


def analysed(text: str, key: Key, *, stated: bool) -> Analysis:
    """The chart, moved from C to a key."""
    chart = read_chart_text(text).moved(ascending(Name(0), key.tonic))
    return analyse(replace(chart, key=key if stated else None))


@pytest.mark.sampled
@pytest.mark.parametrize("stated", [False, True], ids=["no key", "stated key"])
@pytest.mark.parametrize("text", MAJOR.values(), ids=MAJOR)
def test_a_major_blues_has_one_home(text: str, stated: bool) -> None:
    for fifths in TWELVE:
        key = key_of(fifths)
        analysis = analysed(text, key, stated=stated)
        assert (analysis.home, [region.key for region in analysis.regions]) == (key, [key])


@pytest.mark.sampled
@pytest.mark.parametrize("stated", [False, True], ids=["no key", "stated key"])
@pytest.mark.parametrize("text", MINOR.values(), ids=MINOR)
def test_a_minor_blues_has_one_home(text: str, stated: bool) -> None:
    for fifths in TWELVE:
        key = key_of(fifths, minor=True)
        analysis = analysed(text, key, stated=stated)
        assert (analysis.home, [region.key for region in analysis.regions]) == (key, [key])


@pytest.mark.sampled
@pytest.mark.parametrize("text", MAJOR.values(), ids=MAJOR)
def test_one_and_four_of_a_blues_are_mixolydian(text: str) -> None:
    for fifths in TWELVE:
        key = key_of(fifths)
        for chord in analysed(text, key, stated=False).chords:
            place = (chord.span.symbol.root.pitch_class - key.tonic.pitch_class) % 12
            if (
                place in {0, 5}
                and chord.span.symbol.quality_text == "7"
                and not chord.span.symbol.alt
            ):
                assert chord.scale.mode.label == "Mixolydian"


def test_the_visits_of_a_blues_are_named_as_such() -> None:
    chords = analysed(MAJOR["twelve bars with visits"], key_of(0), stated=False).chords
    numerals = [(chord.span.bar, chord.numeral) for chord in chords]
    assert (4, "ii9/IV") in numerals
    assert (6, "♯iv°7") in numerals
    assert (8, "iiø7/ii") in numerals
    assert (8, "V7♭9/ii") in numerals


@pytest.mark.parametrize(
    ("charts", "minor", "scales"),
    [
        (MAJOR, False, ["C Eb F Gb G Bb", "C D Eb E G A"]),
        (MINOR, True, ["C Eb F Gb G Bb"]),
    ],
    ids=["major", "minor"],
)
def test_the_blues_scales_of_the_home_are_a_colour_over_it(
    charts: dict[str, str], minor: bool, scales: list[str]
) -> None:
    home = Key(Name(0), minor)
    for text in charts.values():
        colours = analysed(text, home, stated=False).blues_scales
        assert [" ".join(name.ascii for name in scale.names) for scale in colours] == scales


@pytest.mark.parametrize(
    "text",
    [
        "| Cmaj7 | Am7 | Dm7 | G7 |",
        "| Cm7 | Fm7 | Bb7 | Ebmaj7 | Abmaj7 | Dm7b5 | G7 | Cm7 |",  # eight bars, but a circle
        "| Cm7 | Fm7 | Cm7 | G7 | Cm7 |",  # no form of blues
        "| C6 | C7 | F7 | Fm6 | C6 | G7 | C6 | G7 |",  # I7 only leads to IV
    ],
)
def test_what_is_no_blues_has_no_blues_scale(text: str) -> None:
    assert analyse(read_chart_text(text)).blues_scales == ()


@pytest.mark.parametrize(
    "text",
    [
        "| A7 | % | D7 | % | G7 | % | C6 | % | A7 | % | D7 | % | Dm7 | G7 | C6 | E7 |",
        "| A7 | D7 | G7 | C6 | A7 | D7 | Dm7 G7 | C6 E7 |",
        "| E7 | A7 | D7 | G7 | C6 | E7 A7 | Dm7 G7 | C6 |",
    ],
)
def test_a_circle_of_dominants_leads_home_and_is_no_blues_where_it_begins(text: str) -> None:
    for fifths in TWELVE:
        key = key_of(fifths)
        assert analysed(text, key, stated=False).home == key


@pytest.mark.parametrize(
    ("chords", "tonics"),
    [
        ("C7 F7 G7", {0}),
        ("Gm7 C7 F7 C7", {0}),  # from elsewhere, and back from IV7
        ("Gm7 C7 F7 F#dim7 C7", {0}),
        ("F7 C7 F7 C7", set()),  # it begins on what would be IV7
        ("F7 F#dim7 C7 Dm7 G7", {0}),
        ("Cmaj7 C7 F7 C6", set()),
        ("N.C. C7 F7", {0}),
        ("Cm7 Fm7", set()),
        ("C7 F7 Bb7 Eb6 G7", set()),  # a circle: IV7 falls a fifth as well
        ("C7 F7 Bb7 C7 F7 C7", {0}),  # as it may once in a blues
        ("C7sus4 F7sus4 C7sus4", {0}),
    ],
)
def test_a_major_blues_rests_on_one_with_a_seventh(chords: str, tonics: set[int]) -> None:
    assert blues_tonics([parse_symbol(word) for word in chords.split()]) == tonics


@pytest.mark.parametrize("fifth", range(12))
def test_one_in_bar_four_is_five_of_four_after_its_two(fifth: int) -> None:
    """The ii–V to IV is told as such; alone I7 stays at rest. Common practice, no source."""
    names = ("C", "G", "D", "A", "E", "B", "F#", "Db", "Ab", "Eb", "Bb", "F")
    one, four, five, two = (names[(fifth + step) % 12] for step in (0, 11, 1, 1))
    visit = f"{two}m7 {one}7"
    bars = (f"{one}7", f"{four}7", f"{one}7", "%s", f"{four}7", "%", f"{one}7", "%",
            f"{five}7", f"{four}7", f"{one}7", f"{five}7")  # fmt: skip
    form = f"| {' | '.join(bars)} |"
    led, plain = (analyse(read_chart_text(form.replace("%s", bar))) for bar in (visit, f"{one}7"))
    assert led.chords[4].function.numeral == "V7/IV"
    tonics = [c for c in plain.chords if c.span.symbol == led.chords[0].span.symbol]
    assert {chord.function.numeral for chord in tonics} == {"I7"}
