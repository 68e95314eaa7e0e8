"""A teacher's own line in a lesson: from a file or a recording to every player's example.

The lines are invented, or are etudes of the program written out and read back: what comes back
is held against what was written, which is truth by construction.
"""

from __future__ import annotations

import pickle
import re
import wave
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from pypdfium2 import PdfDocument

from halfstep.data.documents import json_text
from halfstep.data.lesson_json import lesson_data
from halfstep.errors import BriefError, HalfstepError
from halfstep.etude.etude_notes import Approach
from halfstep.etude.teachers_line import TeachersLine
from halfstep.feedback.findings import FindingKind
from halfstep.harmony.line_over_chords import LineNote
from halfstep.lesson.make import PlayerLesson, lesson_with, make_lesson
from halfstep.lesson.pages import handout_for, teacher_sheet
from halfstep.lesson.sound import SoundWriter
from halfstep.lesson.write import line_midi
from halfstep.meter import Clock, Feel, Meter
from halfstep.played import PlayedNote, PlayedPart
from halfstep.render.handout import handout_pdf
from halfstep.render.midi_file import TICKS_A_BEAT, midi_bytes
from halfstep.render.sound_file import SOUND_FORMATS
from halfstep.services.earlier_lesson import demand_free
from halfstep.services.etude_reply import EtudeReply
from halfstep.services.give_feedback import GiveFeedback, give_feedback
from halfstep.services.lesson_lines import lines_of_lesson
from halfstep.services.line_as_read import KeyedSheet
from halfstep.services.line_reading import teachers_line
from halfstep.services.make_lesson import MakeLesson, lesson_brief
from halfstep.services.request_fields import no_progress
from halfstep.services.write_etude import WriteEtude, write_one_etude
from lesson.lesson_files import schema_faults
from midi_tracks import midi_tracks
from typed_charts import load_chart, load_sheet

HOUSE = "| Dm7 | G7 | Cmaj7 | A7 | Dm7 | G7 | Fmaj7 Bb7 | Em7 A7 |"
WALTZ = "meter: 3/4\n| Dm7 | G7 | Cmaj7 | A7 | Dm7 | G7 | Cmaj7 | Cmaj7 |"
ROCKING = "meter: 6/8\n| Dm7 | G7 | Cmaj7 | A7 | Dm7 | G7 | Cmaj7 | Cmaj7 |"
ABC = """\
X:1
T:Second Floor
M:4/4
L:1/8
K:C
"Dm7"DFAc AFDF|"G7"GBdf dBGB|"Cmaj7"cegb gecG|"A7"A^ceg e^cAG|]
"""
PICKUP = 'X:1\nT:Up\nM:4/4\nL:1/8\nK:C\nAB c-|"Dm7"c2 d2 f4|"G7"g8|"Cmaj7"e8|"A7"^c8|]\n'
STAIRS = "| Dm7 | G7 | Cmaj7 | A7 |"


def line_of(path: Path, chart: str, feel: Feel = Feel.SWING) -> TeachersLine:
    """The line of a file over a chart, as it sounds."""
    keyed = KeyedSheet(load_sheet(chart), load_chart(chart), 0)
    return teachers_line(path, [keyed], feel=feel, start_s=None, reading=None, progress=no_progress)


def etude_of(chart: str, step: str, instrument: str = "alto-sax") -> EtudeReply:
    return write_one_etude(WriteEtude(chart, step, instrument=instrument, ending=False))


def sounding(reply: EtudeReply) -> list[LineNote]:
    """What is to be heard of an etude: onsets, lengths and concert notes."""
    notes = reply.etude.notes
    return [LineNote(note.onset, note.beats, note.pitch.midi) for note in notes if note.pitch]


def stored(reply: EtudeReply, path: Path) -> Path:
    path.write_bytes(reply.file(path.suffix).data)
    return path


def midi_of(path: Path, notes: list[tuple[float, float, int]], meter: Meter | None = None) -> Path:
    """A MIDI file of onsets, lengths and notes."""
    line = (PlayedNote(Fraction(on), Fraction(beats), midi, 80) for on, beats, midi in notes)
    part = PlayedPart("line", 65, percussion=False, notes=tuple(line))
    path.write_bytes(midi_bytes([part], meter=meter or Meter(), tempo_bpm=120))
    return path


# What is written comes back


@pytest.mark.parametrize("suffix", [".musicxml", ".mid"])
@pytest.mark.parametrize(
    ("chart", "step"),
    [
        (HOUSE, "one-line"),
        (HOUSE, "scale"),
        (HOUSE, "motif"),
        (WALTZ, "arpeggio-in-rhythm"),
        (ROCKING, "cells"),
    ],
)
def test_an_etude_that_is_written_out_comes_back_as_the_line(
    chart: str, step: str, suffix: str, tmp_path: Path
) -> None:
    """From an alto's part in written pitch, and from MIDI, which swings as it sounds."""
    reply = etude_of(chart, step)
    line = line_of(stored(reply, tmp_path / f"line{suffix}"), chart, reply.etude.brief.feel)
    assert list(line.notes) == sounding(reply)


def test_a_line_in_abc_is_read_as_it_stands(tmp_path: Path) -> None:
    (tmp_path / "line.abc").write_text(ABC, "utf-8")
    line = line_of(tmp_path / "line.abc", STAIRS)
    assert [note.midi for note in line.notes[:5]] == [62, 65, 69, 72, 69]
    assert [note.onset for note in line.notes[:5]] == [Fraction(n, 2) for n in range(5)]
    assert line.notices == ()


@pytest.mark.slow
def test_an_example_has_the_marks_and_names_of_the_etude_it_was(tmp_path: Path) -> None:
    reply = etude_of(HOUSE, "approach-notes")
    path = stored(reply, tmp_path / "line.musicxml")
    request = MakeLesson(HOUSE, tmp_path, instruments=("alto-sax",), steps="6", line=path)
    (player,) = make_lesson(lesson_brief(request)).players
    assert player.example
    pairs = list(zip(player.example.notes, reply.etude.notes, strict=True))
    assert all(a.degree == b.degree for a, b in pairs if b.degree)
    assert [a.changing for a, _ in pairs] == [b.changing for _, b in pairs]
    lines = (player.part.of_line(player.example.notes), player.part.of_line(reply.etude.notes))
    assert [lines[0].pitch(a) for a, _ in pairs] == [lines[1].pitch(b) for _, b in pairs]
    chromatic = [a.approach for a, b in pairs if b.approach is Approach.CHROMATIC]
    assert chromatic
    assert set(chromatic) <= {Approach.CHROMATIC, Approach.ENCLOSURE}


def test_the_line_moves_with_the_chart_to_another_key(tmp_path: Path) -> None:
    (tmp_path / "line.abc").write_text(ABC, "utf-8")
    request = MakeLesson(STAIRS, tmp_path, key="D", steps="1", line=tmp_path / "line.abc")
    brief = lesson_brief(request)
    assert brief.line
    assert brief.line.notes[0].midi == 64
    assert str(brief.chart.form[0].chords[0].symbol) == "Em7"


def test_a_line_whose_own_chords_are_in_the_key_of_the_lesson_is_not_moved(
    tmp_path: Path,
) -> None:
    chords = {"Dm7": "Em7", "G7": "A7", "Cmaj7": "Dmaj7", "A7": "B7"}
    moved = re.sub(r'"(\w+)"', lambda chord: f'"{chords[chord[1]]}"', ABC)
    (tmp_path / "line.abc").write_text(moved, "utf-8")
    request = MakeLesson(STAIRS, tmp_path, key="D", steps="1", line=tmp_path / "line.abc")
    brief = lesson_brief(request)
    assert brief.line
    assert brief.line.notes[0].midi == 62
    assert brief.line.notices == ("your line is taken to be in D major, as the lesson is",)


# Where a line begins and ends


def test_a_pickup_stands_before_bar_one_and_sounds_in_the_count_in(tmp_path: Path) -> None:
    """Its last note is held over the bar line: it is tied there, not struck again."""
    path = tmp_path / "line.abc"
    path.write_text(PICKUP, "utf-8")
    request = MakeLesson(STAIRS, tmp_path, instruments=("flute",), steps="1", line=path)
    lesson = make_lesson(lesson_brief(request))
    (player,) = lesson.players
    score = handout_for(lesson, player).steps[0].score
    assert score.bars[0].number == 0
    assert [str(note.pitch) for note in score.bars[0].notes] == ["A4", "B4", "C5"]
    assert [note.beats for note in score.bars[1].notes] == [1, 1, 2]
    onsets = [Fraction(-3, 2), -1, Fraction(-1, 2), 1]
    assert [note.onset for note in lesson.performed_line(player.lines[0]).notes[:4]] == onsets
    (tmp_path / "out.mid").write_bytes(line_midi(player.lines[0], title="", clock=Clock(120)))
    midi = midi_tracks(tmp_path / "out.mid")["line"]
    assert [Fraction(start, TICKS_A_BEAT) for start in midi.starts[:4]] == [n + 4 for n in onsets]


def test_a_whole_bar_before_the_first_chord_of_a_file_is_a_pickup(tmp_path: Path) -> None:
    path = tmp_path / "line.abc"
    path.write_text(ABC.replace("K:C\n", "K:C\nz4 z2 GA|"), "utf-8")
    line = line_of(path, STAIRS)
    assert [note.onset for note in line.notes[:3]] == [-1, Fraction(-1, 2), 0]
    assert line.notices == ()


def test_silent_choruses_before_a_line_are_passed_over_and_what_follows_the_form_is_left_out(
    tmp_path: Path,
) -> None:
    """A pickup to the second chorus stays one; the closing note of a third is said."""
    notes = [(15.0, 1.0, 62), *((16.0 + n, 1.0, 64 + n % 3) for n in range(16)), (32.0, 4.0, 60)]
    line = line_of(midi_of(tmp_path / "line.mid", notes), STAIRS)
    assert [note.onset for note in line.notes] == list(range(-1, 16))
    assert line.notices == (
        "your line: one note is left out, behind the form: an example is one chorus",
    )


def test_over_no_chord_a_note_has_a_name_and_no_degree(tmp_path: Path) -> None:
    (tmp_path / "line.abc").write_text(ABC, "utf-8")
    chart = "| N.C. | G7 | Cmaj7 | A7 |"
    request = MakeLesson(chart, tmp_path, steps="1", line=tmp_path / "line.abc")
    (player,) = make_lesson(lesson_brief(request)).players
    assert player.example
    first = player.example.notes[0]
    assert (str(first.pitch), first.degree) == ("D4", None)


def test_a_short_line_is_followed_by_rests(tmp_path: Path) -> None:
    path = midi_of(tmp_path / "line.mid", [(n / 2, 0.5, 62 + n) for n in range(8)])
    request = MakeLesson(STAIRS, tmp_path, steps="1", line=path)
    (player,) = make_lesson(lesson_brief(request)).players
    assert player.example
    assert player.example.notes[-1].pitch is None
    assert player.example.notes[-1].end == 16


# What is hard to read


def test_of_several_notes_at_once_the_top_one_is_the_line(tmp_path: Path) -> None:
    tops = [(float(n), 1.0, 72 + n) for n in range(8)]
    chords = [*tops, (0.0, 1.0, 60), (4.0, 1.0, 64), (4.0, 1.0, 67)]
    line = line_of(midi_of(tmp_path / "line.mid", sorted(chords)), STAIRS)
    assert [note.midi for note in line.notes] == list(range(72, 80))
    assert line.notices == ("line.mid has several notes at once in 2 places: the top one is taken",)


def test_other_chords_in_the_file_are_said(tmp_path: Path) -> None:
    (tmp_path / "line.abc").write_text(ABC.replace('"G7"', '"Db7"'), "utf-8")
    assert line_of(tmp_path / "line.abc", STAIRS).notices == (
        "line.abc has D♭7 in bar 2, where the chart has G7: the line is read over the chart",
    )


def test_a_gap_of_articulation_is_no_rest_and_a_longer_one_is(tmp_path: Path) -> None:
    """Common practice, no source: quarters cut a little short stay quarters."""
    notes = [(0.0, 0.7, 62), (1.0, 0.75, 64), (2.0, 0.5, 65), (3.0, 0.9, 67), (4.0, 3.0, 65)]
    line = line_of(midi_of(tmp_path / "line.mid", notes), STAIRS)
    assert [note.beats for note in line.notes] == [1, 1, Fraction(1, 2), 1, 4]


@pytest.mark.parametrize(
    ("name", "content", "message"),
    [
        ("none.abc", None, "no such file"),
        ("empty.mid", b"MThd", "no whole MIDI file"),
        ("words.txt", b"| Dm7 | G7 |", "no notes"),
        ("rests.abc", b'X:1\nT:Off\nM:4/4\nL:1/4\nK:C\n"C"z4|]\n', "no notes"),
        ("three.abc", b'X:1\nT:Off\nM:3/4\nL:1/4\nK:C\n"C"ceg|]\n', "bar 1 is in 3/4"),
        ("noise.wav", b"RIFF", "noise.wav"),
    ],
)
def test_what_is_no_line_over_the_chart_is_refused_in_one_line(
    name: str, content: bytes | None, message: str, tmp_path: Path
) -> None:
    path = tmp_path / name
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(HalfstepError, match=re.escape(message)) as refused:
        lesson_brief(MakeLesson(f"tempo: 100\n{STAIRS}", tmp_path, line=path))
    assert "\n" not in str(refused.value)


# In a lesson


@pytest.mark.slow
def test_a_lesson_with_a_line_is_stored_as_its_schema_says_and_read_back(tmp_path: Path) -> None:
    """A take of the example can be held against it, as one of a step."""
    path = tmp_path / "line.abc"
    path.write_text(PICKUP, "utf-8")
    request = MakeLesson(STAIRS, tmp_path, instruments=("flute", "alto-sax"), steps="1", line=path)
    lesson = make_lesson(lesson_brief(request))
    data = lesson_data(lesson)
    assert not [fault for fault in schema_faults(data) if fault.startswith("players")]
    example = data["players"][1]["example"]
    assert [note["written"] for note in example["pickup"]] == ["F#4", "G#4", "A4"]
    names = [line.step for line in lines_of_lesson(data)]
    assert names == ["example", "arpeggio", "example", "arpeggio"]


@pytest.mark.slow
def test_on_a_handout_the_line_stands_first(tmp_path: Path) -> None:
    (tmp_path / "line.abc").write_text(ABC, "utf-8")
    request = MakeLesson(STAIRS, tmp_path, steps="1", line=tmp_path / "line.abc")
    lesson = make_lesson(lesson_brief(request))
    page = handout_pdf(handout_for(lesson, lesson.players[0]))
    words = "".join(sheet.get_textpage().get_text_bounded() for sheet in PdfDocument(page))
    places = [words.index(text) for text in ("The music", "The teacher’s line", "1 Arpeggio")]
    assert places == sorted(places)


def test_the_teacher_reads_how_well_the_line_spells_the_changes(tmp_path: Path) -> None:
    path = tmp_path / "line.abc"
    path.write_text(ABC, "utf-8")
    request = MakeLesson(STAIRS, tmp_path, instruments=("trombone:beginner",), steps="1", line=path)
    lesson = make_lesson(lesson_brief(request))
    first, _ = teacher_sheet(lesson).watch
    assert first.heading == "The teacher’s line"
    assert first.task == "As clear as the plain arpeggio; 1 of 1 changes heard."
    assert "your line: as clear as the plain arpeggio; 1 of 1 changes heard" in lesson.notices
    assert any("sounds an octave lower" in notice for notice in lesson.notices)


def test_a_lesson_with_an_example_is_not_made_again_without_it(tmp_path: Path) -> None:
    (tmp_path / "line.abc").write_text(ABC, "utf-8")
    request = MakeLesson(STAIRS, tmp_path, steps="1", line=tmp_path / "line.abc")
    data = lesson_data(make_lesson(lesson_brief(request)))
    (tmp_path / "lesson.json").write_text(json_text(data), "utf-8")
    assert demand_free(tmp_path, lesson_brief(request), replace=False)
    with pytest.raises(BriefError, match="holds another lesson"):
        demand_free(tmp_path, lesson_brief(replace(request, line=None)), replace=False)


# From a recording


@pytest.fixture(scope="module")
def recorded(tmp_path_factory: pytest.TempPathFactory) -> tuple[EtudeReply, Path, float]:
    """An etude as the program itself plays it, alone, and the second at which bar 1 begins.

    The ear takes some notes that are held for two beats for two, or for shorter: this one has none.
    """
    folder = tmp_path_factory.mktemp("take")
    chart = f"tempo: 140\n{HOUSE}"
    reply = write_one_etude(
        WriteEtude(chart, "one-line", instrument="trumpet", ending=False, seed=4)
    )
    player = PlayerLesson(reply.brief.players[0], reply.part, (reply.etude,))
    lesson = lesson_with(reply.brief, reply.etude.analysis, [player], most=1)
    writer = SoundWriter(lesson, folder, SOUND_FORMATS["wav"], stems=True)
    writer.write_step(writer.band(), 0, 0)
    return reply, folder / "line-6.wav", lesson.clock.seconds(lesson.lead_in.beats)


@pytest.mark.slow
def test_a_recording_of_an_etude_comes_back_as_it_is_written(
    recorded: tuple[EtudeReply, Path, float], tmp_path: Path
) -> None:
    """Through the ear: swing, gaps of articulation and the player's own time are taken out."""
    reply, path, start_s = recorded
    request = MakeLesson(
        f"tempo: 140\n{HOUSE}", tmp_path, steps="1", line=path, line_start_s=start_s
    )
    brief = lesson_brief(request)
    assert brief.line
    assert list(brief.line.notes) == sounding(reply)


@pytest.mark.slow
def test_a_take_of_the_example_is_held_against_it(
    recorded: tuple[EtudeReply, Path, float], tmp_path: Path
) -> None:
    """The teacher wrote the line, a student sends it back."""
    reply, path, start_s = recorded
    line = stored(reply, tmp_path / "line.musicxml")
    request = MakeLesson(
        f"tempo: 140\n{HOUSE}", tmp_path, instruments=("trumpet",), steps="1", line=line
    )
    data = lesson_data(make_lesson(lesson_brief(request)))
    (tmp_path / "lesson.json").write_text(json_text(data), "utf-8")
    asked = GiveFeedback(path, lesson=tmp_path, step="example", start_s=start_s)
    kinds = {finding.kind for finding in give_feedback(asked).feedback.findings}
    assert not kinds & {FindingKind.MISSED, FindingKind.ADDED, FindingKind.CHANGED}


@pytest.mark.slow
def test_where_bar_one_of_a_recording_begins_is_asked_for_where_it_is_not_clear(
    tmp_path: Path,
) -> None:
    """One long note says nothing of it; the line says where that note is."""
    path = tmp_path / "note.wav"
    beep = 0.3 * np.sin(2 * np.pi * 440 * np.arange(22050) / 44100)
    samples = (32767 * np.concatenate([np.zeros(22050), beep, np.zeros(4410)])).astype("<i2")
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, 44100, 0, "NONE", "not compressed"))
        file.writeframes(samples.tobytes())
    with pytest.raises(BriefError, match=r"the first note begins at 0\.[45]\d s\); say it with"):
        lesson_brief(MakeLesson(f"tempo: 100\n{STAIRS}", tmp_path, line=path))


def test_a_recording_in_no_known_tempo_is_refused_before_it_is_heard(tmp_path: Path) -> None:
    path = tmp_path / "take.wav"
    path.write_bytes(b"RIFF")
    with pytest.raises(BriefError, match=r"line take\.wav: no tempo is known; give it with tempi"):
        lesson_brief(MakeLesson(STAIRS, tmp_path, line=path))


def test_pages_that_another_process_writes_say_the_same(tmp_path: Path) -> None:
    """A lesson is sent to it as bytes."""
    (tmp_path / "line.abc").write_text(ABC, "utf-8")
    request = MakeLesson(STAIRS, tmp_path, steps="1", line=tmp_path / "line.abc")
    lesson = make_lesson(lesson_brief(request))
    assert teacher_sheet(pickle.loads(pickle.dumps(lesson))) == teacher_sheet(lesson)
