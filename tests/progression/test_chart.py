"""Charts and keys as values: spans, moving, signatures."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given

from halfstep.errors import ReadError
from halfstep.pitch import Name
from halfstep.progression.chart import Chart, spans
from halfstep.progression.key import Key, parse_key
from name_intervals import ascending
from strategies import charts, keys, names
from typed_charts import read_chart_text


@pytest.mark.slow
@given(charts())
def test_spans_cover_the_form_without_gap_or_overlap(chart: Chart) -> None:
    found = spans(chart)
    assert found[0].start == 0
    assert found[-1].end == chart.beats
    assert all(one.end == two.start for one, two in pairwise(found))


@pytest.mark.slow
@given(charts())
def test_neighbouring_spans_differ(chart: Chart) -> None:
    found = spans(chart)
    assert all(one.symbol != two.symbol for one, two in pairwise(found))


@pytest.mark.slow
@given(charts(), names(), names())
def test_moving_a_chart_and_back_changes_nothing(chart: Chart, low: Name, high: Name) -> None:
    interval = ascending(low, high)
    assert chart.moved(interval).moved(-interval) == chart


def test_a_chart_that_starts_late_is_silent_first() -> None:
    first = spans(read_chart_text("| . . C . |"))[0]
    assert (first.symbol.silent, first.beats) == (True, Fraction(2))


@given(keys())
def test_a_key_reads_back(key: Key) -> None:
    assert parse_key(key.ascii) == key
    assert parse_key(str(key)) == key


@pytest.mark.parametrize(("typed", "better"), [("G#", "Ab"), ("D#", "Eb"), ("Fb", "E")])
def test_a_key_beyond_seven_accidentals_is_refused_with_the_better_one(
    typed: str, better: str
) -> None:
    with pytest.raises(ReadError, match=f"write it as {better}"):
        parse_key(typed)


# music21 10 (BSD), KeySignature.alteredPitches
@pytest.mark.slow
@pytest.mark.filterwarnings("default")
def test_signatures_count_what_music21_alters() -> None:
    key = pytest.importorskip("music21.key")
    for fifths in range(-7, 8):
        count = len(key.KeySignature(fifths).alteredPitches)
        said = Key(Name(0) if not fifths else _tonic(fifths)).signature
        assert said.startswith(str(count) if count else "no"), fifths


def _tonic(fifths: int) -> Name:
    names_of_major = ("Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B")
    text = (*names_of_major, "F#", "C#")[fifths + 7]
    return parse_key(text).tonic
