"""Standard MIDI files: their bytes by hand, and what two other programs read in them.

Sources: Standard MIDI Files 1.0 (chunks, variable-length numbers, meta events) and General
MIDI level 1, both from memory; the libraries mido and music21 as readers.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import mido
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.meter import Meter
from halfstep.pitch import name_at
from halfstep.played import Bend, PlayedNote, PlayedPart
from halfstep.render.midi_file import TICKS_A_BEAT, midi_bytes


def note(onset: object, beats: object, midi: int, velocity: int = 80) -> PlayedNote:
    return PlayedNote(Fraction(onset), Fraction(beats), midi, velocity)  # type: ignore[arg-type]


LINE = PlayedPart(
    "line", 65, False, (note(0, 0.5, 60), note(0.5, 0.5, 60), note(1, 1.5, 64), note(3, 1, 67))
)
CHORDS = PlayedPart("chords", 4, False, tuple(note(0, 1, midi) for midi in (60, 64, 67)))
DRUMS = PlayedPart("drums", 0, True, (note(-1, 0.25, 37), note(0, 0.25, 51)))


def written(*parts: PlayedPart, **options: Any) -> bytes:
    fields = {"meter": Meter(), "tempo_bpm": 120.0, **options}
    return midi_bytes(parts, **fields)


def read(data: bytes) -> mido.MidiFile:
    return mido.MidiFile(file=io.BytesIO(data))


def notes_of(track: mido.MidiTrack) -> list[tuple[int, int, int, int]]:
    """Start and end in ticks, key, velocity."""
    now, sounding, notes = 0, {}, []
    for message in track:
        now += message.time
        if message.type == "note_on":
            sounding[message.note] = (now, message.velocity)
        elif message.type == "note_off":
            start, velocity = sounding.pop(message.note)
            notes.append((start, now, message.note, velocity))
    assert not sounding
    return sorted(notes)


def metas(data: bytes, kind: str) -> list[mido.MetaMessage]:
    return [message for message in read(data).tracks[0] if message.type == kind]


# The bytes (Standard MIDI Files 1.0)


def test_a_file_of_one_note_is_these_bytes() -> None:
    """Every byte by the standard: 480 is 83 60, a tempo of 120 is 07 A1 20 microseconds."""
    data = written(
        PlayedPart("line", 65, False, (note(0, 1, 60, 80),)), title="A", key_fifths=-3, minor=True
    )
    head = "4d546864 00000006 0001 0002 01e0"
    conductor = "00ff0301 41" + "00ff5103 07a120" + "00ff5804 04021808" + "00ff5902 fd01"
    line = "00ff0304 6c696e65" + "00c0 41" + "0090 3c50" + "8360 803c00"
    end = "00ff2f00"
    tracks = [bytes.fromhex(f"{track}{end}") for track in (conductor, line)]
    chunks = [b"MTrk" + len(track).to_bytes(4, "big") + track for track in tracks]
    assert data == bytes.fromhex(head) + b"".join(chunks)


@dataclass
class Reader:
    """A reader of chunks and events by the standard alone."""

    data: bytes
    place: int = 0

    def take(self, count: int) -> bytes:
        piece = self.data[self.place : self.place + count]
        assert len(piece) == count
        self.place += count
        return piece

    def number(self) -> int:
        """A variable-length number: seven bits a byte, the high bit on all but the last."""
        total = 0
        for _ in range(4):
            (byte,) = self.take(1)
            total = total << 7 | byte & 0x7F
            if byte < 0x80:
                return total
        raise AssertionError("a variable-length number has four bytes at most")

    def event(self, status: int) -> tuple[int, bytes]:
        """The status, which may be that of the event before, and the data."""
        if self.data[self.place] >= 0x80:
            (status,) = self.take(1)
        assert status >= 0x80, "running status without a status before it"
        if status == 0xFF:
            kind = self.take(1)
            return status, kind + self.take(self.number())
        return status, self.take(1 if status >> 4 in (0xC, 0xD) else 2)


def events_of(track: bytes) -> Iterator[tuple[int, int, bytes]]:
    """Tick, status and data of every event of a track's chunk."""
    reader, tick, status = Reader(track), 0, 0
    while reader.place < len(track):
        tick += reader.number()
        status, data = reader.event(0 if status == 0xFF else status)
        yield tick, status, data


def tracks_of(data: bytes) -> list[list[tuple[int, int, bytes]]]:
    """The events of each track, with the file's own counts checked."""
    assert data[:8] == b"MThd\0\0\0\6"
    form, count, division = (int.from_bytes(data[n : n + 2], "big") for n in (8, 10, 12))
    assert (form, division) == (1, TICKS_A_BEAT)
    reader, tracks = Reader(data, 14), []
    while reader.place < len(data):
        assert reader.take(4) == b"MTrk"
        size = int.from_bytes(reader.take(4), "big")
        tracks.append(list(events_of(reader.take(size))))
    assert len(tracks) == count
    return tracks


@st.composite
def parts(draw: st.DrawFn) -> PlayedPart:
    """Notes anywhere, one upon another or not, on a grid of sixteenths, triplets and fifths."""
    places = st.integers(-60, 1200).map(lambda n: Fraction(n, 60))
    lengths = st.integers(1, 300).map(lambda n: Fraction(n, 60))
    keys, forces = st.integers(0, 127), st.integers(1, 127)
    notes = draw(st.lists(st.builds(PlayedNote, places, lengths, keys, forces), max_size=12))
    percussion = draw(st.booleans())
    return PlayedPart(
        draw(st.text(max_size=5)), draw(st.integers(0, 127)), percussion, tuple(notes)
    )


@pytest.mark.slow
@settings(max_examples=30)
@given(st.lists(parts(), max_size=4))
def test_any_file_keeps_the_rules_of_the_standard(several: list[PlayedPart]) -> None:
    """Counts are right, data bytes are under 128, each track ends once and at its end."""
    tracks = tracks_of(written(*several))
    assert len(tracks) == 1 + len(several)
    for events in tracks:
        ends = [
            place
            for place, (_, status, data) in enumerate(events)
            if (status, data[0]) == (0xFF, 0x2F)
        ]
        assert ends == [len(events) - 1]
        assert all(max(data) < 0x80 for _, status, data in events if status < 0xF0)


@pytest.mark.slow
@settings(max_examples=30)
@given(st.lists(parts(), max_size=3))
def test_every_note_begins_and_ends_once_on_its_tick(several: list[PlayedPart]) -> None:
    """By bytes: 9n is a beginning, 8n an end; a note lasts a tick at least."""
    for part, events in zip(several, tracks_of(written(*several))[1:], strict=True):
        notes = [n for n in part.notes if n.onset >= 0]
        begins = [(tick, *data) for tick, status, data in events if status >> 4 == 9]
        ends = [(tick, data[0]) for tick, status, data in events if status >> 4 == 8]
        ticks = [(round(n.onset * 480), round((n.onset + n.beats) * 480)) for n in notes]
        assert sorted(begins) == sorted(
            (start, n.midi, n.velocity) for (start, _), n in zip(ticks, notes, strict=True)
        )
        assert sorted(ends) == sorted(
            (max(start + 1, end), n.midi) for (start, end), n in zip(ticks, notes, strict=True)
        )


def test_at_one_tick_a_note_ends_before_another_begins() -> None:
    """So a repeated note is two notes to every reader."""
    line = [(tick, status >> 4) for tick, status, _ in tracks_of(written(LINE))[1] if status < 0xC0]
    assert line[:4] == [(0, 9), (240, 8), (240, 9), (480, 8)]


def test_a_number_of_ticks_over_127_takes_two_bytes_and_over_16383_three() -> None:
    """The standard's own table: 80 is 81 00, 3FFF is FF 7F, 4000 is 81 80 00."""
    for ticks, shown in ((0x7F, "7f"), (0x80, "8100"), (0x3FFF, "ff7f"), (0x4000, "818000")):
        part = PlayedPart("", 0, True, (note(0, Fraction(ticks, 480), 60),))
        assert bytes.fromhex(f"00993c50{shown}893c00") in written(part)


def test_places_that_no_tick_meets_go_to_the_nearest_and_do_not_add_up() -> None:
    """Elevenths of a beat: the hundredth begins at 100 · 480/11 = 4363.6, tick 4364."""
    notes = tuple(note(Fraction(n, 11), Fraction(1, 11), 60) for n in range(101))
    starts = [
        start for start, *_ in notes_of(read(written(PlayedPart("", 0, False, notes))).tracks[1])
    ]
    assert starts[100] == 4364
    assert all(abs(start - n * 480 / 11) <= 0.5 for n, start in enumerate(starts))


# Other readers


def test_mido_reads_the_notes_back() -> None:
    file = read(written(LINE))
    assert (file.type, file.ticks_per_beat) == (1, 480)
    assert notes_of(file.tracks[1]) == [
        (0, 240, 60, 80), (240, 480, 60, 80), (480, 1200, 64, 80), (1440, 1920, 67, 80),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("bend", "first_s", "wheel"),
    [(Bend.SCOOP, 0.5, [-887, 0]), (Bend.FALL, 1.2, [0, -3413, 0])],
)
def test_a_scoop_and_a_fall_turn_the_wheel_and_it_is_back_at_the_next_note(
    bend: Bend, first_s: float, wheel: list[int]
) -> None:
    """130 and 500 cents of twelve semitones, which are 8192 steps; at 120 quarters a minute."""
    plain = PlayedNote(Fraction(0), Fraction(1), 60, 80)
    bent = PlayedNote(Fraction(1), Fraction(2), 62, 80, bend=bend)
    after = PlayedNote(Fraction(4), Fraction(1), 64, 80)
    track = read(written(PlayedPart("line", 65, percussion=False, notes=(plain, bent, after))))
    ticks, turns = 0, []
    for message in track.tracks[1]:
        ticks += message.time
        if message.type == "pitchwheel":
            turns.append((ticks, message.pitch))
    pitches = [pitch for _, pitch in turns]
    assert turns[0][0] == first_s * 2 * TICKS_A_BEAT
    assert [pitches[0], *pitches[8:]] == wheel
    assert turns[-1] == ((4 * TICKS_A_BEAT if bend is Bend.FALL else turns[8][0]), 0)
    ranges = [m.value for m in track.tracks[1] if m.type == "control_change" and m.control == 6]
    assert ranges == [12]
    assert "pitchwheel" not in {message.type for message in read(written(LINE)).tracks[1]}


@pytest.mark.slow
def test_music21_reads_the_notes_back(tmp_path: Path) -> None:
    import music21

    (tmp_path / "a.mid").write_bytes(written(LINE, key_fifths=-3))
    score = music21.converter.parse(tmp_path / "a.mid")
    notes = [(n.offset, n.quarterLength, n.pitch.midi) for n in score.flatten().notes]
    assert notes == [(0, 0.5, 60), (0.5, 0.5, 60), (1, 1.5, 64), (3, 1, 67)]
    assert score.flatten().getElementsByClass("KeySignature")[0].sharps == -3


@pytest.mark.slow
def test_music21_reads_seconds_and_chords(tmp_path: Path) -> None:
    """At 90 quarters a minute a beat lasts two thirds of a second."""
    import music21

    (tmp_path / "a.mid").write_bytes(written(LINE, CHORDS, tempo_bpm=90.0))
    line, chords = music21.converter.parse(tmp_path / "a.mid").parts
    (chord,) = chords.flatten().notes
    assert [pitch.midi for pitch in chord.pitches] == [60, 64, 67]
    rows = line.flatten().secondsMap
    starts = [row["offsetSeconds"] for row in rows if "Note" in row["element"].classes]
    assert starts == pytest.approx([0, 1 / 3, 2 / 3, 2], abs=1e-5)


@pytest.mark.slow
@pytest.mark.parametrize(("fifths", "minor"), [(-3, False), (-3, True), (2, False)])
def test_music21_reads_key_metre_and_tempo(tmp_path: Path, fifths: int, minor: bool) -> None:
    import music21

    data = written(LINE, key_fifths=fifths, minor=minor, meter=Meter(3, 4))
    (tmp_path / "a.mid").write_bytes(data)
    flat = music21.converter.parse(tmp_path / "a.mid").flatten()
    (key,) = flat.getElementsByClass("Key")
    assert (key.sharps, key.mode) == (fifths, "minor" if minor else "major")
    assert [metre.ratioString for metre in flat.getElementsByClass("TimeSignature")] == ["3/4"]
    assert {mark.number for mark in flat.getElementsByClass("MetronomeMark")} == {120}


@pytest.mark.slow
@settings(max_examples=20)
@given(st.lists(parts(), min_size=1, max_size=3))
def test_mido_reads_the_same_messages_as_the_standards_reader(several: list[PlayedPart]) -> None:
    data = written(*several)
    for track, events in zip(read(data).tracks, tracks_of(data), strict=True):
        now, messages = 0, []
        for message in track:
            now += message.time
            if not message.is_meta:
                messages.append((now, bytes(message.bytes())))
        assert messages == [
            (tick, bytes([status]) + content) for tick, status, content in events if status < 0xF0
        ]


# What stands in the first track


@pytest.mark.parametrize(
    ("meter", "tempo_bpm", "microseconds"),
    [
        (Meter(4, 4), 120, 500_000),
        (Meter(6, 8), 60, 666_667),
        (Meter(12, 8), 120, 333_333),
        (Meter(3, 4), 90, 666_667),
        (Meter(2, 2), 60, 1_000_000),
    ],
)
def test_the_tempo_counts_quarters(meter: Meter, tempo_bpm: float, microseconds: int) -> None:
    """6/8 with a dotted quarter of 60 is 90 quarters a minute: a bar lasts 2 s."""
    (tempo,) = metas(written(meter=meter, tempo_bpm=tempo_bpm), "set_tempo")
    assert tempo.tempo == microseconds


@pytest.mark.parametrize(
    ("meter", "bytes_"),
    [
        (Meter(4, 4), "04021808"), (Meter(3, 4), "03021808"), (Meter(6, 8), "06032408"),
        (Meter(12, 8), "0c032408"), (Meter(5, 4), "05021808"), (Meter(2, 2), "02013008"),
    ],
    ids=str,
)  # fmt: skip
def test_the_metre_is_four_bytes(meter: Meter, bytes_: str) -> None:
    """Count, power of two, MIDI clocks a pulse (36 in 6/8, the standard's own example), 8."""
    assert bytes.fromhex("ff5804" + bytes_) in written(meter=meter)


@pytest.mark.parametrize("fifths", range(-7, 8))
@pytest.mark.parametrize("minor", [False, True])
def test_the_key_is_its_sharps_or_flats_and_whether_it_is_minor(fifths: int, minor: bool) -> None:
    """Two bytes: -7 to 7, then 0 or 1; and the name that mido gives to them."""
    data = written(key_fifths=fifths, minor=minor)
    assert b"\xff\x59\x02" + bytes([fifths % 256, minor]) in data
    tonic = name_at(fifths + 3).ascii + "m" if minor else name_at(fifths).ascii
    assert metas(data, "key_signature")[0].key == tonic


@pytest.mark.parametrize(
    ("fifths", "minor", "name"),
    [(-3, True, "Cm"), (2, False, "D"), (-7, False, "Cb"), (7, True, "A#m")],
)
def test_the_key_has_the_name_of_the_circle_of_fifths(fifths: int, minor: bool, name: str) -> None:
    """Common practice, no source."""
    assert metas(written(key_fifths=fifths, minor=minor), "key_signature")[0].key == name


def test_tracks_carry_names_programs_and_channels() -> None:
    """General MIDI puts percussion on channel 10, which mido counts as 9."""
    file = read(written(LINE, DRUMS, CHORDS, title="Etude"))
    assert [track.name for track in file.tracks] == ["Etude", "line", "drums", "chords"]
    programs = [
        (m.channel, m.program) for t in file.tracks for m in t if m.type == "program_change"
    ]
    assert programs == [(0, 65), (1, 4)]
    assert {m.channel for m in file.tracks[2] if m.type == "note_on"} == {9}


def test_no_melodic_part_sounds_on_the_channel_of_drums() -> None:
    """Of seventeen parts the tenth skips channel 10, and the sixteenth begins again."""
    several = [PlayedPart(str(n), n, False, (note(0, 1, 60),)) for n in range(17)]
    channels = [m.channel for t in read(written(*several)).tracks for m in t if m.type == "note_on"]
    assert channels == [*range(9), *range(10, 16), 0, 1]


@pytest.mark.parametrize("title", ["Étude à deux", "B♭ minor", "夜のクラス", "🎷"])
def test_names_are_utf_8(title: str) -> None:
    name = title.encode()
    assert b"\xff\x03" + bytes([len(name)]) + name in written(LINE, title=title)


def test_a_file_without_a_title_names_no_first_track() -> None:
    assert read(written(LINE)).tracks[0].name == ""
    assert metas(written(LINE), "track_name") == []


def test_notes_before_the_first_beat_are_left_out() -> None:
    assert notes_of(read(written(DRUMS)).tracks[1]) == [(0, 120, 51, 80)]


@pytest.mark.parametrize(
    ("part", "fault"),
    [
        (PlayedPart("", 0, False, (note(0, 1, 128),)), "data byte must be in range"),
        (PlayedPart("", 0, False, (note(0, 1, 60, 200),)), "data byte must be in range"),
        (PlayedPart("", 128, False, ()), "data byte must be in range"),
    ],
    ids=["key", "velocity", "program"],
)
def test_a_number_that_midi_has_not_is_refused(part: PlayedPart, fault: str) -> None:
    with pytest.raises(ValueError, match=fault):
        written(part)


@pytest.mark.parametrize(("swing", "ticks"), [(1.0, 240), (1.5, 288), (2.0, 320)])
def test_an_off_beat_eighth_falls_where_the_swing_has_it(swing: float, ticks: int) -> None:
    """A quarter in two parts, long to short as 2 to 1: 320 of 480 ticks."""
    eighths = PlayedPart("line", 65, False, tuple(note(Fraction(n, 2), 0.5, 60) for n in range(3)))
    places = notes_of(read(written(eighths, swing=swing)).tracks[1])
    assert [start for start, *_ in places] == [0, ticks, 480]
    assert [end for _, end, *_ in places] == [ticks, 480, 480 + ticks]


def test_what_a_note_is_late_by_goes_to_its_ticks_and_no_further_than_the_first() -> None:
    """At 120 a beat lasts half a second: 25 ms are 24 of 480 ticks."""
    notes = (note(0, 0.5, 60), note(1, 0.5, 62), note(2, 0.5, 64))
    late = [replace(n, late_s=s) for n, s in zip(notes, (-0.025, 0.025, -0.025), strict=True)]
    places = notes_of(read(written(PlayedPart("line", 65, False, tuple(late)))).tracks[1])
    assert [(start, end) for start, end, *_ in places] == [(0, 216), (504, 744), (936, 1176)]


def test_swing_changes_neither_the_tempo_nor_a_metre_of_eighths() -> None:
    """Eighths in 6/8 come in threes and do not swing; common practice."""
    assert metas(written(LINE, swing=2.0), "set_tempo") == metas(written(LINE), "set_tempo")
    six_eight = Meter(6, 8)
    assert written(LINE, meter=six_eight, swing=2.0) == written(LINE, meter=six_eight)


def test_the_same_parts_give_the_same_bytes() -> None:
    assert written(LINE, DRUMS) == written(LINE, DRUMS)


@pytest.mark.parametrize(("kit", "programs"), [(0, []), (40, [40])])
def test_a_kit_other_than_the_standard_one_is_named(kit: int, programs: list[int]) -> None:
    """General MIDI 2: a program on the channel of drums chooses a kit; 40 has brushes."""
    midi = read(written(PlayedPart("drums", kit, True, (note(0, 1, 38),))))
    changes = [m for track in midi.tracks for m in track if m.type == "program_change"]
    assert [change.program for change in changes] == programs
    assert {change.channel for change in changes} <= {9}
