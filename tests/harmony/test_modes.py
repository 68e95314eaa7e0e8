"""A chart that no dominant leads home is in a mode, or has none but those of its chords.

The progressions are our own; which mode a chart is in: common practice, no source. Each is
moved to twelve keys.
"""

from __future__ import annotations

import pytest

from halfstep.harmony.analysis import Analysis, analyse
from halfstep.pitch import Name
from halfstep.progression.key import key_of
from name_intervals import ascending
from typed_charts import read_chart_text

TWELVE = tuple(range(-5, 7))


def moved(text: str, fifths: int) -> Analysis:
    return analyse(read_chart_text(text).moved(ascending(Name(0), key_of(fifths).tonic)))


@pytest.mark.parametrize(
    ("text", "mode", "numerals"),
    [
        ("| C | Bb | F | C |", "mixolydian", ["I", "♭VII", "IV", "I"]),
        ("| C7sus4 | % | Bb | F/C |", "mixolydian", ["I7sus4", "♭VII", "IV"]),
        ("| C7 | Gm7 | C7 | Bb |", "mixolydian", ["I7", "v7", "I7", "♭VII"]),
        ("| Cm7 | % | Dm7 | % |", "dorian", ["i7", "ii7"]),
        ("| Cm | F | Cm | F |", "dorian", ["i", "IV", "i", "IV"]),
    ],
)
def test_one_mode_is_the_home_of_all_its_chords(text: str, mode: str, numerals: list[str]) -> None:
    for fifths in TWELVE:
        analysis = moved(text, fifths)
        tonic = key_of(fifths).tonic
        assert (analysis.home.tonic, analysis.home.mode) == (tonic, mode)
        assert [region.key for region in analysis.regions] == [analysis.home]
        assert [chord.numeral for chord in analysis.chords] == numerals
        assert not analysis.each_in_its_mode
        for chord in analysis.chords:
            notes = {7 * n % 12 for n in range(analysis.home.fifths - 1, analysis.home.fifths + 6)}
            assert chord.scale.pitch_classes == notes


@pytest.mark.parametrize(
    ("text", "labels"),
    [
        ("| C7sus4 | % | Eb7sus4 | % | Db7sus4 | % |", ["Mixolydian"] * 3),
        ("| Cm7 | % | Dbm7 | % |", ["Dorian"] * 2),
        ("| Cm9 | Ebm9 | Gb9sus4 | Em7 |", ["Dorian", "Dorian", "Mixolydian", "Dorian"]),
    ],
)
def test_without_a_scale_in_common_each_chord_has_its_own_mode(
    text: str, labels: list[str]
) -> None:
    for fifths in TWELVE:
        analysis = moved(text, fifths)
        assert analysis.each_in_its_mode
        assert [chord.scale.mode.label for chord in analysis.chords] == labels
        for chord in analysis.chords:
            assert chord.key.tonic.pitch_class == chord.span.symbol.root.pitch_class
            assert chord.key.mode == chord.scale.mode.label.lower()
        assert analysis.home == analysis.chords[0].key


@pytest.mark.parametrize(
    ("text", "home"),
    [
        ("| Dm7 | G7 |", "C"),  # ii and V of a key
        ("| Cm7 | Fm7 | Cm7 | Gm7 |", "Cm"),  # natural minor
        ("| C | G | F | C |", "C"),
        ("| C7 | F7 | C7 | G7 |", "C"),  # a blues
        ("| D | C | G | G |", "G"),  # it rests longer on the major tonic
        ("| Em7 | A7 | Gm7 | C7 | Fmaj7 |", "F"),
        ("| C7 | Gm7 | C7 | F |", "F"),
        ("| Dm7 G7sus4 | Cmaj7 |", "C"),
    ],
)
def test_what_a_dominant_leads_home_is_in_a_key(text: str, home: str) -> None:
    analysis = analyse(read_chart_text(text))
    assert analysis.home.ascii == home
    assert not analysis.each_in_its_mode


def test_a_stated_mode_is_the_home_of_its_chords() -> None:
    analysis = analyse(read_chart_text("key: D dorian\n| Dm7 | Em7 | G | Dm7 |"))
    assert {chord.key.ascii for chord in analysis.chords} == {"D dorian"}
    assert [chord.numeral for chord in analysis.chords] == ["i7", "ii7", "IV", "i7"]
