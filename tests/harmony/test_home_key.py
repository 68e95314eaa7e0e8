"""Which key explains a whole chart? Forms whose home a teacher would name without a doubt.

The progressions are our own, written in C and moved to twelve keys. Common practice, no
source.
"""

from __future__ import annotations

import pytest

from halfstep.harmony.home_key import home_key
from halfstep.pitch import Name
from halfstep.progression.chart import spans
from halfstep.progression.key import key_of
from name_intervals import ascending
from typed_charts import read_chart_text

TWELVE = tuple(range(-6, 6))
"""Signatures, six flats to five sharps."""

A_MAJOR = "| Cmaj7 | Am7 | Dm7 | G7 | Em7 A7 | Dm7 G7 | C6 | % "
A_MINOR = "| Cm7 | Fm7 | Dm7b5 | G7 | Cm7 Ab7 | Dm7b5 G7 | Cm6 | % "
BRIDGES = {
    "on IV": "| Gm7 | C7 | Fmaj7 | % | Fm7 | Bb7 | Dm7 | G7 ",
    "on iii": "| F#m7b5 | B7 | Em7 | % | F#m7b5 B7 | Em7 A7 | Dm7 | G7 ",
    "a half step up": "| Ebm7 | Ab7 | Dbmaj7 | % | Ebm7 | Ab7 | Dm7b5 | G7 ",
    "a third up": "| F#m7 | B7 | Emaj7 | % | F#m7 B7 | Emaj7 | Dm7b5 | G7 ",
    "on flat VI": "| Bbm7 | Eb7 | Abmaj7 | % | Bbm7 Eb7 | Abmaj7 | Dm7b5 | G7 ",
}


@pytest.mark.sampled
@pytest.mark.parametrize("minor", [False, True], ids=["major", "minor"])
@pytest.mark.parametrize("bridge", BRIDGES.values(), ids=BRIDGES)
@pytest.mark.parametrize("form", ["AABA", "ABA", "BABA", "ABAB"])
def test_a_bridge_moves_no_home(form: str, bridge: str, minor: bool) -> None:
    parts = {"A": A_MINOR if minor else A_MAJOR, "B": bridge}
    assert_home("".join(parts[part] for part in form) + "|", minor=minor)


ON_THE_WAY = {
    "II first, and a turnaround at the end": (
        "| Dm7 A7 | Dm7 G7 | Em7 A7 | Dm7 Db7 | Cmaj7 F7 | Em7 A7 | Dm7 G7 | C6 A7 |"
    ),
    "II with its tritone substitute": (
        "| Dm7 Db7 | Cmaj7 | Fm7 Bb7 | Cmaj7 | Dm7 | Db7 | Cmaj7 | A7 |"
    ),
    "IV first": "| Fmaj7 | Fm7 Bb7 | Cmaj7 | A7 | Dm7 | G7 | Cmaj7 | Gm7 C7 |",
    "dominants first": "| D7 | % | G7 | % | C6 | A7 | D7 G7 | C6 |",
}


@pytest.mark.parametrize("text", ON_THE_WAY.values(), ids=ON_THE_WAY)
def test_a_chart_that_begins_on_its_way_is_at_home_where_it_arrives(text: str) -> None:
    assert_home(text, minor=False)


UP = "| Cmaj7 | Am7 | Dm7 | G7 | Cmaj7 | Am7 | Dm7 G7 | C6 ", "| Cm7 | Fm7 | G7 | Cm7 " * 2
RAISED = (
    ("| Dbmaj7 | Bbm7 | Ebm7 | Ab7 | Dbmaj7 | Bbm7 | Ebm7 Ab7 | Db6 ", False),
    ("| Dmaj7 | Bm7 | Em7 | A7 | Dmaj7 | Bm7 | Em7 A7 | D6 ", False),
    ("| C#m7 | F#m7 | G#7 | C#m7 " * 2, True),
    ("| Dm7 | Gm7 | A7 | Dm7 " * 2, True),
)


@pytest.mark.parametrize(("end", "minor"), RAISED)
def test_last_choruses_a_step_higher_move_no_home(end: str, minor: bool) -> None:
    for times in (1, 2):
        assert_home(UP[minor] + end * times + "|", minor=minor)


def test_the_mean_of_two_keys_is_the_home_of_neither() -> None:
    """C and A♭ lie four fifths apart; F or B♭ would hold more of either."""
    in_c, in_a_flat = "| Cmaj7 | Dm7 G7 " * 4, "| Abmaj7 | Bbm7 Eb7 " * 4
    assert_home(f"{in_c}{in_a_flat}{in_c}{in_a_flat}|", minor=False)


def assert_home(text: str, *, minor: bool) -> None:
    """The home is C, or C minor; and so in every key to which the chart is moved."""
    chart = read_chart_text(text)
    homes = {}
    for fifths in TWELVE:
        key = key_of(fifths, minor=minor)
        homes[key] = home_key(spans(chart.moved(ascending(Name(0), key.tonic))))
    assert homes == {key: key for key in homes}
