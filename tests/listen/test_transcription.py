"""Notes of takes whose truth is known: by construction, and analytic.

The sounds are made by the tests themselves, of sine waves, and have no part in training.
"""

from __future__ import annotations

import tracemalloc
from pathlib import Path

import numpy as np
import pytest
from tones import RATE, Sound, band, played, tone, write

from halfstep.errors import TakeError
from halfstep.listen import kept_recording, transcription
from halfstep.listen.audio import Recording, Stretches
from halfstep.listen.heard_take import HeardTake
from halfstep.listen.network import frame_estimates
from halfstep.listen.spectra import level_of
from halfstep.listen.take_notice import Trouble
from halfstep.listen.transcription import hear

SCALE = [(0.3 + 0.3 * i, 0.3, 60 + step) for i, step in enumerate((0, 2, 4, 5, 7, 9, 11, 12))]
"""Eight notes joined, from middle C."""


def heard(tmp_path: Path, sound: Sound, **asked: object) -> HeardTake:
    return hear(write(tmp_path / "take.wav", sound), **asked)  # type: ignore[arg-type]


# --- by construction ---------------------------------------------------------------------


def test_a_scale_is_heard_note_by_note_where_it_is(tmp_path: Path) -> None:
    found = heard(tmp_path, played(SCALE, 3.2)).notes
    assert [note.midi for note in found] == [midi for _, _, midi in SCALE]
    late = [note.onset_s - onset for note, (onset, _, _) in zip(found, SCALE, strict=True)]
    assert np.abs(late).max() < 0.03
    assert max(abs(note.cents) for note in found) < 8
    assert min(note.certainty for note in found) > 0.8


@pytest.mark.sampled
@pytest.mark.parametrize("midi", range(38, 95, 4))
def test_every_register_is_heard(tmp_path: Path, midi: int) -> None:
    notes = [(0.3, 0.35, midi), (0.7, 0.35, midi + 2), (1.1, 0.35, midi)]
    found = heard(tmp_path, played(notes, 1.8)).notes
    assert [note.midi for note in found] == [midi, midi + 2, midi]


def test_a_repeated_note_is_heard_each_time(tmp_path: Path) -> None:
    notes = [(0.3 + 0.2 * i, 0.18, 67) for i in range(8)]
    assert len(heard(tmp_path, played(notes, 2.2)).notes) == 8


@pytest.mark.slow
def test_lengths_and_levels_are_those_of_the_notes(tmp_path: Path) -> None:
    found = heard(tmp_path, played([(0.3, 0.2, 64), (1.0, 0.8, 60)], 2.2)).notes
    assert [round(note.offset_s - note.onset_s, 1) for note in found] == [0.2, 0.8]
    quiet = heard(tmp_path, 0.1 * played([(0.3, 0.2, 64), (1.0, 0.8, 60)], 2.2)).notes
    for one, other in zip(found, quiet, strict=True):
        assert one.level_db - other.level_db == pytest.approx(20, abs=0.5)


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize("cents", [-45, -20, 15, 45])
def test_a_player_who_is_out_of_tune_is_heard_in_his_own_tuning(tmp_path: Path, cents: int) -> None:
    moved = [(onset, length, midi + cents / 100) for onset, length, midi in SCALE]
    found = heard(tmp_path, played(moved, 3.2))
    assert [note.midi for note in found.notes] == [midi for _, _, midi in SCALE]
    assert found.tuning_cents == pytest.approx(cents, abs=6)
    assert np.median([abs(note.cents) for note in found.notes]) < 6


def test_the_range_of_the_player_guards_against_a_wrong_octave(tmp_path: Path) -> None:
    found = heard(tmp_path, played(SCALE, 3.2), low_midi=60, high_midi=66).notes
    assert {note.midi for note in found} <= set(range(60, 67))


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize("rate", [8_000, 11_025, 22_050, 44_100, 48_000, 96_000])
@pytest.mark.parametrize("channels", [1, 2])
def test_any_rate_and_number_of_channels_gives_the_same_notes(
    tmp_path: Path, rate: int, channels: int
) -> None:
    sound = played(SCALE, 3.2, rate=rate)
    path = write(tmp_path / "take.wav", sound, rate=rate, channels=channels)
    found = hear(path).notes
    assert [note.midi for note in found] == [midi for _, _, midi in SCALE]
    assert abs(np.median([n.onset_s - s[0] for n, s in zip(found, SCALE, strict=True)])) < 0.015


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize("suffix", ["flac", "ogg", "mp3", "aiff"])
def test_other_containers_give_the_same_notes(tmp_path: Path, suffix: str) -> None:
    path = write(tmp_path / f"take.{suffix}", played(SCALE, 3.2, rate=44_100), rate=44_100)
    assert [note.midi for note in hear(path).notes] == [midi for _, _, midi in SCALE]


@pytest.mark.slow
def test_the_same_file_gives_the_same_answer(tmp_path: Path) -> None:
    sound = played(SCALE, 3.2)
    assert heard(tmp_path, sound) == heard(tmp_path, sound)


# --- analytic ------------------------------------------------------------------------------


def test_a_vibrato_of_forty_cents_is_one_note_at_its_middle(tmp_path: Path) -> None:
    time = np.arange(2 * RATE) / RATE
    sound = np.concatenate([np.zeros(4800), tone(69 + 0.4 * np.sin(2 * np.pi * 5.5 * time), 2.0)])
    found = heard(tmp_path, sound).notes
    assert [note.midi for note in found] == [69]
    assert abs(found[0].cents) < 10


def test_a_scoop_from_two_semitones_below_is_one_note(tmp_path: Path) -> None:
    time = np.arange(round(0.8 * RATE)) / RATE
    sound = np.concatenate([np.zeros(4800), tone(67 - 2 * np.exp(-time / 0.03), 0.8)])
    found = heard(tmp_path, sound).notes
    assert [note.midi for note in found] == [67]
    assert found[0].onset_s == pytest.approx(0.3, abs=0.03)


@pytest.mark.slow
def test_a_slow_chirp_is_heard_at_every_semitone_that_it_passes(tmp_path: Path) -> None:
    time = np.arange(6 * RATE) / RATE
    found = heard(tmp_path, tone(60 + time, 6.0)).notes
    assert [note.midi for note in found] == sorted({note.midi for note in found})
    assert {61, 62, 63, 64, 65} <= {note.midi for note in found}


# --- with the backing ------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("delay_s", [-2.5, 0.137, 3.0])
@pytest.mark.parametrize("leak_db", [-25, -10])
def test_the_delay_is_found_to_a_millisecond(tmp_path: Path, delay_s: float, leak_db: int) -> None:
    line = played([(0.5 * i + 0.4, 0.4, 60 + 3 * i % 12) for i in range(20)], 12.0)
    under = band(15.0)
    late = np.concatenate([np.zeros(max(0, round(delay_s * RATE))), under])
    late = late[max(0, -round(delay_s * RATE)) :][: len(line)]
    late *= np.sqrt(np.mean(line**2) / np.mean(under**2)) * 10 ** (leak_db / 20)
    backing = write(tmp_path / "backing.wav", under)
    found = heard(tmp_path, line + late, backing=backing)
    assert found.delay_s == pytest.approx(delay_s, abs=0.001)
    onsets = [note.onset_s for note in found.notes]
    for i in range(20):
        assert min(abs(onset - 0.5 * i - 0.4) for onset in onsets) < 0.03
    assert len(onsets) <= 21  # a soft low note of the backing may pass for the player's
    if leak_db == -10:
        assert found.leak_db == pytest.approx(leak_db, abs=3)


@pytest.mark.slow
def test_a_backing_that_is_not_there_is_said_to_be_missing(tmp_path: Path) -> None:
    backing = write(tmp_path / "backing.wav", band(3.2))
    found = heard(tmp_path, played(SCALE, 3.2), backing=backing)
    assert found.delay_s is None
    assert [notice.trouble for notice in found.notices] == [Trouble.BACKING_ABSENT]


@pytest.mark.slow
def test_a_take_without_its_backing_is_heard_as_if_none_were_named(tmp_path: Path) -> None:
    backing = write(tmp_path / "backing.wav", band(30.0))
    for seed, room in enumerate((np.asarray, in_hall)):
        sound = 0.3 * room(solo(55, seed))
        alone, accompanied = heard(tmp_path, sound), heard(tmp_path, sound, backing=backing)
        assert accompanied.notes == alone.notes
        assert (accompanied.rate_ratio, accompanied.delay_s, accompanied.leak_db) == (1, None, None)


@pytest.mark.slow
def test_equal_choruses_are_told(tmp_path: Path) -> None:
    under = np.tile(band(4.5)[: 4 * RATE], 5)
    take = 0.5 * played(SCALE * 2, 6.0) + 0.2 * under[9 * RATE : 15 * RATE]
    found = heard(tmp_path, take, backing=write(tmp_path / "band.wav", under))
    assert found.delay_modulo_s == pytest.approx(4, abs=0.001)
    assert found.notices == (
        (
            Trouble.BACKING_REPEATS,
            "band.wav sounds alike every 4.00 s as far as it is in the take: which time through it "
            "is, is not known",
        ),
    )
    assert found.delay_s is not None
    assert (found.delay_s + 11) % 4 == pytest.approx(2, abs=0.001)


@pytest.mark.slow
def test_times_are_those_of_the_clock_of_the_backing(tmp_path: Path) -> None:
    """A device that counts a ten-thousandth too fast: at the end all is 4 ms late."""
    notes = [(1.0 * i + 0.4, 0.8, 60 + 3 * i % 12) for i in range(40)]
    under = band(41.0)
    take = played(notes, 41.0) + 0.3 * under
    places = np.arange(0, len(take) - 1, 1 / 1.0001)
    slow = np.interp(places, np.arange(len(take)), take)
    found = heard(tmp_path, slow, backing=write(tmp_path / "backing.wav", under))
    assert found.rate_ratio == pytest.approx(1.0001, abs=1e-5)
    assert found.length_s == pytest.approx(41.0, abs=0.001)
    assert found.notices == ()


@pytest.mark.slow
def test_a_wrong_rate_is_known_by_the_backing(tmp_path: Path) -> None:
    """48 kHz sound in a file that says 44.1: a semitone and a half too low and slow."""
    from fractions import Fraction

    import av

    line, under = played(SCALE * 2, 12.0) + 0.3 * band(12.0), band(12.0)
    resampler = av.AudioResampler(format="fltp", layout="mono", rate=48_000)
    frame = av.AudioFrame.from_ndarray(line[None].astype(np.float32), "fltp", "mono")
    frame.sample_rate, frame.time_base = RATE, Fraction(1, RATE)
    pieces = [
        each.to_ndarray()[0] for each in (*resampler.resample(frame), *resampler.resample(None))
    ]
    path = write(tmp_path / "take.wav", np.concatenate(pieces), rate=44_100)
    found = hear(path, backing=write(tmp_path / "backing.wav", under))
    assert found.rate_ratio == pytest.approx(48_000 / 44_100)
    assert found.delay_s == pytest.approx(0, abs=0.001)
    assert found.length_s == pytest.approx(12, abs=0.05)
    assert {note.midi for note in found.notes} == {midi for _, _, midi in SCALE}


# --- what cannot be heard ----------------------------------------------------------------------


def test_silence_is_said_to_be_silence(tmp_path: Path) -> None:
    with pytest.raises(TakeError, match=r"take\.wav: it is silent"):
        heard(tmp_path, np.zeros(RATE))


def test_a_click_of_a_file_is_too_short(tmp_path: Path) -> None:
    with pytest.raises(TakeError, match="too short"):
        heard(tmp_path, tone(60, 0.05))


def test_a_file_that_is_not_there_or_no_sound_is_one_line(tmp_path: Path) -> None:
    with pytest.raises(TakeError, match=r"gone\.wav: there is no such file"):
        hear(tmp_path / "gone.wav")
    text = tmp_path / "text.wav"
    text.write_text("no sound")
    with pytest.raises(TakeError, match=r"text\.wav: it is not a recording"):
        hear(text)
    with pytest.raises(TakeError, match="folder"):
        hear(tmp_path)


@pytest.mark.slow
def test_clipping_is_told(tmp_path: Path) -> None:
    found = heard(tmp_path, np.clip(8 * played(SCALE, 3.2), -1, 1))
    assert any("clipped" in notice.text for notice in found.notices)


def solo(low: int, seed: int) -> Sound:
    """A line of its own."""
    rng = np.random.default_rng(seed)
    return played(
        [(0.3 * i + 0.07 * (low % 4), 0.28, low + int(rng.integers(0, 20))) for i in range(12)], 4.4
    )


def in_hall(sound: Sound, seed: int = 3) -> Sound:
    """In a room that rings for a second and is as loud as the player."""
    time = np.arange(RATE) / RATE
    tail = np.random.default_rng(seed).normal(size=RATE) * np.exp(-6.9 * time)
    size = len(sound) + RATE
    ringing = np.fft.irfft(np.fft.rfft(sound, size) * np.fft.rfft(tail, size), size)[: len(sound)]
    return np.asarray(sound + ringing * np.std(sound) / np.std(ringing))


@pytest.mark.slow
@pytest.mark.parametrize("count", [2, 3, 4])
def test_several_voices_at_once_are_told(tmp_path: Path, count: int) -> None:
    voices = [solo(41 + 5 * low, low) for low in range(count)]
    for room in (np.asarray, in_hall):
        found = heard(tmp_path, 0.3 * room(np.sum(voices, axis=0)))
        assert any("several notes" in notice.text for notice in found.notices)


@pytest.mark.slow
def test_one_voice_in_a_ringing_room_is_one(tmp_path: Path) -> None:
    for low in range(4):
        assert heard(tmp_path, 0.3 * in_hall(solo(41 + 5 * low, low))).notices == ()


@pytest.mark.slow
def test_what_is_known_of_the_beginning_is_not_looked_at_again(tmp_path: Path) -> None:
    sound = Recording(write(tmp_path / "take.wav", np.tile(played(SCALE, 3.2), 8)))
    whole = Stretches(sound).stretch(0, 25 * RATE)
    level = level_of(whole)
    once, begun = frame_estimates(whole, level), frame_estimates(whole, level, most=1200)
    again = frame_estimates(whole, level, begun=begun)
    assert begun.frames == 1200
    assert again.frames == once.frames
    assert np.array_equal(again.pitch[:1200], begun.pitch)
    for one, other in ((once.pitch, again.pitch), (once.onset, again.onset)):
        assert np.abs(np.exp(one) - np.exp(other)).max() < 1e-3


def test_noise_alone_has_no_notes(tmp_path: Path) -> None:
    noise = 0.1 * np.random.default_rng(3).normal(size=3 * RATE)
    found = heard(tmp_path, noise)
    assert len(found.notes) <= 1
    assert not found.notes or found.notes[0].certainty < 0.8


def test_a_file_that_breaks_off_is_heard_as_far_as_it_goes(tmp_path: Path) -> None:
    whole = write(tmp_path / "whole.flac", played(SCALE, 3.2)).read_bytes()
    broken = tmp_path / "broken.flac"
    broken.write_bytes(whole[: len(whole) * 2 // 3])
    assert [note.midi for note in hear(broken).notes][:3] == [60, 62, 64]


# --- long takes --------------------------------------------------------------------------------


@pytest.mark.slow
def test_pieces_join_without_a_note_lost_or_doubled(tmp_path: Path) -> None:
    """A note every half second through two borders between pieces, one over each border."""
    notes = [(0.25 + 0.5 * i, 0.45, 60 + i % 5) for i in range(200)]
    said: list[float] = []
    found = heard(tmp_path, played(notes, 100.5), progress=said.append)
    assert [note.midi for note in found.notes] == [midi for _, _, midi in notes]
    assert said == sorted(said)
    assert said[-1] == 1.0


@pytest.mark.slow
def test_memory_does_not_grow_with_the_take(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What Python and numpy hold at most, for 24 seconds and for 48: neither is kept whole.

    Pieces, and what is kept of a short recording, are an eighth as long here as else.
    """
    monkeypatch.setattr(transcription, "PIECE_S", 7.5)
    monkeypatch.setattr(kept_recording, "KEPT_S", 15.0)
    hear(write(tmp_path / "first.wav", played(SCALE, 4.0)))  # loads what stays
    peaks = []
    for times in (6, 12):
        path = write(tmp_path / f"{times}.wav", np.tile(played(SCALE, 4.0), times))
        tracemalloc.start()
        hear(path)
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert peaks[1] < 1.085 * peaks[0]
