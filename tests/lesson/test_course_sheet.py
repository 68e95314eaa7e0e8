"""A progression stands in the key that a player reads, and keeps its mode.

Transposition is held against music21 (BSD).
"""

from __future__ import annotations

import pytest
from music21 import harmony

from halfstep.course.course_folder import our_course
from halfstep.course.course_skills import CoursePlayer, unit_keys
from halfstep.course.unit import SHARES, CourseUnit, Measure, PassMark
from halfstep.course.written_keys import KEYS, written_key
from halfstep.instruments import INSTRUMENTS
from halfstep.lesson.course_page import mark_in_words
from halfstep.lesson.course_sheet import keyed_sheet
from halfstep.part.lead_sheet import sheet_for


def unit(name: str) -> CourseUnit:
    found = our_course().unit(name)
    assert found
    return found


@pytest.mark.slow
@pytest.mark.parametrize("name", INSTRUMENTS)
def test_a_player_reads_the_key_that_is_meant(name: str) -> None:
    player = INSTRUMENTS[name]
    for of in our_course().units[::3]:
        for key in unit_keys(of, CoursePlayer(player)):
            for progression in of.progressions:
                sheet = sheet_for(keyed_sheet(of, progression, key, player), player)[0]
                assert sheet.key
                tonic = written_key(key, is_minor=of.is_minor).tonic
                assert sheet.key.tonic.pitch_class == tonic.pitch_class
                assert sheet.key.minor is of.is_minor


def test_a_mode_stays_on_its_tonic() -> None:
    """C dorian goes to A dorian where A minor is read, not to the dorian with its signature."""
    vamp = unit("dorian-vamp")
    assert str(keyed_sheet(vamp, vamp.progressions[0], 3, INSTRUMENTS["flute"]).key) == "A dorian"


def test_the_chords_move_with_the_key() -> None:
    ladder = unit("two-five-one")
    figures = {}
    for key in (0, -3):
        sheet = keyed_sheet(ladder, ladder.progressions[0], key, INSTRUMENTS["flute"])
        figures[key] = [chord.symbol.ascii for bar in sheet.bars for chord in bar.chords]
    assert figures == {0: ["Dm7", "G7", "Cmaj7", "Cmaj7"], -3: ["Fm7", "Bb7", "Ebmaj7", "Ebmaj7"]}
    for in_c, in_e_flat in zip(figures[0], figures[-3], strict=True):
        moved = harmony.ChordSymbol(in_c).transpose("m3")
        there = harmony.ChordSymbol(in_e_flat.replace("Bb", "B-").replace("Eb", "E-"))
        assert {p.pitchClass for p in moved.pitches} == {p.pitchClass for p in there.pitches}


@pytest.mark.parametrize("key", KEYS)
def test_a_chart_states_its_title_and_style_in_any_key(key: int) -> None:
    blues = unit("minor-blues")
    sheet = keyed_sheet(blues, blues.progressions[1], key, INSTRUMENTS["trumpet"])
    assert (sheet.title, sheet.style) == (blues.progressions[1].title, blues.style)


@pytest.mark.parametrize("measure", Measure)
def test_every_measure_is_told_in_words(measure: Measure) -> None:
    words = {
        mark_in_words(
            PassMark(measure, at_least=limit) if measure in SHARES else PassMark(measure, at_most=n)
        )
        for n, limit in enumerate((0.4, 0.5, 0.6))
    }
    assert len(words) == 3
    assert not any(str(measure) in text for text in words)
