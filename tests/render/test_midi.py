"""MIDI files, read back by mido and music21."""

from __future__ import annotations

import io
from fractions import Fraction
from pathlib import Path

import mido
import music21
import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.meter import Clock, Meter
from halfstep.played import PlayedNote, PlayedPart
from halfstep.render.midi import midi_bytes, write_midi


def note(onset: float, beats: float, midi: int, velocity: int = 80) -> PlayedNote:
    return PlayedNote(Fraction(onset), Fraction(beats), midi, velocity)


LINE = PlayedPart(
    "line", 65, False, (note(0, 0.5, 60), note(0.5, 0.5, 60), note(1, 1.5, 64), note(3, 1, 67))
)
DRUMS = PlayedPart("drums", 0, True, (note(-1, 0.25, 37), note(0, 0.25, 51)))


def read(data: bytes) -> mido.MidiFile:
    return mido.MidiFile(file=io.BytesIO(data))


def notes_of(track: mido.MidiTrack) -> list[tuple[int, int, int, int]]:
    """Start and end in ticks, key, velocity."""
    now, sounding, found = 0, {}, []
    for message in track:
        now += message.time
        if message.type == "note_on":
            sounding[message.note] = (now, message.velocity)
        elif message.type == "note_off":
            start, velocity = sounding.pop(message.note)
            found.append((start, now, message.note, velocity))
    assert not sounding
    return sorted(found)


def metas(data: bytes, kind: str) -> list[mido.MetaMessage]:
    return [message for message in read(data).tracks[0] if message.type == kind]


def test_mido_reads_the_notes_back() -> None:
    file = read(midi_bytes([LINE], meter=Meter(), tempo_bpm=120))
    assert (file.type, file.ticks_per_beat) == (1, 480)
    assert notes_of(file.tracks[1]) == [
        (0, 240, 60, 80), (240, 480, 60, 80), (480, 1200, 64, 80), (1440, 1920, 67, 80),
    ]  # fmt: skip


def test_music21_reads_the_notes_back(tmp_path: Path) -> None:
    write_midi(tmp_path / "a.mid", [LINE], meter=Meter(), tempo_bpm=120, key_fifths=-3)
    score = music21.converter.parse(tmp_path / "a.mid")
    found = [(n.offset, n.quarterLength, n.pitch.midi) for n in score.flatten().notes]
    assert found == [(0, 0.5, 60), (0.5, 0.5, 60), (1, 1.5, 64), (3, 1, 67)]
    assert score.flatten().getElementsByClass("KeySignature")[0].sharps == -3


@given(st.lists(st.tuples(st.integers(0, 64), st.integers(1, 8), st.integers(0, 127)), max_size=20))
def test_any_part_reads_back(found: list[tuple[int, int, int]]) -> None:
    """Notes one after another, in quarters of a beat."""
    notes, now = [], Fraction(0)
    for gap, length, midi in found:
        now += Fraction(gap, 4)
        notes.append(PlayedNote(now, Fraction(length, 4), midi, 64))
        now += Fraction(length, 4)
    part = PlayedPart("line", 0, False, tuple(notes))
    track = read(midi_bytes([part], meter=Meter(), tempo_bpm=100)).tracks[1]
    expected = [(int(n.onset * 480), int((n.onset + n.beats) * 480), n.midi, 64) for n in notes]
    assert notes_of(track) == expected


@pytest.mark.parametrize(
    ("meter", "tempo_bpm", "microseconds"),
    [
        (Meter(4, 4), 120, 500_000),
        (Meter(6, 8), 60, 666_667),
        (Meter(12, 8), 120, 333_333),
        (Meter(3, 4), 90, 666_667),
    ],
)
def test_the_tempo_counts_quarters(meter: Meter, tempo_bpm: float, microseconds: int) -> None:
    """6/8 with a dotted quarter of 60 is 90 quarters a minute: a bar lasts 2 s."""
    (tempo,) = metas(midi_bytes([], meter=meter, tempo_bpm=tempo_bpm), "set_tempo")
    assert tempo.tempo == microseconds


def test_metres_stand_where_they_begin() -> None:
    data = midi_bytes([], meter=Meter(4, 4), tempo_bpm=90, meters=[(Fraction(8), Meter(6, 8))])
    found = metas(data, "time_signature")
    assert [(m.numerator, m.denominator, m.time) for m in found] == [(4, 4, 0), (6, 8, 3840)]
    assert [m.clocks_per_click for m in found] == [24, 36]


@pytest.mark.parametrize(
    ("fifths", "minor", "name"),
    [(-3, True, "Cm"), (2, False, "D"), (-7, False, "Cb"), (7, True, "A#m")],
)
def test_the_key_is_stated(fifths: int, minor: bool, name: str) -> None:
    data = midi_bytes([], meter=Meter(), tempo_bpm=90, key_fifths=fifths, minor=minor)
    assert metas(data, "key_signature")[0].key == name


def test_tracks_carry_names_programs_and_channels() -> None:
    """General MIDI puts percussion on channel 10, which mido counts as 9."""
    chords = PlayedPart("chords", 4, False, (note(0, 1, 60),))
    file = read(midi_bytes([LINE, DRUMS, chords], meter=Meter(), tempo_bpm=90, title="Etude"))
    assert [track.name for track in file.tracks] == ["Etude", "line", "drums", "chords"]
    programs = [
        (m.channel, m.program) for t in file.tracks for m in t if m.type == "program_change"
    ]
    assert programs == [(0, 65), (1, 4)]
    assert {m.channel for m in file.tracks[2] if m.type == "note_on"} == {9}


def test_notes_before_the_first_beat_are_left_out() -> None:
    track = read(midi_bytes([DRUMS], meter=Meter(), tempo_bpm=90)).tracks[1]
    assert notes_of(track) == [(0, 120, 51, 80)]


def test_a_clock_gives_its_swing() -> None:
    swung = midi_bytes([LINE], meter=Meter(), tempo_bpm=120, clock=Clock(120.0, 2.0))
    assert [start for start, *_ in notes_of(read(swung).tracks[1])] == [0, 320, 480, 1440]
