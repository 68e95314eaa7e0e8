"""``halfstep hear``: what a teacher may give it, and what it writes.

The takes are made here of sine waves; each note's pitch and time is known. Files are read
back by mido (MIT), music21 (BSD) and the readers of charts and lines.
"""

from __future__ import annotations

import ast
import json
import subprocess
import sys
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st

from app.app_command import Command, Ran, contents
from halfstep.app.terminal.take_table import table_lines
from halfstep.data.take_json import take_data
from halfstep.instruments import INSTRUMENTS, Clef
from halfstep.listen.heard_take import HeardNote, HeardTake
from halfstep.listen.take_notice import TakeNotice, Trouble
from halfstep.notation import sounding_beats
from halfstep.part.take_part import WrittenTake, played_part, spelled
from halfstep.part.take_score import written_score
from halfstep.progression.load import load_sheet_file
from halfstep.progression.melody import played_melody
from halfstep.render.musicxml_writer import musicxml_text
from halfstep.render.sound_facts import SoundFacts, loop_start_s
from halfstep.render.sound_file import write_sound
from halfstep.render.wav_file import wav_bytes
from halfstep.score import Mark
from halfstep.services.hear_take import HearTake, hear_take

RATE = 16_000
LINE = [(0.5, 0.45, 60), (1.0, 0.2, 62), (1.25, 0.2, 64), (1.5, 0.95, 67), (2.5, 0.45, 65)]
"""Onset, length and pitch: a quarter, two eighths, a half and a quarter at 120."""


def take_file(
    path: Path, notes: Sequence[tuple[float, float, float]] = LINE, length_s: float = 3.5
) -> str:
    """A take of a few partials with soft edges."""
    sound = np.zeros(round(length_s * RATE))
    for onset_s, held_s, midi in notes:
        time = np.arange(round(held_s * RATE)) / RATE
        hz = 440 * 2 ** ((midi - 69) / 12)
        edges = np.clip(time / 0.01, 0, 1) * np.clip((held_s - time) / 0.02, 0, 1)
        wave = sum(np.sin(2 * np.pi * n * hz * time) / n for n in range(1, 9) if n * hz < RATE / 2)
        first = round(onset_s * RATE)
        sound[first : first + len(time)] += 0.2 * edges * wave
    soundfile.write(path, sound, RATE)
    return path.name


@pytest.fixture
def take(home: Path) -> str:
    return take_file(home / "take.wav")


def heard_of(*notes: tuple[float, float, int], **found: Any) -> HeardTake:
    """A take that was heard, without listening."""
    made = tuple(HeardNote(on, on + held, midi, 0.0, -12.0, 0.9, midi) for on, held, midi in notes)
    length_s = max((note.offset_s for note in made), default=1.0)
    return HeardTake(made, length_s, **found)


def written_take(heard: HeardTake, instrument: str = "concert") -> WrittenTake:
    return WrittenTake(heard, INSTRUMENTS[instrument], "Made up")


# --- the table ---------------------------------------------------------------------------


@pytest.mark.slow
def test_the_table_has_each_note_with_its_time_and_certainty(command: Command, take: str) -> None:
    ran = command("hear", take)
    assert (ran.status, ran.err) == (0, "")
    lines = ran.out.splitlines()
    assert lines[0] == "take"
    assert "5 notes in 0:04" in lines[1]
    assert "C4 to G4" in lines[1]
    rows = [line.split() for line in lines[-5:]]
    assert [row[3] for row in rows] == ["C4", "D4", "E4", "G4", "F4"]
    assert [float(row[0].removeprefix("0:")) for row in rows] == pytest.approx(
        [onset for onset, _, _ in LINE], abs=0.03
    )
    assert all(row[-1] == "%" and int(row[-2]) > 70 for row in rows)


def test_a_transposing_player_reads_written_notes(command: Command, take: str) -> None:
    """A tenor saxophone sounds a major ninth lower than it reads (music21's TenorSaxophone)."""
    out = command("hear", take, "--for", "tenor-sax").out
    assert "Tenor saxophone, written pitch" in out
    assert [line.split()[3] for line in out.splitlines()[-5:]] == ["D5", "E5", "F♯5", "A5", "G5"]


def test_a_long_take_shows_its_beginning_and_its_end() -> None:
    heard = heard_of(*((0.5 * n, 0.4, 60 + n % 12) for n in range(100)))
    lines = list(table_lines(written_take(heard), columns=80))
    assert len(lines) == 4 + 12 + 1 + 6
    assert lines[-7].startswith("  … 82 more")
    assert lines[-1].split()[0] == "0:49.50"


def test_doubtful_notes_are_named_least_certain_first() -> None:
    notes = [HeardNote(n, n + 0.5, 60 + n, 0.0, -12.0, 0.9 - 0.1 * n, 60 + n) for n in range(5)]
    lines = list(table_lines(written_take(HeardTake(tuple(notes), 5.0)), columns=80))
    found = [word for word in lines[-1].split() if word.startswith("0:")]
    assert lines[-1].startswith("doubtful, listen again: E4 at")
    assert found == ["0:04.00,", "0:03.00"]


def test_what_was_found_out_stands_over_the_table_and_notices_under_it() -> None:
    heard = heard_of(
        (0, 1, 69),
        tuning_cents=-50,
        delay_s=0.12,
        leak_db=-18,
        notices=(TakeNotice(Trouble.CLIPPED, "loud"),),
    )
    lines = list(
        table_lines(
            written_take(heard), notices=[notice.text for notice in heard.notices], columns=200
        )
    )
    # 440 Hz lowered by half of an equal semitone: 440 / 2 ** (1 / 24) = 427.5
    assert "tuned −50 cents (A = 427.5 Hz)" in lines[1]
    assert "backing 120 ms late · leaks in at −18 dB" in lines[1]
    assert lines[-1] == "note: loud"


def test_a_take_without_notes_says_so() -> None:
    notices = ["no note is heard"]
    lines = list(table_lines(written_take(heard_of()), notices=notices, columns=80))
    assert lines[1:] == ["Concert pitch · 0 notes in 0:01", "note: no note is heard"]


# --- data --------------------------------------------------------------------------------


def test_the_data_have_every_note_and_what_was_found_out(
    command: Command, take: str, home: Path
) -> None:
    ran = command("hear", take, "--out", "take.json")
    assert ran == Ran(0, "written to take.json\n", "")
    data = json.loads((home / "take.json").read_text("utf-8"))
    assert list(data) == [
        "format", "version", "program", "length_s", "tuning_cents", "delay_s",
        "delay_modulo_s", "form_s", "leak_db", "rate_ratio", "errors", "notices", "troubles",
        "notes",
    ]  # fmt: skip
    assert (data["length_s"], data["rate_ratio"], data["notices"]) == (3.5, 1, [])
    assert (data["delay_s"], data["leak_db"]) == (None, None)
    assert [note["midi"] for note in data["notes"]] == [midi for _, _, midi in LINE]
    for note, (onset_s, held_s, _) in zip(data["notes"], LINE, strict=True):
        assert note["onset_s"] == pytest.approx(onset_s, abs=0.03)
        assert note["offset_s"] == pytest.approx(onset_s + held_s, abs=0.05)
        assert abs(note["cents"]) < 10
        assert 0.7 < note["certainty"] <= 1
        assert -30 < note["level_db"] < 0


@pytest.mark.slow
def test_with_a_backing_the_delay_and_the_leak_are_in_the_data(
    command: Command, home: Path
) -> None:
    """The backing is noise bursts, laid under the take 100 ms late at a fifth of its level."""
    rng = np.random.default_rng(1)
    bursts = rng.normal(size=RATE * 8) * np.exp(-(np.arange(RATE * 8) % 8000) / 900)
    soundfile.write(home / "backing.wav", 0.3 * bursts, RATE)
    notes = [(0.5 + 0.5 * n, 0.45, 60 + n % 5) for n in range(14)]
    take_file(home / "take.wav", notes, 8.0)
    sound, _ = soundfile.read(home / "take.wav")
    sound[1600:] += 0.06 * bursts[:-1600]
    soundfile.write(home / "take.wav", sound, RATE)
    assert command("hear", "take.wav", "--backing", "backing.wav", "--out", "a.json").status == 0
    data = json.loads((home / "a.json").read_text("utf-8"))
    assert data["delay_s"] == pytest.approx(0.1, abs=0.005)
    assert -35 < data["leak_db"] < 0


@pytest.mark.slow
def test_a_range_keeps_the_octave_of_the_player(command: Command, home: Path) -> None:
    """No note under a flute's C4 less two semitones, though the take has them."""
    take_file(home / "low.wav", [(0.5, 0.5, 72), (1.2, 0.5, 52), (2.0, 0.5, 74)])
    assert command("hear", "low.wav", "--out", "free.json").status == 0
    assert command("hear", "low.wav", "--for", "flute", "--out", "flute.json").status == 0
    free, flute = (
        [note["midi"] for note in json.loads((home / name).read_text())["notes"]]
        for name in ("free.json", "flute.json")
    )
    assert free == [72, 52, 74]
    assert min(flute) >= 58
    assert {72, 74} <= set(flute)


def test_nothing_that_is_unknown_is_a_number_in_the_data() -> None:
    data = take_data(written_take(heard_of()))
    assert (data["delay_s"], data["leak_db"], data["notes"]) == (None, None, [])


@pytest.mark.parametrize("loop", [None, (44_100, 88_200)])
def test_the_count_in_is_read_from_the_loop_of_a_file(
    home: Path, loop: tuple[int, int] | None
) -> None:
    (home / "band.wav").write_bytes(wav_bytes(np.zeros((88_200, 2), dtype=np.int16), loop=loop))
    assert loop_start_s(home / "band.wav") == (loop and 1.0)
    soundfile.write(home / "band.flac", np.zeros(88_200), 44_100)
    assert loop_start_s(home / "band.flac") is None
    (home / "cut.wav").write_bytes((home / "band.wav").read_bytes()[:50])
    assert loop_start_s(home / "cut.wav") is None


# --- MIDI --------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("tempo", ["120", "93"])
def test_midi_has_the_times_of_the_recording_at_any_tempo(
    command: Command, take: str, home: Path, tempo: str
) -> None:
    """Read by mido, in seconds."""
    import mido

    assert command("hear", take, "--tempo", tempo, "--out", "take.mid").status == 0
    now, found = 0.0, []
    for message in mido.MidiFile(home / "take.mid"):
        now += message.time
        if message.type == "note_on" and message.velocity:
            found.append((now, message.note))
    assert [midi for _, midi in found] == [midi for _, _, midi in LINE]
    assert [at for at, _ in found] == pytest.approx([at for at, _, _ in LINE], abs=0.03)


def test_midi_begins_where_the_backing_begins() -> None:
    heard = heard_of((0.05, 0.2, 60), (0.25, 0.5, 62), (1.25, 0.5, 64), delay_s=0.25)
    notes = played_part(written_take(heard), 120.0).notes
    assert [note.onset for note in notes] == [0, 2]
    assert [float(note.beats) for note in notes] == [1, 1]


def test_midi_and_score_begin_after_the_count_in_of_a_backing() -> None:
    """A note in the count-in is only in the data; one a little early is on the beat."""
    heard = heard_of((0.5, 0.3, 60), (2.2, 0.5, 62), (2.75, 0.5, 64), delay_s=0.25)
    written = replace(written_take(heard), count_in_s=2.0)
    assert [note.onset for note in played_part(written, 120.0).notes] == [0, 1]
    score, said = written_score(written, 120.0)
    assert [str(note.pitch) for note in score.bars[0].notes if note.pitch] == ["D4", "E4"]
    assert said == ("1 note that ends before the form begins: only in the data",)
    assert len(take_data(written)["notes"]) == 3


SHORT_CHART = "tempo: 120\n| Dm7 | G7 | Cmaj7 | A7 |"
"""A chorus of eight seconds."""


def start_s(monkeypatch: pytest.MonkeyPatch, home: Path, heard: HeardTake) -> float | None:
    """Where bar 1 begins in a take that was heard with a backing that counts two seconds in."""
    silence = np.zeros((8 * 1000, 2), np.int16)
    (home / "band.wav").write_bytes(wav_bytes(silence, loop=(2 * 44_100, 7 * 44_100)))
    monkeypatch.setattr("halfstep.services.hear_take.hear", lambda *_, **__: heard)
    monkeypatch.setattr("halfstep.services.known_backing.loop_start_s", lambda _: 2.0)
    return hear_take(
        HearTake(home / "take.wav", home / "band.wav", chart=SHORT_CHART)
    ).written.form_s


@pytest.mark.usefixtures("take")
@pytest.mark.parametrize(
    ("delay_s", "form_s"),
    [(-3.0, 7.0), (-11.0, 7.0), (21.0, 7.0), (-1.5, 8.5), (-1.4, 0.6), (-9.4, 0.6)],
)
def test_in_equal_choruses_bar_1_is_that_of_the_chorus_of_the_first_note(
    monkeypatch: pytest.MonkeyPatch, home: Path, delay_s: float, form_s: float
) -> None:
    heard = heard_of((8.55, 0.4, 60), (9.5, 0.5, 62), delay_s=delay_s, delay_modulo_s=8.0)
    assert start_s(monkeypatch, home, heard) == pytest.approx(form_s)


@pytest.mark.usefixtures("take")
@pytest.mark.parametrize("modulo_s", [2.0, 4.0, 12.0, 9.0])
def test_what_is_alike_within_a_chorus_does_not_tell_bar_1(
    monkeypatch: pytest.MonkeyPatch, home: Path, modulo_s: float
) -> None:
    heard = heard_of((8.55, 0.4, 61), delay_s=-3.0, delay_modulo_s=modulo_s)
    assert start_s(monkeypatch, home, heard) is None
    assert start_s(monkeypatch, home, replace(heard, delay_modulo_s=None)) == -1.0


@pytest.mark.slow
def test_a_take_over_a_backing_lies_under_its_chart(command: Command, home: Path) -> None:
    """What was heard begins with the form, so a chart can be laid over it.

    The backing is noise bursts with a count-in of two seconds, 120 ms late in the take. The
    line is root and third of each chord; laid a bar off it would spell none of them.
    """
    rate, chart = 44_100, "| Dm7 | G7 | Cmaj7 | A7 |"
    rng = np.random.default_rng(2)
    bursts = rng.normal(size=rate * 10) * np.exp(-(np.arange(rate * 10) % (rate // 2)) / 2500)
    band = np.repeat((9000 * bursts / np.abs(bursts).max()).astype(np.int16)[:, None], 2, axis=1)
    (home / "band.wav").write_bytes(wav_bytes(band, loop=(2 * rate, 10 * rate)))
    roots = [62, 65, 67, 71, 60, 64, 69, 73]
    take_file(home / "take.wav", [(2.0 + n, 0.9, midi) for n, midi in enumerate(roots)], 10.5)
    line, _ = soundfile.read(home / "take.wav")
    under = np.interp(np.arange(len(line)) / RATE, np.arange(len(band)) / rate, band[:, 0], right=0)
    late = np.zeros(round(0.12 * RATE))
    soundfile.write(home / "take.wav", np.concatenate([late, line + under / 60_000]), RATE)
    asked = ("--backing", "band.wav", "--tempo", "120", "--out", "take.mid")
    assert command("hear", "take.wav", *asked).status == 0
    ran = command("outline", "take.mid", "--chart", chart, "--json")
    assert ran.status == 0
    assert json.loads(ran.out)["line"]["relative"] > 0.8


def test_velocity_falls_with_the_level() -> None:
    """40 dB for each power of ten: half the velocity is 12 dB (DLS level 1, from memory)."""
    notes = tuple(
        HeardNote(n, n + 0.5, 60, 0.0, db, 0.9, 60) for n, db in enumerate((-10, -22, -200))
    )
    part = played_part(written_take(HeardTake(notes, 3.0)), 120.0)
    assert [note.velocity for note in part.notes] == [127, 64, 1]


# --- MusicXML ----------------------------------------------------------------------------


def test_musicxml_is_read_back_by_our_own_reader(command: Command, take: str, home: Path) -> None:
    ran = command("hear", take, "--for", "alto-sax", "--tempo", "120", "--out", "take.musicxml")
    assert ran == Ran(0, "written to take.musicxml\n", "")
    sheet = load_sheet_file(home / "take.musicxml", melody_will_do=True)
    found = [(note.onset, note.beats, note.midi) for note in played_melody(sheet)]
    assert found == [
        (0, 1, 60),
        (1, Fraction(1, 2), 62),
        (Fraction(3, 2), Fraction(1, 2), 64),
        (2, 2, 67),
        (4, 1, 65),
    ]


def test_musicxml_is_the_players_part_for_music21(command: Command, take: str, home: Path) -> None:
    """Written a major sixth up for the alto, and back at concert pitch when it sounds."""
    from music21 import converter

    assert (
        command(
            "hear", take, "--for", "alto-sax", "--tempo", "120", "--out", "take.musicxml"
        ).status
        == 0
    )
    score = converter.parse(home / "take.musicxml")
    written = score.flatten().notes
    assert [note.pitch.midi for note in written] == [midi + 9 for _, _, midi in LINE]
    assert [note.pitch.midi for note in score.toSoundingPitch().flatten().notes] == [
        midi for _, _, midi in LINE
    ]
    assert [float(note.offset) for note in written] == [0, 1, 1.5, 2, 4]


def test_the_grid_is_laid_where_the_onsets_fit_best() -> None:
    """All but the first note lie on a grid; the early first one does not move them."""
    heard = heard_of((0.96, 0.5, 60), *((1.0 + 0.5 * n, 0.5, 62) for n in range(1, 12)))
    score, said = written_score(written_take(heard), 120.0)
    assert said == ()
    assert [[note.beats for note in bar.notes] for bar in score.bars] == [[1] * 4] * 3


def test_notes_of_one_sixteenth_leave_the_longest_and_are_counted() -> None:
    heard = heard_of((0, 0.03, 71), (0.03, 0.4, 72), (0.5, 0.4, 74))
    score, said = written_score(written_take(heard), 120.0)
    pitches = [note.pitch.midi for bar in score.bars for note in bar.notes if note.pitch]
    assert pitches == [72, 74]
    assert said[0].startswith("1 of 3 notes fall on the sixteenth of a longer one at tempo 120")


takes = st.lists(
    st.tuples(st.floats(0.05, 2), st.floats(0.1, 1), st.integers(40, 90)), min_size=1, max_size=25
)


@given(takes, st.sampled_from(sorted(INSTRUMENTS)), st.sampled_from([40.0, 97.3, 300.0]))
def test_any_take_fills_its_bars_and_keeps_its_pitches(
    gaps: list[tuple[float, float, int]], instrument: str, tempo_bpm: float
) -> None:
    now, notes = 0.0, []
    for gap_s, share, midi in gaps:
        notes.append((now, gap_s * share, midi))
        now += gap_s
    written = written_take(heard_of(*notes), instrument)
    score, said = written_score(written, tempo_bpm)
    assert all(sounding_beats(bar) == 4 for bar in score.bars)
    assert musicxml_text(score)
    rise = INSTRUMENTS[instrument].rise.semitones
    written, tied = [], False
    for note in (note for bar in score.bars for note in bar.notes):
        if note.pitch and not tied:
            written.append(note.pitch.midi - rise)
        tied = Mark.TIE in note.marks
    left = [midi for _, _, midi in notes]
    if not said:
        assert written == left
    else:
        assert len(written) < len(left)


@given(st.integers(0, 127), st.integers(-7, 7))
def test_a_spelled_pitch_sounds_as_it_did(midi: int, fifths: int) -> None:
    found = spelled(midi, fifths)
    assert found.midi == midi
    assert abs(found.name.alteration) <= 1


@pytest.mark.parametrize(
    ("tonic", "fifths"), [(60, 0), (67, 1), (65, -1), (63, -3), (64, 4), (61, -5), (66, 5)]
)
def test_a_scale_has_its_own_signature(tonic: int, fifths: int) -> None:
    """Major scales (the circle of fifths); beyond five signs the nearest with five."""
    scale = [(0.5 * n, 0.45, tonic + step) for n, step in enumerate((0, 2, 4, 5, 7, 9, 11))]
    assert written_take(heard_of(*scale)).fifths in {fifths, -fifths if tonic == 66 else fifths}


def test_a_low_take_of_an_unknown_player_is_written_in_the_bass() -> None:
    low, high = heard_of((0, 1, 45)), heard_of((0, 1, 72))
    assert written_score(written_take(low), 120.0)[0].clef is Clef.BASS
    assert written_score(written_take(high), 120.0)[0].clef is Clef.TREBLE
    assert written_score(written_take(low, "tenor-sax"), 120.0)[0].clef is Clef.TREBLE


# --- pictures ----------------------------------------------------------------------------


@pytest.mark.slow
def test_the_picture_is_a_png_as_wide_as_a_page(command: Command, take: str, home: Path) -> None:
    """Signature and header of Portable Network Graphics (W3C); 210 mm at 200 dots an inch."""
    ran = command("hear", take, "--tempo", "120", "--out", "take.png")
    assert ran == Ran(0, "written to take.png\n", "")
    data = (home / "take.png").read_bytes()
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    assert abs(int.from_bytes(data[16:20], "big") - 210 / 25.4 * 200) <= 1


@pytest.mark.slow
def test_the_picture_names_its_notes(command: Command, take: str, home: Path) -> None:
    ran = command("hear", take, "--for", "trumpet", "--tempo", "120", "--out", "take.SVG")
    assert ran == Ran(0, "written to take.SVG\n", "")
    text = (home / "take.SVG").read_text("utf-8")
    assert "The notes that were heard: 0:00.5" in text
    assert [name for name in ("D4", "E4", "F♯4", "A4", "G4") if f" {name}" not in text] == []


@pytest.mark.slow
def test_the_bars_and_chords_are_those_of_the_chart(
    command: Command, take: str, home: Path
) -> None:
    """Over a waltz in B♭, two bars of 3/4 under the chords that a trumpeter reads."""
    chart = "meter: 3/4\nkey: Bb\n| Cm7 | F7 |"
    asked = ("--for", "trumpet", "--tempo", "120", "--chart", chart, "--out", "take.musicxml")
    assert command("hear", take, *asked).status == 0
    sheet = load_sheet_file(home / "take.musicxml")
    assert [bar.meter.count for bar in sheet.bars] == [3, 3]
    assert [str(c.symbol) for bar in sheet.bars for c in bar.chords] == ["Cm7", "F7"]
    text = (home / "take.musicxml").read_text("utf-8")
    assert "<root-step>D</root-step>" in text


# --- what is wrong -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["gone.wav"], ["'gone.wav': there is no such file"]),
        ([""], ["folder"]),
        (["a\0b"], ["there is no such file"]),
        (["x" * 5000], ["there is no such file"]),
        (["."], ["'.': is a folder"]),
        (["text.txt"], ["text.txt: there is no sound in it"]),
        (["odd.wav"], ["odd.wav", "not a recording", "WAV"]),
        (["empty.wav"], ["empty.wav"]),
        (["silent.wav"], ["silent.wav: it is silent"]),
        (["blip.wav"], ["blip.wav: it is too short"]),
        (["take.wav", "--backing", "gone.wav"], ["--backing 'gone.wav': there is no such file"]),
        (["take.wav", "--backing", "odd.wav"], ["odd.wav", "not a recording"]),
        (["take.wav", "--for", "kazoo"], ["'kazoo'", "alto-sax"]),
        (["take.wav", "--chart", "Xm7"], ["Xm7"]),
        (["take.wav", "--tempo", "fast"], ["--tempo 'fast'", "40 to 300"]),
        (["take.wav", "--tempo", "0"], ["--tempo 0:"]),
        (["take.wav", "--tempo", "nan"], ["--tempo nan:"]),
        (["take.wav", "--out", "take.doc"], ["--out 'take.doc'", ".musicxml"]),
        (["take.wav", "--out", "take"], ["--out 'take'", ".json"]),
        (["take.wav", "--out", "gone/take.json"], ["there is no folder gone"]),
        (["take.wav", "--out", "folder.json"], ["is a folder"]),
        ([], ["TAKE"]),
    ],
    ids=lambda value: value[-1][:20].replace("\0", "0") if value else "nothing",
)
def test_whatever_is_wrong_is_one_line(
    command: Command, home: Path, arguments: list[str], words: list[str]
) -> None:
    take_file(home / "take.wav", LINE[:1], 1.2)
    take_file(home / "silent.wav", [], 1.0)
    take_file(home / "blip.wav", [], 0.01)
    (home / "text.txt").write_text("no sound at all\n" * 50)
    (home / "odd.wav").write_bytes(bytes(range(256)) * 40)
    (home / "empty.wav").write_bytes(b"")
    (home / "folder.json").mkdir()
    before = contents(home)
    ran = command("hear", *arguments)
    assert (ran.status, ran.out, ran.err.count("\n")) == (2, "", 1)
    assert ran.err.startswith("halfstep: ")
    assert [word for word in words if word not in ran.err] == []
    assert contents(home) == before


@pytest.mark.parametrize("suffix", [".mid", ".musicxml", ".pdf", ".png", ".svg"])
def test_no_note_gives_no_file_but_data(
    command: Command, home: Path, monkeypatch: pytest.MonkeyPatch, suffix: str
) -> None:
    import halfstep.services.hear_take as module

    take_file(home / "take.wav", LINE[:1], 1.2)
    none = HeardTake((), 1.2, notices=(TakeNotice(Trouble.NO_NOTE, "no note is heard"),))
    monkeypatch.setattr(module, "hear", lambda *_, **__: none)
    ran = command("hear", "take.wav", "--out", f"take{suffix}")
    assert ran == Ran(2, "", "halfstep: take: no note is heard, so there is nothing to write\n")
    ran = command("hear", "take.wav", "--out", "take.json")
    assert ran == Ran(0, "written to take.json\n", "note: no note is heard\n")
    assert {path.name for path in home.iterdir()} == {"take.wav", "take.json"}


def test_help_says_what_to_mind_and_loads_nothing_slow() -> None:
    program = (
        "import sys\nfrom halfstep.app.terminal.command_line import main\n"
        "try:\n    main(['hear', '--help'])\nexcept SystemExit:\n    pass\n"
        "print([name for name in ('numpy', 'av', 'onnxruntime', 'typst') if name in sys.modules])"
    )
    ran = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, timeout=60, check=True
    )
    assert "a minor's most of all" in ran.stdout
    assert "Nothing is sent anywhere." in ran.stdout
    assert ast.literal_eval(ran.stdout.splitlines()[-1]) == []


@pytest.mark.slow
def test_the_bar_of_progress_is_told_all_the_way(home: Path) -> None:
    """Shares that rise to the whole, whatever the take's length."""
    take_file(home / "take.wav", LINE, 3.5)
    shares: list[tuple[float, str]] = []
    hear_take(HearTake(home / "take.wav"), progress=lambda *told: shares.append(told))
    assert shares == sorted(shares)
    assert shares[-1] == (pytest.approx(1.0), "listening")


# --- tempo, metre and bar 1 ----------------------------------------------------------------


def lesson_beside(
    home: Path, chart: str, *, steps: str = "arpeggio", players: tuple[str, ...] = ("flute",)
) -> dict[str, Any]:
    """The data of a lesson beside the takes."""
    from halfstep.data.lesson_json import lesson_data
    from halfstep.lesson.make import make_lesson
    from halfstep.services.make_lesson import MakeLesson, lesson_brief

    request = MakeLesson(chart, home, instruments=players, steps=steps)
    data = lesson_data(make_lesson(lesson_brief(request)))
    (home / "lesson.json").write_text(json.dumps(data), encoding="utf-8")
    return data


def lesson_take(home: Path, data: dict[str, Any], start_s: float) -> None:
    """The first step of a lesson, played from a place in the recording."""
    beat_s = 60 / data["quarters_a_minute"]
    notes = [
        (start_s + float(Fraction(n["start"])) * beat_s, float(Fraction(n["beats"])) * beat_s * 0.9,
         n["midi"])
        for n in data["players"][0]["steps"][0]["notes"]
        if n["midi"]
    ]  # fmt: skip
    take_file(home / "take.wav", notes, notes[-1][0] + notes[-1][1] + 0.5)


def backing_file(path: Path) -> Path:
    """Noise bursts for eight seconds, of which the program's loop begins after two."""
    frames = np.arange(44_100 * 8)
    rng = np.random.default_rng(3)
    bursts = rng.normal(size=len(frames)) * np.exp(-(frames % 22_050) / 2500)
    band = (9000 * bursts / np.abs(bursts).max()).astype(np.int16)
    facts = SoundFacts(
        title="Stairs", part="band", loop_frames=(88_200, len(frames)), frame_rate=44_100,
        choruses=1, count_in_beats="4", chords=("Dm7",), meter="4/4", tempo_bpm=120.0,
        quarters_a_minute=120.0, swing_ratio=1.0, style="straight",
    )  # fmt: skip
    write_sound(path, np.stack([band, band], axis=1), facts)
    return path


def _stereo(container: av.container.InputContainer) -> Iterator[av.AudioFrame]:
    resampler = av.AudioResampler("fltp", "stereo", 44_100)
    for frame in container.decode(audio=0):
        yield from resampler.resample(frame)


def over_backing(path: Path, backing: Path, delay_s: float) -> None:
    """Lay a backing under a take."""
    line, _ = soundfile.read(path)
    rate = 44_100
    with av.open(backing) as container:
        band = np.concatenate([frame.to_ndarray() for frame in _stereo(container)], axis=1)[0]
    seconds = np.arange(len(line)) / RATE - delay_s
    under = np.interp(seconds, np.arange(len(band)) / rate, band, left=0, right=0)
    soundfile.write(path, line + 0.4 * under, RATE)


CHART = "tempo: 132\n| Dm7 | G7 | Cmaj7 | A7 | Fm7 | Bb7 | Ebmaj7 | A7 |"


@pytest.mark.slow
def test_a_lesson_beside_the_take_gives_tempo_and_bar_one(command: Command, home: Path) -> None:
    lesson_take(home, lesson_beside(home, CHART), 2.4)
    ran = command("hear", "take.wav", "--out", "take.json")
    assert "note: tempo 132, from lesson.json\n" in ran.err
    data = json.loads((home / "take.json").read_text("utf-8"))
    assert data["form_s"] == pytest.approx(2.4, abs=0.08)
    assert "as arpeggio has it" in ran.err
    assert command("hear", "take.wav", "--out", "take.mid").status == 0
    assert "tempo 132" in command("hear", "take.wav").out
    outlined = command("outline", "take.mid", "--chart", CHART)
    assert outlined.status == 0


@pytest.mark.slow
def test_what_is_said_comes_before_what_lies_beside(command: Command, home: Path) -> None:
    lesson_take(home, lesson_beside(home, CHART), 2.4)
    ran = command("hear", "take.wav", "--start", "1.5", "--tempo", "66", "--out", "take.json")
    assert ran.err == ""
    assert json.loads((home / "take.json").read_text("utf-8"))["form_s"] == 1.5


@pytest.mark.slow
def test_a_lesson_elsewhere_is_named(command: Command, home: Path) -> None:
    folder = home / "monday"
    folder.mkdir()
    lesson_take(home, lesson_beside(folder, CHART), 1.0)
    for named in ("monday", str(Path("monday") / "lesson.json")):
        ran = command("hear", "take.wav", "--lesson", named, "--out", "take.musicxml")
        assert (ran.status, ran.out) == (0, "written to take.musicxml\n")
        assert "tempo 132, from lesson.json\n" in ran.err


@pytest.mark.slow
def test_the_metre_of_the_lesson_is_written(command: Command, home: Path) -> None:
    chart = "meter: 3/4\ntempo: 120\n| Dm7 | G7 | Cmaj7 | A7 | Fm7 | Bb7 | Ebmaj7 | A7 |"
    lesson_take(home, lesson_beside(home, chart), 1.0)
    assert command("hear", "take.wav", "--out", "take.musicxml").status == 0
    text = (home / "take.musicxml").read_text("utf-8")
    assert "<beats>3</beats>" in text
    assert "<beats>4</beats>" not in text


@pytest.mark.slow
def test_without_a_tempo_it_is_said_what_is_missing(command: Command, take: str) -> None:
    refused = command("hear", take, "--out", "take.musicxml")
    assert (refused.status, refused.out) == (2, "")
    assert "no tempo is known" in refused.err
    assert "--tempo" in refused.err
    assert "--lesson" in refused.err
    assert "no tempo is known: the times are exact" in command("hear", take, "--out", "t.mid").err
    chart = command("hear", take, "--chart", "tempo: 90\n| C |", "--out", "take.musicxml")
    assert "tempo 90, from the chart" in chart.err


@pytest.mark.slow
def test_a_place_that_is_not_clear_is_not_guessed(command: Command, home: Path) -> None:
    lesson_beside(home, "tempo: 120\n| Dm7 | G7 | Cmaj7 | A7 |")
    notes = [(0.5 + n * 0.37, 0.3, 60 + n * 7 % 12) for n in range(20)]
    take_file(home / "take.wav", notes, 9.0)
    ran = command("hear", "take.wav", "--out", "take.json")
    assert "where bar 1 begins is not clear; say it with --start" in ran.err
    assert json.loads((home / "take.json").read_text("utf-8"))["form_s"] is None


@pytest.mark.slow
@pytest.mark.parametrize("suffix", [".wav", ".m4a", ".mp3"])
@pytest.mark.parametrize("named", [False, True], ids=["beside", "lesson"])
def test_the_backing_of_the_lesson_is_found_in_the_take(
    command: Command, home: Path, suffix: str, *, named: bool
) -> None:
    """Which file it is, how late it is, and with it bar 1: after the count-in of two seconds."""
    folder = home / "monday" if named else home
    folder.mkdir(exist_ok=True)
    lesson_take(home, lesson_beside(folder, CHART), 2.1)
    over_backing(home / "take.wav", backing_file(folder / f"backing{suffix}"), 0.1)
    options = ("--lesson", "monday") if named else ()
    ran = command("hear", "take.wav", *options, "--out", "take.json")
    assert f"note: the backing is backing{suffix}, which is in" in ran.err
    data = json.loads((home / "take.json").read_text("utf-8"))
    assert data["delay_s"] == pytest.approx(0.1, abs=0.005)
    assert data["form_s"] == pytest.approx(2.1, abs=0.005)


@pytest.mark.slow
def test_a_backing_beside_the_take_that_is_not_heard_in_it_is_not_taken(
    command: Command, home: Path
) -> None:
    lesson_take(home, lesson_beside(home, CHART), 2.4)
    backing_file(home / "backing.wav")
    ran = command("hear", "take.wav", "--out", "take.json")
    assert "note: backing.wav is not heard in the take" in ran.err
    assert "the backing is" not in ran.err
    data = json.loads((home / "take.json").read_text("utf-8"))
    assert data["delay_s"] is None
    assert data["form_s"] == pytest.approx(2.4, abs=0.08)


@pytest.mark.slow
def test_with_headphones_no_backing_is_looked_for(command: Command, home: Path) -> None:
    take_file(home / "take.wav")
    over_backing(home / "take.wav", backing_file(home / "backing.wav"), 0.1)
    assert "the backing is backing.wav" in command("hear", "take.wav").out
    assert "the backing is" not in command("hear", "take.wav", "--headphones").out


@pytest.mark.slow
def test_no_other_sound_of_that_name_is_taken(command: Command, home: Path) -> None:
    """Neither a file that the program did not write, nor the recording itself."""
    band = backing_file(home / "backing.wav")
    assert "the backing is" not in command("hear", "backing.wav").out
    take_file(home / "take.wav")
    over_backing(home / "take.wav", band, 0.1)
    take_file(band)
    ran = command("hear", "take.wav")
    assert (ran.status, ran.err) == (0, "")
    assert "note:" not in ran.out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--headphones", "--backing", "take.wav"], "--headphones and --backing: with headphones"),
        (["--start", "soon"], "--start 'soon': give the second at which bar 1 begins"),
        (["--start", "nan"], "--start nan: give the second"),
        (["--lesson", "gone"], "--lesson 'gone': there is no lesson.json"),
        (["--lesson", "other.json"], "--lesson 'other.json' is no lesson of ours"),
        (["--chart", "| Q |"], "'Q'"),
        (["--step", "cells"], "--step 'cells': give the --lesson that has it"),
        (["--step", "cells", "--chart", "| C |"], "--step and --chart: a step is one of a lesson"),
    ],
)
def test_a_frame_that_cannot_be_is_one_line(
    command: Command, home: Path, take: str, arguments: list[str], words: str
) -> None:
    (home / "other.json").write_text("{}")
    ran = command("hear", take, *arguments)
    assert (ran.status, ran.out, ran.err.count("\n")) == (2, "", 1)
    assert words in ran.err


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["scale"], "--step 'scale': alto-sax, flute have it; say with --for who plays"),
        (["cells", "--for", "flute"], "--step 'cells': the lesson has arpeggio, scale"),
        (["9"], "--step '9': the lesson has arpeggio, scale"),
        (["scael", "--for", "flute"], "--step 'scael'; did you mean scale? the lesson has"),
        (["", "--for", "flute"], "--step '': the lesson has arpeggio, scale"),
        (["scale", "--for", "trumpet"], "--for 'trumpet' with --step: the lesson is for alto-sax"),
    ],
)
def test_a_step_that_cannot_be_meant_is_one_line(
    command: Command, home: Path, take: str, arguments: list[str], words: str
) -> None:
    lesson_beside(home, CHART, steps="arpeggio,scale", players=("alto-sax", "flute"))
    ran = command("hear", take, "--step", *arguments)
    assert (ran.status, ran.out, ran.err.count("\n")) == (2, "", 1)
    assert words in ran.err


@pytest.mark.slow
def test_the_step_that_is_played_says_where_bar_one_is(command: Command, home: Path) -> None:
    """By its own line, not by one of the lesson's others that fits as well."""
    lesson_take(home, lesson_beside(home, CHART, steps="arpeggio,scale"), 2.4)
    ran = command("hear", "take.wav", "--step", "1", "--for", "Flute", "--out", "take.json")
    assert "as arpeggio has it" in ran.err
    other = command("hear", "take.wav", "--step", "scale", "--out", "take.json")
    assert other.status == 0
    assert "as arpeggio has it" not in other.err
