"""The bar at home that is played the last time only, in every file of a lesson.

References: music21, mido and a notation program (``mscore3``) read the files; the schema of
the lesson and the W3C's of MusicXML judge them.
"""

from __future__ import annotations

import json
import shutil
from fractions import Fraction
from pathlib import Path
from typing import Any

import mido
import numpy as np
import pytest

from halfstep.data.etude_json import read_etude
from halfstep.data.lesson_json import etude_data
from halfstep.data.line_json import read_line
from halfstep.etude.steps import parse_steps
from halfstep.harmony.line_over_chords import LineNote
from halfstep.harmony.outline import outline
from halfstep.instruments import INSTRUMENTS, find_instrument
from halfstep.lesson.brief import LessonBrief, Player
from halfstep.lesson.keys_page import keys_page
from halfstep.lesson.make import Lesson, PlayerLesson, make_lesson
from halfstep.lesson.pages import handout_for
from halfstep.lesson.played_line import played_line
from halfstep.lesson.write import line_midi
from halfstep.part.etude_score import score_of
from halfstep.progression.form import played
from halfstep.progression.load import load_sheet_file
from halfstep.progression.melody import played_melody
from halfstep.render.musicxml_writer import musicxml_text
from halfstep.render.sound_file import SOUND_FORMATS
from halfstep.road_words import LAST_TIME
from halfstep.score import Barline, Score
from halfstep.services.make_lesson import write_lesson
from lesson.lesson_files import (
    W3C,
    assert_data_is_consistent,
    assert_part_is_right,
    assert_sound_is_right,
    lesson_data,
    loop_in,
    musicxml_faults,
    samples_in,
    schema_faults,
    sounding_by_music21,
)
from lesson.test_other_readers import by_notation_program, parsed
from typed_charts import read_chart_text

CHART = "title: Back to the Door\nkey: F\ntempo: 160\n| F7 | Bb7 | F7 D7 | Gm7 C7 |"
WALTZ = "title: Three Stairs\nmeter: 3/4\nkey: Gm\n{pickup 1} D7 | Gm6 | Cm7 | Am7b5 | D7 |"
FIVE = "title: Five Stairs\nmeter: 5/4\nkey: Bb\n| Bbmaj7 | Gm7 | Cm7 | F7 |"
SIX = "title: Six Stairs\nmeter: 6/8\nkey: Dm\n| Dm | Gm7 | Em7b5 | A7 |"
ROAD = "title: Round\nkey: Eb\n|: Ebmaj7 | Cm7 |1. Fm7 | Bb7 :|2. Fm7 Bb7 | Ab7 |]"
JUMP = (
    "title: There and Back\nkey: C\n"
    "| {segno} Cmaj7 | Am7 {to coda} | Dm7 | G7 {D.S. al coda} | {coda} Dm7 | G7 |]"
)
CHARTS = [CHART, WALTZ, FIVE, SIX, ROAD, JUMP]


def lesson(chart: str = CHART, players: str = "alto-sax", steps: str = "13", **more: Any) -> Lesson:
    parts = tuple(Player(find_instrument(key)) for key in players.split(","))
    return make_lesson(LessonBrief(read_chart_text(chart), parts, parse_steps(steps), **more))


def score(made: Lesson, player: int = 0) -> Score:
    one = made.players[player]
    return score_of(one.etudes[0], one.part, title="", feel=made.brief.eighths)


@pytest.fixture(scope="session")
def ended_lesson(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A lesson of a step that goes round, and of a chorus that ends at home."""
    folder = tmp_path_factory.mktemp("ended") / "lesson"
    write_lesson(lesson(steps="7,13"), folder, sound=SOUND_FORMATS["wav"], stems=True)
    return folder


@pytest.mark.slow
@pytest.mark.skipif(not W3C.exists(), reason="the W3C's schema is not there")
def test_every_file_of_a_lesson_has_the_bar_and_nothing_more(ended_lesson: Path) -> None:
    """Data, sheets as music21 and the W3C have them, MIDI as mido has it, sound to the frame."""
    pytest.importorskip("jsonschema")
    data = lesson_data(ended_lesson)
    assert schema_faults(data) == []
    assert_data_is_consistent(data)
    goes_round, ends = data["players"][0]["steps"]
    assert goes_round["ending"] is None
    assert (ends["ending"]["bar"], ends["ending"]["start"], ends["ending"]["beats"]) == (
        5, "16", "4",
    )  # fmt: skip
    assert ends["ending"]["symbol"] == "F7"
    assert_part_is_right(ended_lesson, data["players"][0], alone=True)
    assert_sound_is_right(ended_lesson, data)


@pytest.mark.slow
def test_the_band_plays_the_bar_once_behind_the_last_chorus(ended_lesson: Path) -> None:
    """All blocks are alike, and none of them has the home chord of the last bar in it."""
    data = lesson_data(ended_lesson)
    backing, loop = samples_in(ended_lesson / "backing.wav"), data["backing"]["loop_frames"]
    blocks = data["backing"]["choruses"] // data["backing"]["block_choruses"]
    assert blocks > 1
    first, *others = np.split(backing[loop[0] : loop[1]], blocks)
    assert all(np.array_equal(first, other) for other in others)
    behind = backing[loop[1] :].astype(float)
    quarter = len(behind) // 4
    loud, *_, silent = (np.sqrt((behind[n * quarter :][:quarter] ** 2).mean()) for n in range(4))
    assert loud > 30 * silent
    for part in data["backing"]["parts"]:
        end = 16 * data["backing"]["block_choruses"]
        assert all(Fraction(note["start"]) < end for note in part["notes"])


@pytest.mark.slow
def test_the_line_is_held_to_the_end_of_its_bar(ended_lesson: Path) -> None:
    """The sound of the step, less the band alone, in the third beat of the last bar."""
    data = lesson_data(ended_lesson)
    _, end = loop_in(ended_lesson / "step-13.wav")
    beat = round(60 * 44100 / data["quarters_a_minute"])
    sound = samples_in(ended_lesson / "step-13.wav")[end:].astype(float)
    held, rung = sound[2 * beat : 3 * beat], sound[5 * beat : 6 * beat]
    assert np.sqrt((held**2).mean()) > 10 * np.sqrt((rung**2).mean())
    spectrum = np.abs(np.fft.rfft(held.mean(axis=1) * np.hanning(len(held))))
    hz = np.fft.rfftfreq(len(held), 1 / 44100)
    midi = data["players"][0]["steps"][1]["ending"]["notes"][0]["midi"]
    tone = 440 * 2 ** ((midi - 69) / 12)
    near, low = spectrum[abs(hz - tone) < 12].max(), spectrum[(hz > 350) & (hz < 2500)].max()
    assert near > 0.1 * low


@pytest.mark.sampled
@pytest.mark.parametrize("chart", CHARTS)
def test_bars_drawn_are_bars_written(chart: str) -> None:
    made = lesson(chart)
    etude, drawn = made.players[0].etudes[0], score(made)
    assert etude.ending is not None
    pickup = 1 if etude.analysis.chart.pickup_beats else 0
    assert len(drawn.bars) == pickup + len(etude.analysis.chart.form) + 1
    *_, before, last = drawn.bars
    assert (before.barline, last.barline) == (Barline.DOUBLE, Barline.FINAL)
    assert last.road.signs == (LAST_TIME,)
    assert sum(LAST_TIME in bar.road.signs for bar in drawn.bars) == 1
    assert last.number == before.number + 1
    assert sum(note.beats for note in last.notes) == last.meter.bar_beats
    assert len({note.pitch for note in last.notes}) == 1
    assert [chord.root for chord in last.chords] == [drawn.bars[pickup].chords[0].root]


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.skipif(not W3C.exists(), reason="the W3C's schema is not there")
@pytest.mark.parametrize("chart", CHARTS)
def test_music21_plays_the_form_once_and_the_bar_behind_it(chart: str, tmp_path: Path) -> None:
    made = lesson(chart)
    path = tmp_path / "chorus.musicxml"
    path.write_text(musicxml_text(score(made)), encoding="utf-8")
    assert musicxml_faults(path) == []
    part = parsed(path).parts[0]
    measures = list(part.getElementsByClass("Measure"))
    assert len(measures) == len(score(made).bars)
    assert [words.content for words in part.flatten().getElementsByClass("TextExpression")] == [
        "Swing" if made.brief.eighths == "swing" else "Straight",
        "Last time",
    ]
    etude = made.players[0].etudes[0]
    assert etude.ending is not None
    closing = played_line(etude).notes[-1]
    assert closing.onset == etude.ending.start
    assert sounding_by_music21(path)[-1][1:] == (etude.ending.bar.beats, closing.midi)


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("mscore3") is None, reason="no notation program is installed")
@pytest.mark.parametrize("chart", [CHART, JUMP])
def test_a_notation_program_plays_the_line_to_its_end(chart: str, tmp_path: Path) -> None:
    made = lesson(chart)
    path = tmp_path / "chorus.musicxml"
    path.write_text(musicxml_text(score(made)), encoding="utf-8")
    line = played_line(made.players[0].etudes[0])
    (notes,) = by_notation_program([path])
    assert notes == [note.midi for note in line.notes]


def test_our_own_reader_outlines_the_line_with_its_last_bar(tmp_path: Path) -> None:
    path = tmp_path / "chorus.musicxml"
    path.write_text(musicxml_text(score(lesson())), encoding="utf-8")
    sheet = load_sheet_file(path)
    chart = played(sheet)
    assert [str(bar.chords[0].symbol) for bar in (chart.form[0], chart.form[-1])] == ["F7", "F7"]
    assert len(chart.form) == 5
    melody = [LineNote(n.onset, n.beats, n.midi) for n in played_melody(sheet)]
    assert melody[-1].onset == 16
    assert outline(melody, chart).whole.relative is not None


def test_the_handout_has_the_bar_in_its_music_and_not_in_its_grid() -> None:
    made = lesson()
    page = handout_for(made, made.players[0])
    assert len(page.grid) == 4
    assert [len(step.score.bars) for step in page.steps] == [5]
    assert any("The last time, go on to bar 5" in text for text in page.steps[0].explained)


def test_a_class_ends_together_each_in_a_range_of_its_own() -> None:
    made = lesson(players=",".join(INSTRUMENTS))
    endings = [one.etudes[0].ending for one in made.players]
    notes = [ending.note for ending in endings if ending]
    assert len(notes) == len(INSTRUMENTS)
    assert {note.onset for note in notes} == {16}
    for one, note in zip(made.players, notes, strict=True):
        assert note.pitch is not None
        compass = one.instrument.compass(one.player.level)
        assert one.instrument.written(note.pitch) in compass


def test_midi_ends_the_line_and_the_band_under_it(tmp_path: Path) -> None:
    made = lesson()
    etude = made.players[0].etudes[0]
    (tmp_path / "line.mid").write_bytes(
        line_midi(etude, title="", clock=made.clock, band=made.band_under(etude))
    )
    tracks = mido.MidiFile(tmp_path / "line.mid").tracks[1:]
    assert {sum(message.time for message in track) for track in tracks} == {20 * 480}
    assert all(note.onset < 16 * made.block for part in made.band for note in part.notes)


@pytest.mark.slow
def test_a_lesson_without_an_ending_is_what_it_was() -> None:
    """No step has one, so the band has none."""
    for made in (lesson(ending=False), lesson(steps="7"), lesson("| Gm7 | C7 | F6 | % |")):
        assert made.ending is None
        assert made.performed_ending == ()
        assert all(etude.ending is None for one in made.players for etude in one.etudes)


@pytest.mark.slow
def test_every_step_of_a_lesson_can_end() -> None:
    made = lesson(steps="1-13", ending=True)
    assert all(etude.ending for etude in made.players[0].etudes)
    assert made.notices == ()


@pytest.mark.slow
@pytest.mark.parametrize(
    ("chart", "words"),
    [
        ("| Gm7 | C7 | F6 | % |", "the form ends at home, on F6: no ending is added"),
        ("| Dsus4 | % | Fsus4 | % | Ebsus4 | % |", "no home to end on: no ending is added"),
    ],
)
def test_a_lesson_says_once_why_it_has_no_ending(chart: str, words: str) -> None:
    made = lesson(chart, "alto-sax,flute", "7,13", ending=True)
    assert sum(words in notice for notice in made.notices) == 1
    assert not lesson(chart, steps="7,13").notices


def test_stored_notes_are_those_of_the_form_and_a_take_is_held_against_all() -> None:
    made = lesson()
    one = made.players[0]
    data = etude_data(one.etudes[0], one.part)
    assert len(read_line(data)) == len(one.etudes[0].every_note)
    assert read_line(data)[-1].onset == 16
    older = {name: value for name, value in data.items() if name != "ending"}
    assert read_line(older) == read_line(data)[:-1]


def test_kept_bars_are_read_from_an_etude_with_an_ending(tmp_path: Path) -> None:
    from halfstep.services.write_etude import WriteEtude, write_one_etude

    first = write_one_etude(WriteEtude(CHART, "chorus", instrument="alto-sax"))
    (tmp_path / "one.json").write_bytes(first.file(".json").data)
    stored = read_etude(tmp_path / "one.json")
    assert len(stored.notes) == len(first.etude.notes)
    again = write_one_etude(
        WriteEtude(
            CHART, "chorus", instrument="alto-sax",
            kept_bars="1-4", kept_from=tmp_path / "one.json", seed=9,
        )
    )  # fmt: skip
    assert [n.pitch for n in again.etude.every_note] == [n.pitch for n in first.etude.every_note]
    data = json.loads(first.file(".json").data)
    assert data["ending"]["notes"][0]["start"] == "16"


@pytest.mark.slow
def test_a_sheet_in_all_keys_ends_in_every_one_of_them() -> None:
    made = lesson()
    one: PlayerLesson = made.players[0]
    page, notices = keys_page(
        one.etudes[0], one.part, title="", feel=made.brief.eighths, degrees=True
    )
    assert notices == () or all("written anew" in notice for notice in notices)
    assert [block.score.bars[-1].road.signs for block in page.blocks] == [(LAST_TIME,)] * 12
    for block in page.blocks:
        midis = [n.pitch.midi for bar in block.score.bars for n in bar.notes if n.pitch]
        compass = one.instrument.compass(one.player.level)
        assert compass.low.midi <= min(midis) <= max(midis) <= compass.high.midi
        assert block.score.bars[-1].notes[0].degree in {"1", "3", "5"}


def test_the_bass_of_the_band_goes_home_to_the_root() -> None:
    """F7 over A at the top; the close stands on F."""
    made = lesson(CHART.replace("| F7 |", "| F7/A |", 1))
    assert made.ending is not None
    bass = next(part for part in made.ending.parts if part.name == "bass")
    assert [note.midi % 12 for note in bass.notes] == [5]
    assert (bass.notes[0].onset, bass.notes[0].beats) == (16, 4)
