"""Every format: the same frames back in other readers, the facts with them, the same bytes.

References: libav by PyAV and libsndfile by soundfile decode what is written; a browser does
where one is installed (`tests/render/test_browser.py`).
"""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import av
import numpy as np
import pytest
import soundfile

from halfstep.errors import BriefError
from halfstep.listen.audio import RATE as HEARD_RATE
from halfstep.listen.audio import Recording
from halfstep.ogg_page import NUMBER, PLACE, page_places
from halfstep.render import sound_file
from halfstep.render.sampler import FRAME_RATE
from halfstep.render.sound_facts import SoundFacts, facts_in, loop_start_s, sound_facts
from halfstep.render.sound_file import (
    PACKET,
    SOUND_FORMATS,
    SoundFormat,
    sound_bytes,
    sound_format,
    write_sound,
)

FRAMES = 100 * PACKET
LOSSLESS = {"wav", "flac"}
FACTS = SoundFacts(
    title="Stairs · 3. Cells",
    part="mix",
    loop_frames=(22_050, 88_200),
    frame_rate=FRAME_RATE,
    choruses=1,
    count_in_beats="4",
    chords=("Cm7", "F7 B♭7 ; =", '"N.C."'),
    meter="4/4",
    tempo_bpm=112.5,
    quarters_a_minute=112.5,
    swing_ratio=1.7,
    style="swing",
)
formats = pytest.mark.parametrize("form", SOUND_FORMATS.values(), ids=SOUND_FORMATS)


def music(frames: int = FRAMES) -> np.ndarray:
    """Two chords, left and right, struck again every half second."""
    time = np.arange(frames) / FRAME_RATE
    fall = np.exp(-6 * (time % 0.5))
    sides = [
        sum(np.sin(2 * np.pi * hz * time) for hz in chord) * fall
        for chord in ((220, 277, 330), (196, 247, 294))
    ]
    return np.rint(6000 * np.stack(sides, axis=1)).astype(np.int16)


SOUND = music()


def by_libav(data: bytes) -> np.ndarray:
    """Samples as float, 1.0 at full scale, shape (frames, 2)."""
    with av.open(io.BytesIO(data)) as container:
        resampler = av.AudioResampler("flt", "stereo", FRAME_RATE)
        frames = [f for part in container.decode(audio=0) for f in resampler.resample(part)]
    return np.concatenate([frame.to_ndarray().reshape(-1, 2) for frame in frames])


@formats
def test_libav_gives_the_same_frames_back(form: SoundFormat) -> None:
    """As many as there were, none of them moved: what is lost lies 15 dB under the sound."""
    heard, played = by_libav(sound_bytes(form, SOUND, FACTS)), SOUND / 32768
    assert heard.shape == played.shape
    losses = {lag: np.square(np.roll(heard, lag, 0) - played).sum() for lag in range(-3, 4)}
    assert min(losses, key=losses.__getitem__) == 0
    assert losses[0] <= (0 if form.name in LOSSLESS else 10**-1.5 * np.square(played).sum())


@pytest.mark.parametrize("name", ["wav", "flac", "ogg", "mp3"])
def test_libsndfile_gives_as_many_frames_back(name: str) -> None:
    data = sound_bytes(SOUND_FORMATS[name], SOUND, FACTS)
    heard, rate = soundfile.read(io.BytesIO(data), dtype="int16")
    assert (heard.shape, rate) == (SOUND.shape, FRAME_RATE)
    assert name not in LOSSLESS or np.array_equal(heard, SOUND)


@formats
def test_our_own_ear_hears_the_sound_where_it_is(form: SoundFormat, tmp_path: Path) -> None:
    """A click is heard at its place, whatever the encoder sets before the first frame."""
    click = np.zeros((FRAMES, 2), np.int16)
    click[50_000:50_040] = 20_000
    path = tmp_path / f"click{form.suffix}"
    write_sound(path, click, FACTS)
    heard = np.concatenate(list(Recording(path).blocks()))
    assert abs(len(heard) / HEARD_RATE - FRAMES / FRAME_RATE) < 0.005
    assert np.abs(heard).argmax() / HEARD_RATE == pytest.approx(50_020 / FRAME_RATE, abs=0.001)


@formats
def test_the_same_sound_gives_the_same_bytes(
    form: SoundFormat, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever the clock and the machine's chance say."""
    first = sound_bytes(form, SOUND, FACTS)
    monkeypatch.setattr("time.time", lambda: 4e9)
    assert sound_bytes(form, SOUND, FACTS) == first


@pytest.mark.sampled
@formats
def test_a_file_says_what_it_is(form: SoundFormat, tmp_path: Path) -> None:
    path = tmp_path / f"a{form.suffix}"
    write_sound(path, SOUND, FACTS)
    assert path.read_bytes() == sound_bytes(form, SOUND, FACTS)
    assert sound_facts(path) == FACTS
    assert loop_start_s(path) == 0.5
    assert [left.name for left in tmp_path.iterdir()] == [path.name]


@formats
@pytest.mark.parametrize("letters", [30_000, 150_000])
def test_a_file_holds_the_print_of_a_long_sound(
    form: SoundFormat, letters: int, tmp_path: Path
) -> None:
    """Three minutes of it and fifteen; a page of Ogg has 65 kB at most (RFC 3533)."""
    facts = replace(FACTS, sound_print="halfstep" * (letters // 8))
    path = tmp_path / f"a{form.suffix}"
    write_sound(path, SOUND, facts)
    assert sound_facts(path) == facts
    plain = sound_bytes(form, SOUND, FACTS)
    assert np.array_equal(by_libav(path.read_bytes()), by_libav(plain))
    assert len(path.read_bytes()) - len(plain) < 1.02 * letters + 100


@formats
def test_players_are_shown_the_title(form: SoundFormat) -> None:
    with av.open(io.BytesIO(sound_bytes(form, SOUND[:4000], FACTS))) as container:
        tags = {**container.metadata, **container.streams.audio[0].metadata}
    assert {name.lower(): text for name, text in tags.items()}["title"] == FACTS.title


@pytest.mark.parametrize("name", ["m4a", "mp3", "ogg"])
def test_a_minute_is_small_enough_to_send(name: str) -> None:
    """An AAC file has 112 kbit/s at most, the others 136: a megabyte a minute."""
    seconds = FRAMES / FRAME_RATE
    size = len(sound_bytes(SOUND_FORMATS[name], SOUND, replace(FACTS, chords=())))
    assert size * 8 / seconds < (112_000 if name == "m4a" else 136_000)


@pytest.mark.slow
def test_a_long_sound_as_ogg_ends_no_process() -> None:
    """More than fifty seconds in one call do, in libsndfile 1.2."""
    long = np.zeros((60 * FRAME_RATE, 2), np.int16)
    data = sound_bytes(SOUND_FORMATS["ogg"], long, FACTS)
    assert soundfile.info(io.BytesIO(data)).frames == len(long)


@pytest.mark.parametrize("frames", [1, 500, 20_000, FRAMES])
def test_the_first_page_with_sound_of_an_ogg_file_is_not_its_last(frames: int) -> None:
    """Libav, and browsers by it, take the place of the first frame from no last page (its source).

    A first packet gives no frame (Vorbis I, 1.3.2, from memory), so that its page ends at naught.
    """
    data = sound_bytes(SOUND_FORMATS["ogg"], SOUND[:frames], FACTS)
    pages = [data[start:end] for start, end in page_places(data)]
    assert b"".join(pages) == data
    assert [int.from_bytes(page[NUMBER], "little") for page in pages] == list(range(len(pages)))
    assert [page[5] for page in pages] == [2, *[0] * (len(pages) - 2), 4]
    ends = [int.from_bytes(page[PLACE], "little") for page in pages]
    assert ends[:2] == [0, 0]
    assert ends[-2] > 0 or (ends[-3:] == [0, 0, frames] and len(pages) == 4)
    assert len(by_libav(data)) == len(soundfile.read(io.BytesIO(data))[0]) == ends[-1] == frames


# What is no fact of ours


@pytest.mark.parametrize(
    "comment",
    [
        "", "a song", "[]", "{}", "null", '{"format":"halfstep-sound","version":1}',
        FACTS.comment.replace('"version":1', '"version":9'),
        FACTS.comment.replace("[22050,88200]", "[22050]"),
        FACTS.comment.replace("[22050,88200]", '"ab"'),
        FACTS.comment.replace('"frame_rate":44100', '"frame_rate":"fast"'),
        "[" * 100_000,
    ],
)  # fmt: skip
def test_a_comment_of_others_is_passed_over(comment: str) -> None:
    assert facts_in(comment) is None


def test_facts_come_back_from_their_comment() -> None:
    assert facts_in(FACTS.comment) == FACTS
    assert "\n" not in FACTS.comment


def test_a_file_of_others_says_nothing(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "a.flac", SOUND, FRAME_RATE)
    (tmp_path / "b.m4a").write_bytes(b"no sound")
    assert sound_facts(tmp_path / "a.flac") is None
    assert loop_start_s(tmp_path / "b.m4a") is None
    with pytest.raises(FileNotFoundError):
        loop_start_s(tmp_path / "c.m4a")


# Which format


@pytest.mark.parametrize("name", ["m4a", "M4A", ".mp3", " flac "])
def test_a_format_is_called_by_its_name(name: str) -> None:
    assert sound_format(name).name in name.lower()


def test_another_name_is_answered_with_those_there_are() -> None:
    with pytest.raises(BriefError, match=r"^sound_format 'oog': choose from m4a, mp3, .*ogg"):
        sound_format("oog")


def test_m4a_is_what_is_written_where_nothing_is_asked() -> None:
    assert sound_file.DEFAULT_FORMAT is SOUND_FORMATS["m4a"]
