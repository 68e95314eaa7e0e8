"""Does what stands on the bar lines of a page belong to what is played across them?"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.app.web.chart_bars import DrawnBar, Joint
from halfstep.app.web.chart_view import ShownChart, shown_chart
from halfstep.errors import HalfstepError
from halfstep.instruments import INSTRUMENTS
from halfstep.progression.notations.text_reader import read_sheet_text
from halfstep.progression.sheet import LeadSheet
from strategies import sheets


def shown(text: str, instrument: str = "concert") -> ShownChart:
    return shown_chart(read_sheet_text(text), instrument=instrument, level="intermediate")


def drawn(text: str) -> tuple[DrawnBar, ...]:
    return shown(text).bars


def on(joint: Joint | None) -> str:
    """What stands on a line: ``B♮ B♭`` for old and new."""
    return " ".join(f"{m.old} {m.new}".strip() for m in joint.moves) if joint else "no line"


def test_a_line_where_a_chord_goes_on_is_bare() -> None:
    bars = drawn("key: F\n| F6 | | Cm7 F7 | F7 |")
    assert [on(bar.left) for bar in bars] == ["", "", "E♮ E♭", ""]
    assert [on(chord.joint) for chord in bars[2].chords] == ["", ""]
    assert bars[2].chords[1].joint.words == "the scale stays; B flat goes to A natural"
    assert on(bars[3].right) == "E♭ E♮"
    assert bars[3].right
    assert bars[3].right.words.startswith("from the top: E flat becomes E natural")


def test_a_line_of_endings_belongs_to_the_bar_that_is_played_before_it() -> None:
    bars = drawn("key: C\n|: C6 | D7 |1. Db7 | G7 :|2. Fm6 | C6 |")
    assert bars[4].left.words.startswith("from bar 2: ")
    assert bars[3].right is not None
    assert bars[3].right.words.startswith("back to bar 1: ")
    assert bars[1].right is None, "it goes on to the next bar of the page as well"
    assert [bar.ending for bar in bars] == ["", "", "1.", "", "2.", ""]
    assert [(bar.opens, bar.closes) for bar in bars][::3] == [(True, 0), (False, 2)]


def test_a_jump_is_drawn_where_it_leaves() -> None:
    bars = drawn("| C6 {fine} | Ebmaj7 | Abmaj7 | {D.C. al fine} G7 |")
    assert bars[3].after == "D.C. al fine"
    assert bars[3].right
    assert bars[3].right.words.startswith("back to bar 1: ")
    assert bars[0].right
    assert bars[0].right.words.startswith("from the top: "), "the last bar that is played"


def test_a_pickup_and_metres_stand_on_the_page() -> None:
    bars = drawn("{pickup 1} C7 | F6 | {3/4} Bb6 | [B] {key Bb} {4/4} F7 . . Bb6 |")
    assert [bar.number for bar in bars] == ["0", "1", "2", "3"]
    assert [bar.before for bar in bars] == ["4/4", "", "3/4", "4/4 B♭ major"]
    assert bars[0].chords[0].anchor == "", "what stands before bar 1 is not explained"
    assert bars[3].section == "B"
    assert [chord.share for chord in bars[3].chords] == [3, 1]


def test_many_changes_are_counted() -> None:
    (_, bar) = drawn("key: C\n| Cmaj7 | F#maj7 |")
    assert len(bar.left.moves) == 2
    assert bar.left.more >= 2
    assert bar.left.words.count(" becomes ") + bar.left.words.count(" is new") >= 4


def test_between_many_chords_there_is_room_for_one_note() -> None:
    (bar,) = drawn("key: C\n| Cmaj7 F#maj7 Bb7 Emaj7 |")
    assert bar.is_full
    assert [len(chord.joint.moves) for chord in bar.chords] == [0, 1, 1, 1]
    assert all(chord.joint.more for chord in bar.chords[1:])


@pytest.mark.parametrize(
    ("symbol", "pieces"),
    [
        ("Ebmaj9#11", ["E♭maj9", "♯11"]),
        ("Bb7sus4/F", ["B♭7", "sus4", "/F"]),
        ("Galt", ["G7", "alt"]),
        ("C", ["C"]),
        ("N.C.", ["N.C."]),
    ],
)
def test_a_symbol_breaks_where_its_parts_meet(symbol: str, pieces: list[str]) -> None:
    bar = drawn(f"| {symbol} | C |")[0]
    assert bar.chords[0].pieces == pieces


@pytest.mark.parametrize("instrument", INSTRUMENTS)
def test_bars_and_reasons_are_in_the_players_pitch(instrument: str) -> None:
    chart = shown("key: F\n| Gm7 C7 | Fmaj7 | Cm7 F7 | Bbmaj7 |", instrument)
    symbols = {chord.symbol for bar in chart.bars for chord in bar.chords}
    assert symbols == {chord.symbol for area in chart.areas for chord in area.chords}


@pytest.mark.slow
@settings(max_examples=25)
@given(sheets(), st.sampled_from(list(INSTRUMENTS)))
def test_any_sheet_is_drawn_once_and_each_link_leads_somewhere(
    sheet: LeadSheet, instrument: str
) -> None:
    """Property: bars stand in order, and every chord of the form leads to its explanation."""
    try:
        chart = shown_chart(sheet, instrument=instrument, level="beginner")
    except HalfstepError:
        return
    assert [bar.number for bar in chart.bars] == [bar.number for bar in sheet.bars]
    anchors = [chord.anchor for area in chart.areas for chord in area.chords]
    assert len(anchors) == len(set(anchors))
    links = {chord.anchor for bar in chart.bars for chord in bar.chords} - {""}
    assert links <= set(anchors)
