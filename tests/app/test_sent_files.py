"""Files that were sent are looked into where they can do no harm, whatever they say they are."""

from __future__ import annotations

import io
import sys
import zipfile
from collections.abc import Callable, Iterator
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import av
import numpy as np
import pytest
import soundfile

from halfstep.app.sent_files import FileReaders, ReadingBounds
from halfstep.errors import HalfstepError, ReadError, TakeError

SHORT = ReadingBounds(longest_s=20.0)
"""A minute is too long here, so that the files are small."""
GREEDY = ReadingBounds(work_s=1.0, wait_s=2.0, memory_mb=256)
RATE = 8000


@pytest.fixture(scope="module")
def readers() -> Iterator[FileReaders]:
    made = FileReaders(SHORT)
    yield made
    made.close()


@pytest.fixture(scope="module")
def greedy() -> Iterator[FileReaders]:
    made = FileReaders(GREEDY, "app.greedy_readers")
    sys.path.insert(0, str(Path(__file__).parents[1]))
    yield made
    sys.path.pop(0)
    made.close()


def silence(form: str, length_s: float) -> bytes:
    file = io.BytesIO()
    soundfile.write(file, np.zeros(round(length_s * RATE), np.int16), RATE, format=form)
    return file.getvalue()


def states_ten_hours(flac: bytes) -> bytes:
    """The same, with 10 h in its head: 36 bits of the first block (RFC 9639, 8.2, from memory)."""
    total = 10 * 3600 * RATE
    head = bytearray(flac)
    head[21] = head[21] & 0xF0 | total >> 32
    head[22:26] = (total & 0xFFFFFFFF).to_bytes(4, "big")
    return bytes(head)


def states_nothing(flac: bytes) -> bytes:
    """The same, with no length in its head."""
    head = bytearray(flac)
    head[21] &= 0xF0
    head[22:26] = bytes(4)
    return bytes(head)


def lying_wave(size: int, rate: int = RATE) -> bytes:
    """A second of sound whose head says another size, or rate."""
    file = bytearray(silence("WAV", 1.0))
    file[40:44] = size.to_bytes(4, "little")
    file[24:28] = rate.to_bytes(4, "little")
    return bytes(file)


def film_sound_ten_hours_off() -> bytes:
    """Two frames of AAC, the second ten hours behind the first."""
    file = io.BytesIO()
    with av.open(file, "w", format="mp4") as container:
        stream = container.add_stream("aac", rate=RATE, layout="mono")
        for first_s in (0, 36_000):
            frame = av.AudioFrame.from_ndarray(np.zeros((1, 1024), np.float32), "fltp", "mono")
            frame.sample_rate, frame.time_base = RATE, Fraction(1, RATE)
            frame.pts = first_s * RATE
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return file.getvalue()


def zipped(**entries: bytes) -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in entries.items():
            archive.writestr(f"{name}.xml", data)
    return file.getvalue()


def laughs() -> bytes:
    """Nine entities, each ten times the one before."""
    entities = "".join(
        f'<!ENTITY {name} "{f"&{before};" * 10}">' for before, name in pairwise("abcdefghi")
    )
    return f'<!DOCTYPE s [<!ENTITY a "ha">{entities}]><score-partwise>&i;</score-partwise>'.encode()


RECORDINGS: dict[str, tuple[Callable[[], bytes], str]] = {
    "states.flac": (lambda: states_ten_hours(silence("FLAC", 1.0)), "longer than"),
    "hides.flac": (lambda: states_nothing(silence("FLAC", 60.0)), "longer than"),
    "long.ogg": (lambda: silence("OGG", 60.0), "longer than"),
    "long.mp3": (lambda: silence("MP3", 60.0), "longer than"),
    "far.mp4": (film_sound_ten_hours_off, "longer than"),
    "rate.wav": (lambda: lying_wave(2 * RATE, rate=2_000_000_000), "samples a second"),
    "score.wav": (laughs, "not a recording"),
    "empty.mp3": (lambda: b"", "not a recording"),
    "zip.m4a": (lambda: zipped(a=bytes(50_000_000)), "not a recording"),
    "playlist.wav": (lambda: b"#EXTM3U\n#EXTINF:9,\n/etc/hostname\n", "not a recording"),
}
CHARTS: dict[str, tuple[Callable[[], bytes], str]] = {
    "laughs.musicxml": (laughs, "entities"),
    "bomb.mxl": (lambda: zipped(score=bytes(19_000_000)), "expands beyond measure"),
    "sound.mxl": (lambda: silence("WAV", 1.0), "XML"),
    "deep.json": (lambda: b"[" * 200_000, "stored as .json"),
}


@pytest.mark.slow
@pytest.mark.parametrize("name", RECORDINGS)
def test_a_recording_that_is_none_or_a_bomb_is_refused_in_one_line(
    readers: FileReaders, tmp_path: Path, name: str
) -> None:
    make, said = RECORDINGS[name]
    (tmp_path / name).write_bytes(make())
    with pytest.raises(TakeError, match=said) as refused:
        readers.demand_recording(tmp_path / name)
    assert str(refused.value).startswith(name)
    assert "\n" not in str(refused.value)


@pytest.mark.slow
@pytest.mark.parametrize("name", CHARTS)
def test_a_chart_that_is_none_or_a_bomb_is_refused_in_one_line(
    readers: FileReaders, tmp_path: Path, name: str
) -> None:
    make, said = CHARTS[name]
    (tmp_path / name).write_bytes(make())
    with pytest.raises(ReadError, match=said) as refused:
        readers.chart(tmp_path / name)
    assert "\n" not in str(refused.value)


@pytest.mark.slow
def test_what_a_file_is_called_does_not_matter(readers: FileReaders, tmp_path: Path) -> None:
    for name, form in (("take.txt", "WAV"), ("take.mp3", "FLAC"), ("take", "OGG")):
        (tmp_path / name).write_bytes(silence(form, 1.0))
        readers.demand_recording(tmp_path / name)


def test_a_head_that_promises_more_than_there_is_costs_nothing(
    readers: FileReaders, tmp_path: Path
) -> None:
    """A browser that is stopped in its midst leaves one: what there is is heard."""
    (tmp_path / "cut.wav").write_bytes(lying_wave(0xFFFFFF00))
    readers.demand_recording(tmp_path / "cut.wav")


def test_a_chart_comes_back_as_it_was_read_with_its_place_where_it_could_not_be(
    readers: FileReaders, tmp_path: Path
) -> None:
    (tmp_path / "road.txt").write_text("title: Road\n| C6 | G7 |\n")
    content = readers.chart(tmp_path / "road.txt")
    assert (content.title, "C6" in content.text) == ("Road", True)
    (tmp_path / "road.txt").write_text("| C6 | Zz7 |\n")
    with pytest.raises(ReadError) as refused:
        readers.chart(tmp_path / "road.txt")
    assert refused.value.line == 1
    assert refused.value.source == "road.txt"


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="the bounds are those of POSIX")
@pytest.mark.parametrize("name", ["spins", "waits", "hoards", "dies"])
def test_reading_that_takes_too_much_is_ended_and_the_next_file_is_read(
    greedy: FileReaders, tmp_path: Path, name: str
) -> None:
    with pytest.raises(ReadError, match="more time or memory than any music needs"):
        greedy.chart(tmp_path / name)
    assert greedy.chart(tmp_path / "well").title == "well"


@pytest.mark.slow
def test_what_a_library_prints_is_no_answer(greedy: FileReaders, tmp_path: Path) -> None:
    assert greedy.chart(tmp_path / "chatters").title == "chatters"
    with pytest.raises(RuntimeError, match="ValueError: a fault of ours"):
        greedy.chart(tmp_path / "fails")


def test_every_error_is_one_of_ours(readers: FileReaders, tmp_path: Path) -> None:
    with pytest.raises(HalfstepError, match="no such file"):
        readers.demand_recording(tmp_path / "gone.wav")
