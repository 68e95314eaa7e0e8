"""The number of a chart: the same in every key, another for other chords, places and metres."""

from __future__ import annotations

from fractions import Fraction
from importlib import import_module
from importlib.util import find_spec

import pytest
from briefs_over_charts import brief_over
from etude_charts import etude_charts
from hypothesis import given
from step_lines import line_of

from halfstep.etude.chart_number import DIGEST_MODULES, chart_number
from halfstep.pitch import Interval
from halfstep.progression.chart import Chart
from typed_charts import read_chart_text

CADENCE = "| Dm7 | G7 | Cmaj7 | % |"
INVENTED = (
    CADENCE,
    "| Bm7b5 | E7b9 | Am6 | % |",
    "| Abmaj7 | Gb7 | Fm7 | Bb7 |",
    "| C7 | F7 | C7 | G7 |",
    "| Em7 | A7 | Dmaj7 | F#m7 |",
    "| F6 | Ab7 | Dbmaj7 | Gm7 |",
    "| Gm7 | % | Bbm7 | % |",
    "| Ebmaj7 | Cm7 | Fm7 | Bb7 |",
)


def number(text: str) -> int:
    return chart_number(read_chart_text(text).form)


@given(etude_charts())
def test_a_chart_has_the_same_number_in_every_key(chart: Chart) -> None:
    for interval in (Interval(1, 1), Interval(3, 6), Interval(5, 9), -Interval(4, 7)):
        assert chart_number(chart.moved(interval).form) == chart_number(chart.form)


@pytest.mark.parametrize(
    "same",
    [
        f"title: Late bus\ntempo: 90\nkey: C\n{CADENCE}",
        "| Dmin7 | G7 | CM7 | CΔ7 |",
        "| C#m7 | F#7 | Bmaj7 | % |",
    ],
)
def test_a_title_a_stated_key_and_another_way_to_type_it_change_nothing(same: str) -> None:
    assert number(same) == number(CADENCE)


@pytest.mark.parametrize(
    "other",
    [
        "| Dm7 | G7 | C6 | % |",
        "| Dm7 | G7b9 | Cmaj7 | % |",
        "| Dm7 | Db7 | Cmaj7 | % |",
        "| Dm7 | G7/B | Cmaj7 | % |",
        "| Dm7 G7 | Cmaj7 | % | % |",
        f"meter: 5/4\n{CADENCE}",
        f"{CADENCE} % |",
        "| N.C. | Dm7 | G7 | Cmaj7 |",
    ],
)
def test_other_chords_places_and_metres_have_another_number(other: str) -> None:
    assert number(other) != number(CADENCE)


def test_the_number_is_the_same_on_every_machine() -> None:
    """A snapshot: another number would write other etudes from one release to the next."""
    assert number(CADENCE) == 230631312241228


def rhythm(step: str, chart: str) -> tuple[tuple[Fraction, Fraction, bool], ...]:
    """Where the notes and rests of the first two bars stand."""
    notes = line_of(step, brief_over(chart, instrument="alto-sax", seed=1)).notes
    return tuple((note.onset, note.beats, note.pitch is None) for note in notes if note.onset < 8)


@pytest.mark.sampled
@pytest.mark.parametrize(
    ("step", "least"),
    [("rhythm", 7), ("root-third", 7), ("2", 7), ("11", 4), ("12", 7), ("13", 7), ("4", 4)],
)
def test_one_seed_has_other_rhythms_over_other_charts(step: str, least: int) -> None:
    """Over eight charts; a motif of one bar has few rhythms to draw from."""
    assert len({rhythm(step, chart) for chart in INVENTED}) >= least


def test_choruses_begin_in_other_places() -> None:
    starts = {
        next(n.onset for n in line_of("13", brief_over(chart, seed=1)).notes if n.pitch)
        for chart in INVENTED
    }
    assert len(starts) > 2


@pytest.mark.parametrize("step", ["2", "4", "8", "11", "13"])
def test_a_chart_in_another_key_keeps_its_rhythm(step: str) -> None:
    assert rhythm(step, CADENCE) == rhythm(step, "| Fm7 | Bb7 | Ebmaj7 | % |")


@pytest.mark.parametrize("module", [name for name in DIGEST_MODULES if find_spec(name)])
def test_every_place_of_the_digest_gives_that_of_the_standard(module: str) -> None:
    """FIPS 180-4 by the example of its authors for the three letters (from memory)."""
    digest = import_module(module).sha256(b"abc").hexdigest()
    assert digest == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
