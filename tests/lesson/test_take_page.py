"""The page of a take: every note on the player's staff, in the bars and under the chords.

Sources: Portable Network Graphics (W3C) for its header. From how many cents a note is heard as
out of tune is common practice, no source.
"""

from __future__ import annotations

import struct
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.instruments import INSTRUMENTS, Clef
from halfstep.lesson.take_page import clock_text, take_page, text_under
from halfstep.listen.heard_take import HeardNote, HeardTake
from halfstep.part.take_part import WrittenTake
from halfstep.part.take_score import written_score
from halfstep.pitch import parse_pitch
from halfstep.render.page_file import png_bytes
from halfstep.render.score_pictures import set_lines
from halfstep.render.staff_page import set_staff_page, staff_page_svgs
from halfstep.score import Mark, ScoreNote
from typed_charts import read_chart_text

NAMES = ("C4", "D4", "Eb4", "F#4", "G4", "B4", "C5")


def note(onset_s: float, held_s: float, name: str, cents: float = 0, sure: float = 1) -> HeardNote:
    return HeardNote(
        onset_s,
        onset_s + held_s,
        parse_pitch(name).midi,
        cents,
        -12.0,
        sure,
        parse_pitch(name).midi,
    )


def take(
    *notes: HeardNote, player: str = "concert", chart: str = "", delay_s: float | None = None
) -> WrittenTake:
    heard = HeardTake(notes, max(n.offset_s for n in notes) + 1, delay_s=delay_s)
    over = read_chart_text(chart) if chart else None
    return WrittenTake(heard, INSTRUMENTS[player], "Made up", 0.0, over)


def steps(count: int, beat_s: float = 0.5, **more: object) -> WrittenTake:
    """Quarters at 120 from a note to the next."""
    names = NAMES * (count // len(NAMES) + 1)
    return take(*(note(beat_s * n, 0.48, name) for n, name in enumerate(names[:count])), **more)


def struck(written: WrittenTake) -> list[ScoreNote]:
    """The notes of the staff that are not tied to."""
    score, _ = written_score(written, 120.0, text=text_under)
    notes, tied = [], False
    for each in (n for bar in score.bars for n in bar.notes):
        if each.pitch and not tied:
            notes.append(each)
        tied = Mark.TIE in each.marks
    return notes


@pytest.mark.parametrize(
    ("player", "first", "clef"),
    [
        ("concert", "C4", Clef.TREBLE),
        ("alto-sax", "A4", Clef.TREBLE),
        ("trombone", "C4", Clef.BASS),
    ],
)
def test_the_notes_stand_on_the_players_own_staff(player: str, first: str, clef: Clef) -> None:
    written = steps(9, player=player)
    (block,) = take_page(written, 120.0, ()).blocks
    assert str(struck(written)[0].pitch) == first
    assert block.score.clef is clef
    assert [str(n.pitch) for n in struck(written)] == list(map(str, written.pitches()))


def test_bars_and_chords_are_those_of_the_chart_as_often_as_it_is_played() -> None:
    """Seven bars of three over a chart of two: three times through and one."""
    written = steps(21, player="trumpet", chart="meter: 3/4\nkey: Bb\n| Cm7 . F7 | Bbmaj7 |")
    score, _ = written_score(written, 120.0)
    assert [bar.meter.count for bar in score.bars] == [3] * 7
    chords = [[(c.root, c.at) for c in bar.chords] for bar in score.bars]
    assert chords == [[("D", 0), ("G", 2)], [("C", 0)]] * 3 + [[("D", 0), ("G", 2)]]
    assert score.key_fifths == 0  # C major for a trumpet in B♭


def test_without_a_chart_bars_have_four_quarters_and_no_chords() -> None:
    score, _ = written_score(steps(9), 120.0)
    assert [(str(bar.meter), bar.chords) for bar in score.bars] == [("4/4", ())] * 3


def test_odd_bars_are_filled() -> None:
    written = steps(20, chart="| {5/8} C | {7/4} F |")
    score, _ = written_score(written, 120.0)
    assert all(sum(n.beats for n in bar.notes) == bar.meter.bar_beats for bar in score.bars)


@pytest.mark.parametrize(
    ("cents", "sure", "text"),
    [(0, 1, ""), (14, 1, ""), (15, 1, "+15"), (-22.4, 1, "−22"), (3, 0.69, "?"), (40, 0.5, "+40?")],
)
def test_cents_and_doubt_stand_under_a_note(cents: float, sure: float, text: str) -> None:
    assert text_under(note(0, 1, "C4", cents, sure)) == text
    (first, *_) = struck(take(note(0, 2.6, "C4", cents, sure), note(2.6, 0.4, "D4")))
    assert first.degree == text


def test_what_stands_under_the_notes_touches_nothing() -> None:
    notes = (note(0.125 * n, 0.12, NAMES[n % 7], 40 * (-1) ** n, 0.5) for n in range(32))
    score, _ = written_score(take(*notes, chart="| Ebm7b5 Ab7alt |"), 120.0, text=text_under)
    for line in set_lines(score, width_mm=180):
        added = [s.box for s in line.shapes if s.kind in {"degree", "chord", "number"}]
        assert len(added) > 8
        assert not any(one.meets(other, gap=-1.0) for one, other in combinations(added, 2))


def test_the_page_says_where_bar_1_begins_and_what_is_left_out() -> None:
    alone, backed = (take_page(steps(4, delay_s=late), 120.0, ("loud",)) for late in (None, 0.0))
    assert "bar 1 begins with the first note" in " ".join(alone.notes)
    assert "bar 1 begins with the form" in " ".join(backed.notes)
    assert "note: loud" in alone.notes
    crowded = take(note(0, 0.03, "C4"), note(0.03, 0.4, "D4"))
    assert "note: 1 of 2 notes fall on the sixteenth" in take_page(crowded, 120.0, ()).notes[-1]
    assert not any("tempo_bpm" in line for line in take_page(crowded, 120.0, ()).notes)


def test_the_page_in_words_has_the_time_and_name_of_every_note() -> None:
    page = take_page(steps(3, player="trumpet"), 120.0, ())
    assert page.description == "The notes that were heard: 0:00.00 D4; 0:00.50 E4; 0:01.00 F4."


@pytest.mark.slow
@settings(max_examples=5, deadline=None)
@given(st.lists(st.tuples(st.floats(0.05, 3), st.sampled_from(NAMES)), min_size=1, max_size=40))
def test_any_take_is_drawn_with_all_its_texts_on_the_page(gaps: list[tuple[float, str]]) -> None:
    now, notes = 0.0, []
    for gap_s, name in gaps:
        notes.append(note(now, 0.9 * gap_s, name, 20))
        now += gap_s
    for page in set_staff_page(take_page(take(*notes, player="flute"), 120.0, ())):
        for one, other in combinations(page.texts, 2):
            assert not one.box.meets(other.box)
        assert all(0 <= text.box.left < text.box.right <= 21000 for text in page.texts)


@pytest.mark.slow
def test_a_page_is_a_png_picture_of_two_hundred_dots_an_inch() -> None:
    """An IHDR chunk after the signature, width and height first."""
    (svg,) = staff_page_svgs(take_page(steps(8), 120.0, ()))
    data = png_bytes(svg)
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    wide, high = struct.unpack(">II", data[16:24])
    assert (round(wide * 25.4 / 200), round(high * 25.4 / 200)) == (210, 297)
    assert png_bytes(svg) == data


@pytest.mark.parametrize(
    ("time_s", "digits", "text"),
    [(0, 0, "0:00"), (59.6, 0, "1:00"), (75.26, 1, "1:15.3"), (3599.999, 2, "60:00.00")],
)
def test_a_time_is_read_as_a_clock(time_s: float, digits: int, text: str) -> None:
    assert clock_text(time_s, digits) == text
