"""Does a form end at home, or does it lead back to the top? Common practice, no source."""

from __future__ import annotations

import pytest

from halfstep.harmony.analysis import Analysis, analyse
from halfstep.harmony.form_end import FormEnd, first_chord, form_end, last_chord
from halfstep.part.transposition import interval_of_fifths
from solos import chart_of, needs_tables, rows
from typed_charts import read_chart_text

BLUES = "| F7 | Bb7 | F7 | Cm7 F7 | Bb7 | Bdim7 | F7 | Am7b5 D7 | Gm7 | C7 | F7 D7 | Gm7 C7 |"
LEADS_HOME = (
    "key: C\n| C7 | Ab7 | C7 | Ab7 |",
    "| Cmaj7 | Am7 | Dm7 | G7 |",
    BLUES,
    "| Cm6 | Fm7 | Cm6 | % | Fm7 | % | Cm6 | % | Ab7 | G7 | Cm6 | Dm7b5 G7 |",
    "key: Cm\n| Cm | Fm7 | Cm | G7 |",
    "| C6 | F6 | C6 | Bb7 |",
    "| Cmaj7 | Fmaj7 | Cmaj7 | Db7 |",
    "| D | C | G | C |",
    "| Dm7 | Em7 |",
    "| C/E | F | Dm7 | G7 |",
    "| C | F | G7 | N.C. |",
    "| N.C. | C | F | G7 |",
    "key: C\n| C5 | F5 | C5 | G5 |",
)
AT_HOME = (
    "| Dm7 | G7 | Cmaj7 | % |",
    "| F7 | Bb7 | F7 | % | Bb7 | % | F7 | D7 | Gm7 | C7 | F7 | % |",
    "key: Cm\n| Cm | Cm(maj7) | Cm7 | Cm6 |",
    "| C | F | G7 C | N.C. |",
    "| D | C | G | D |",
    "| C7 |",
    "| Fsus4 | % |",
    "key: C\n| C7 | Ab7 | C7 | Ab7 | C7 | Am7 | Ab7 | C7 |",
    "key: G\n| G7 | G13 | F7 | G7 | D7sus4 | D7 | G7 | G13 |",
    "key: C\n| C5 | F5 | G5 | C5 |",
)
BEGINS_AWAY = (
    "| Dm7 | G7 | Cmaj7 | A7 |",
    "key: F\n| C7 | F | C7 | G7 |",
    "key: C\n| C7 | F | C7 | G7 |",
)
NO_HOME = ("| D7sus4 | % | F7sus4 | % | Eb7sus4 | % |", "| Dm7 | % | Ebm7 | % |")
CHARTS = [
    (chart, end)
    for charts, end in (
        (LEADS_HOME, FormEnd.LEADS_HOME),
        (AT_HOME, FormEnd.AT_HOME),
        (BEGINS_AWAY, FormEnd.BEGINS_AWAY),
        (NO_HOME, FormEnd.NO_HOME),
    )
    for chart in charts
]


def moved(chart: str, fifths: int) -> Analysis:
    return analyse(read_chart_text(chart).moved(interval_of_fifths(fifths)))


@pytest.mark.sampled
@pytest.mark.parametrize(("chart", "end"), CHARTS)
def test_a_form_ends_the_same_in_every_key(chart: str, end: FormEnd) -> None:
    assert {form_end(moved(chart, fifths)) for fifths in range(-5, 7)} == {end}


def test_what_is_repeated_is_played_to_its_end() -> None:
    """The last bar played decides, not the last one on the page."""
    first, second = "| C | F |1. G7 | C :|2. G7 | % |", "| C {segno} | F {to coda} | G7 |"
    assert form_end(analyse(read_chart_text(f"{first[:2]}|: {first[2:]}"))) is FormEnd.LEADS_HOME
    away = f"{second} C {{D.S. al coda}} | {{coda}} Dm7 | G7 |]"
    home = f"{second} G7 {{D.S. al coda}} | {{coda}} G7 | C |]"
    assert form_end(analyse(read_chart_text(away))) is FormEnd.LEADS_HOME
    assert form_end(analyse(read_chart_text(home))) is FormEnd.AT_HOME


def test_silence_at_both_ends_is_passed_over() -> None:
    analysis = analyse(read_chart_text("| N.C. | C | F | G7 | N.C. |"))
    names = [str(chord.span.symbol) for chord in analysis.chords]
    assert (names[first_chord(analysis)], names[last_chord(analysis)]) == ("C", "G7")


@pytest.mark.slow
@needs_tables
def test_every_blues_of_the_solos_ends_at_home_or_leads_there() -> None:
    """What the Weimar Jazz Database (ODbL) calls a blues begins on I: no other way is left."""
    blues = [row for row in rows("wjd_chord_charts.csv") if is_whole_blues(row)]
    ends = [form_end(analyse(chart_of(row))) for row in blues[::2]]
    assert set(ends) == {FormEnd.AT_HOME, FormEnd.LEADS_HOME}
    assert min(map(ends.count, set(ends))) > 8


def is_whole_blues(row: dict[str, str]) -> bool:
    return row["tonality_type"] == "BLUES" and bool(row["chord_changes"].strip())
