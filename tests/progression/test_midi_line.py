"""MIDI files as lines: cases 83 to 87, real files, damaged files."""

from __future__ import annotations

import io
from collections.abc import Sequence
from contextlib import suppress
from fractions import Fraction
from pathlib import Path

import mido
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.errors import ReadError
from halfstep.meter import Meter
from halfstep.progression.notations.midi_line import midi_line, read_midi_line
from halfstep.tempo_map import TempoMap

TICKS = 480


def midi_file(*tracks: Sequence[tuple[int, object]], form: int = 1) -> bytes:
    """Bytes of a file whose tracks are lists of (absolute tick, message)."""
    file = mido.MidiFile(type=form, ticks_per_beat=TICKS)
    for events in tracks:
        track = mido.MidiTrack()
        now = 0
        for tick, message in events:
            track.append(message.copy(time=tick - now))  # type: ignore[attr-defined]
            now = tick
        file.tracks.append(track)
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


def scale(count: int = 12, channel: int = 0) -> list[tuple[int, object]]:
    """Quarter notes up a chromatic scale."""
    events: list[tuple[int, object]] = []
    for n in range(count):
        events.append((n * TICKS, mido.Message("note_on", note=60 + n, channel=channel)))
        events.append(((n + 1) * TICKS, mido.Message("note_off", note=60 + n, channel=channel)))
    return events


def tempo(bpm: float) -> object:
    return mido.MetaMessage("set_tempo", tempo=round(60_000_000 / bpm))


def test_each_span_of_the_tempo_map_has_its_own_tempo() -> None:
    """Case 83: 60 for the first bar, 120 from bar 2, three bars: 4 + 2 + 2 seconds."""
    line = midi_line(midi_file([(0, tempo(60)), (4 * TICKS, tempo(120))], scale()))
    assert line.tempo.seconds(Fraction(12)) == pytest.approx(8.0)


def test_without_a_tempo_it_is_120_until_one_comes() -> None:
    """Case 84; Standard MIDI Files 1.0."""
    assert midi_line(midi_file(scale())).tempo.seconds(Fraction(4)) == pytest.approx(2.0)
    late = midi_line(midi_file([(4 * TICKS, tempo(60))], scale()))
    assert late.tempo.seconds(Fraction(8)) == pytest.approx(2.0 + 4.0)


def test_tempo_events_of_any_track_hold_for_all() -> None:
    """Case 85: on the second track only."""
    line = midi_line(midi_file(scale(), [(0, tempo(60))]))
    assert line.tempo.seconds(Fraction(4)) == pytest.approx(4.0)


def test_in_format_2_a_track_keeps_its_own_tempo() -> None:
    """Case 85: the exception."""
    line = midi_line(midi_file(scale(), [(0, tempo(60))], form=2))
    assert line.tempo.seconds(Fraction(4)) == pytest.approx(2.0)


def test_a_bar_of_6_8_at_a_dotted_quarter_of_60_lasts_two_seconds() -> None:
    """Case 87: 666 667 microseconds a quarter."""
    meter = mido.MetaMessage("time_signature", numerator=6, denominator=8)
    line = midi_line(
        midi_file([(0, meter), (0, mido.MetaMessage("set_tempo", tempo=666_667))], scale())
    )
    assert line.meters == ((Fraction(0), Meter(6, 8)),)
    assert line.tempo.seconds(Meter(6, 8).bar_beats) == pytest.approx(2.0, abs=1e-4)


def test_the_line_is_the_part_with_one_note_at_a_time() -> None:
    """Chords on one track, the melody on another, drums on channel 10."""
    chords = [
        event
        for note in (48, 52, 55)
        for event in (
            (0, mido.Message("note_on", note=note)),
            (8 * TICKS, mido.Message("note_off", note=note)),
        )
    ]
    chords.sort(key=lambda event: event[0])
    line = midi_line(midi_file(scale(8, channel=9), chords, scale(8)))
    assert [note.midi for note in line.notes] == list(range(60, 68))
    assert [note.onset for note in line.notes] == [Fraction(n) for n in range(8)]


def test_drums_alone_are_no_line() -> None:
    with pytest.raises(ReadError, match="no notes besides drums"):
        midi_line(midi_file(scale(8, channel=9)))


def test_a_tempo_map_grows_with_the_beats() -> None:
    changes = TempoMap(((Fraction(1), 60.0), (Fraction(5, 2), 200.0)))
    moments = [changes.seconds(Fraction(n, 4)) for n in range(40)]
    assert moments == sorted(moments)


@pytest.mark.slow
def test_every_real_file_reads_or_gives_one_error(reference_data: Path) -> None:
    """The files of midi and midi-test-files, corrupt ones among them."""
    read = failed = 0
    for path in [*reference_data.glob("midi/*.mid"), *reference_data.glob("midi-test-files/*.mid")]:
        try:
            line = read_midi_line(path)
        except ReadError as error:
            failed += error.source == path.name
        else:
            assert line.notes
            read += 1
    assert read > 40
    assert failed > 5


@pytest.mark.slow
def test_lengths_of_real_files_agree_with_mido(reference_data: Path) -> None:
    """The library's own length in seconds, an independent sum over its merged track."""
    for path in sorted(reference_data.glob("midi/*.mid")):
        if path.name == "beat.mid":
            continue  # drums alone
        line = read_midi_line(path)
        file = mido.MidiFile(path)
        end = max(sum(message.time for message in track) for track in file.tracks)
        end_s = line.tempo.seconds(Fraction(end, file.ticks_per_beat))
        assert end_s == pytest.approx(file.length, abs=0.01)


@pytest.mark.slow
@settings(max_examples=150)
@given(st.data())
def test_damage_gives_a_read_error_or_a_line(data: st.DataObject) -> None:
    """Bytes flipped, cut and added: nothing but ReadError comes out."""
    whole = bytearray(midi_file([(0, tempo(90))], scale(6)))
    for _ in range(data.draw(st.integers(1, 6))):
        whole[data.draw(st.integers(0, len(whole) - 1))] = data.draw(st.integers(0, 255))
    cut = data.draw(st.integers(0, len(whole)))
    with suppress(ReadError):
        assert midi_line(bytes(whole[:cut])).notes


@pytest.mark.parametrize("signs", [8, -8 & 255, 0x7F])
@pytest.mark.parametrize("mode", [0, 1])
def test_a_key_signature_that_is_none_is_passed_over_with_a_notice(signs: int, mode: int) -> None:
    """Signatures have up to seven signs (Standard MIDI Files 1.0, key signature)."""
    plain = midi_file([(0, mido.MetaMessage("key_signature", key="C"))], scale())
    odd = plain.replace(b"\xff\x59\x02\x00\x00", bytes([0xFF, 0x59, 2, signs, mode]))
    assert odd != plain
    line = midi_line(odd)
    assert line.notes == midi_line(plain).notes
    assert line.notices == ("a key signature that is none is passed over",)
    assert midi_line(plain).notices == ()
