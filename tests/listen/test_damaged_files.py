"""Files that lack a part: what is left is heard where it lies, and what lacks is said.

Each is damaged by the tests themselves; FFmpeg (libav) writes what soundfile does not.
"""

from __future__ import annotations

import random
from pathlib import Path

import av
import numpy as np
import pytest
import soundfile
from tones import Sound, played

from halfstep.errors import TakeError
from halfstep.listen.audio import RATE, Damage, Recording
from halfstep.listen.ogg_pages import mended_pages
from halfstep.listen.transcription import hear
from halfstep.ogg_page import page_sum

FILE_RATE = 44_100
LINE = [(0.3 + 0.4 * i, 0.35, 60 + step) for i, step in enumerate((0, 4, 7, 11, 12, 9, 5, 2) * 3)]
LENGTH_S = 10.2
WHOLE = played(LINE, LENGTH_S, rate=FILE_RATE)
FORMS = ("mp3", "m4a", "aac", "ogg", "opus", "flac", "wav", "webm")
CODECS = {"m4a": "aac", "aac": "aac", "opus": "libopus", "webm": "libopus", "mp3": "libmp3lame"}
CONTAINERS = {"aac": "adts", "opus": "ogg"}


def encoded(path: Path, sound: Sound = WHOLE) -> Path:
    form = path.suffix[1:]
    if form not in CODECS:
        soundfile.write(path, sound, FILE_RATE)
        return path
    with av.open(str(path), "w", format=CONTAINERS.get(form)) as container:
        stream = container.add_stream(
            CODECS[form], rate=48_000 if "opus" in CODECS[form] else FILE_RATE, layout="mono"
        )
        stream.bit_rate = 128_000
        frame = av.AudioFrame.from_ndarray(sound[None].astype(np.float32), "fltp", "mono")
        frame.sample_rate = FILE_RATE
        resampler = av.AudioResampler(stream.format.name, "mono", stream.rate)
        fifo = av.AudioFifo()
        for part in (*resampler.resample(frame), *resampler.resample(None)):
            part.pts = None
            fifo.write(part)
        for part in fifo.read_many(stream.codec_context.frame_size):
            container.mux(stream.encode(part))
        rest = fifo.read(partial=True)
        container.mux([*(stream.encode(rest) if rest else ()), *stream.encode(None)])
    return path


def damaged(
    path: Path, seed: int, *, wrong: int = 60, begin: float = 0.15, end: float = 0.95
) -> Path:
    """The file with some of its bytes changed, none in its head or its table of contents."""
    content = bytearray(path.read_bytes())
    rng = random.Random(seed)
    for _ in range(wrong):
        content[rng.randrange(round(begin * len(content)), round(end * len(content)))] = (
            rng.randrange(256)
        )
    path.write_bytes(content)
    return path


def cut(path: Path, share: float = 0.6) -> Path:
    path.write_bytes(path.read_bytes()[: round(share * path.stat().st_size)])
    return path


def length_s(path: Path, damage: Damage | None = None) -> float:
    return sum(map(len, Recording(path).blocks(damage))) / RATE


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize("form", FORMS)
def test_a_whole_file_is_not_called_damaged(tmp_path: Path, form: str) -> None:
    damage = Damage()
    assert length_s(encoded(tmp_path / f"take.{form}"), damage) == pytest.approx(LENGTH_S, abs=0.06)
    assert list(damage.notices()) == []


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize("form", ["mp3", "m4a", "opus", "flac", "aac"])
@pytest.mark.parametrize("seed", range(3))
def test_wrong_bytes_cost_no_more_than_their_place(tmp_path: Path, form: str, seed: int) -> None:
    path = damaged(encoded(tmp_path / f"take.{form}"), seed)
    no_clock = form == "aac"
    assert length_s(path) == pytest.approx(LENGTH_S, abs=0.6 if no_clock else 0.15)


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize("seed", range(4))
def test_a_damaged_table_of_contents_costs_what_it_listed(tmp_path: Path, seed: int) -> None:
    path = damaged(encoded(tmp_path / "take.m4a"), seed, wrong=4, begin=0.985, end=0.995)
    damage = Damage()
    read_s = length_s(path, damage)
    assert damage.gaps or damage.end_s or read_s == pytest.approx(LENGTH_S, abs=0.15)


@pytest.mark.slow
@pytest.mark.parametrize("form", ["m4a", "aac", "opus", "flac"])
def test_what_lacks_is_said_and_where(tmp_path: Path, form: str) -> None:
    path = damaged(encoded(tmp_path / f"take.{form}"), 0)
    notices = hear(path).notices
    assert any("the file is damaged" in notice.text for notice in notices)
    if form != "opus":
        damage = Damage()
        length_s(path, damage)
        assert 0.1 < sum(gap.length_s for gap in damage.gaps) < 3


@pytest.mark.slow
@pytest.mark.parametrize("form", ["mp3", "m4a"])
def test_notes_after_a_gap_are_heard_where_they_were_played(tmp_path: Path, form: str) -> None:
    path = damaged(encoded(tmp_path / f"take.{form}"), 1, wrong=12)
    notes = hear(path).notes
    near = [
        any(abs(note.onset_s - onset_s) < 0.04 and note.midi == midi for note in notes)
        for onset_s, _, midi in LINE
    ]
    assert np.mean(near[-8:]) >= 0.75
    assert np.mean(near) >= 0.75


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize("form", [form for form in FORMS if form != "m4a"])
def test_a_file_that_breaks_off_says_so(tmp_path: Path, form: str) -> None:
    path = cut(encoded(tmp_path / f"take.{form}"))
    damage = Damage()
    read_s = length_s(path, damage)
    assert damage.end_s == pytest.approx(read_s, abs=0.1)
    assert 0.3 * LENGTH_S < read_s < 0.7 * LENGTH_S
    assert any("breaks off at" in notice.text for notice in damage.notices())


@pytest.mark.slow
def test_a_film_without_its_index_says_what_it_lacks(tmp_path: Path) -> None:
    with pytest.raises(TakeError, match="breaks off before its table of contents"):
        hear(cut(encoded(tmp_path / "take.m4a")))


def test_a_file_whose_head_is_wrong_is_refused_in_one_line(tmp_path: Path) -> None:
    path = damaged(encoded(tmp_path / "take.ogg"), 0, wrong=2000, begin=0.005)
    with pytest.raises(TakeError) as refusal:
        hear(path)
    assert "\n" not in str(refusal.value)


@pytest.mark.parametrize("length", [0, 0xFFFFFFFF])
def test_a_wav_file_written_without_knowing_its_length_is_whole(
    tmp_path: Path, length: int
) -> None:
    path = encoded(tmp_path / "take.wav")
    content = bytearray(path.read_bytes())
    place = content.index(b"data") + 4
    content[4:8] = content[place : place + 4] = length.to_bytes(4, "little")
    path.write_bytes(content)
    damage = Damage()
    list(Recording(path).blocks(damage))
    assert damage.end_s is None


@pytest.mark.slow
def test_the_sum_of_a_page_is_the_one_that_writers_of_ogg_leave(tmp_path: Path) -> None:
    page = bytearray(encoded(tmp_path / "take.ogg").read_bytes()[:58])
    assert page[:4] == b"OggS"
    assert page[26:28] == bytes([1, 30])
    stored = int.from_bytes(page[22:26], "little")
    page[22:26] = bytes(4)
    assert page_sum(page) == stored


def test_only_wrong_pages_are_mended(tmp_path: Path) -> None:
    path = encoded(tmp_path / "take.opus")
    assert mended_pages(path) is None
    content = bytearray(path.read_bytes())
    right = bytes(content)
    content[-1000] ^= 255
    path.write_bytes(content)
    pages = mended_pages(path)
    assert pages is not None
    assert pages.mended == 1
    assert sum(one != two for one, two in zip(pages.data, right, strict=True)) <= 5
