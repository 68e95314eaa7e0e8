"""What a backing says of itself, in any format, and what it is known by where it says nothing."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
import soundfile

import halfstep
from halfstep.errors import BriefError
from halfstep.lesson.sound import with_print
from halfstep.listen.audio import Recording
from halfstep.listen.sound_print import is_print_of
from halfstep.meter import Feel
from halfstep.progression.bars_data import played_chart_data, read_played_chart
from halfstep.progression.chart import spans
from halfstep.render.sound_facts import SoundFacts, sound_facts
from halfstep.render.sound_file import write_sound
from halfstep.services.known_backing import KnownBacking, known_backing
from halfstep.services.take_frame import TakeFrame, frame_of
from typed_charts import read_chart_text

RATE = 44_100
TEXT = "| Dm7 | G7 Db7 | Cmaj7 | A7b9 |"
CHART = read_chart_text(TEXT)


def facts_of(**changes: Any) -> SoundFacts:
    facts = SoundFacts(
        title="Stairs", part="band", loop_frames=(2 * RATE, 10 * RATE), frame_rate=RATE,
        choruses=1, count_in_beats="4", chords=("Dm7",), meter="4/4", tempo_bpm=120.0,
        quarters_a_minute=120.0, swing_ratio=1.9, style="swing", feel="swing",
        chart=played_chart_data(CHART),
    )  # fmt: skip
    return replace(facts, **changes)


def backing_file(path: Path, seed: int = 3, **changes: Any) -> Path:
    """Noise bursts for ten seconds, with the facts of a backing."""
    frames = np.arange(RATE * 10)
    bursts = np.random.default_rng(seed).normal(size=len(frames))
    bursts *= np.exp(-(frames % 22_050) / 2500)
    band = (9000 * bursts / np.abs(bursts).max()).astype(np.int16)
    write_sound(path, np.stack([band, band], axis=1), facts_of(**changes))
    return path


def converted(path: Path, target: Path, codec: str, *, keeps_tags: bool) -> Path:
    """The file in another format, by libav, which keeps the tags that it is told to keep."""
    with av.open(str(path)) as source, av.open(str(target), "w") as copy:
        if keeps_tags:
            copy.metadata.update(source.metadata | dict(source.streams.audio[0].metadata))
        stream = copy.add_stream(codec, rate=RATE)
        resampler = av.AudioResampler("fltp", "stereo", RATE)
        for frame in source.decode(audio=0):
            for part in resampler.resample(frame):
                part.pts = None
                copy.mux(stream.encode(part))
        copy.mux(stream.encode(None))
    return target


CODECS = pytest.mark.parametrize(("suffix", "codec"), [(".mp3", "mp3"), (".m4a", "aac")])


@pytest.mark.slow
@pytest.mark.parametrize("suffix", [".wav", ".flac", ".mp3", ".m4a", ".ogg"])
def test_a_backing_says_chart_tempo_feel_and_where_bar_1_is(tmp_path: Path, suffix: str) -> None:
    backing = known_backing(backing_file(tmp_path / f"band{suffix}"), ())
    assert backing.chart is not None
    assert spans(backing.chart) == spans(CHART)
    assert (backing.chart.title, backing.feel) == ("Stairs", Feel.SWING)
    assert (backing.quarters_a_minute, backing.start_s) == (120, 2)


@pytest.mark.slow
def test_a_file_of_the_program_has_the_print_of_its_sound(tmp_path: Path) -> None:
    """Alone or in a lesson, each part too; what is taken for its print otherwise is none."""
    halfstep.make_backing(TEXT, tmp_path / "alone", tempi="240", choruses=1)
    halfstep.make_lesson(TEXT, tmp_path / "lesson", steps="1", tempo_bpm=240, stems=True)
    names = ("alone/backing", "lesson/backing", "lesson/drums", "lesson/bass")
    for path in (tmp_path / f"{name}.m4a" for name in names):
        backing_print = known_backing(path, ()).sound_print
        assert backing_print is not None
        assert is_print_of(backing_print, Recording(path))


def test_what_is_no_print_in_a_comment_is_passed_over(tmp_path: Path) -> None:
    path = backing_file(tmp_path / "band.wav", sound_print="no print")
    assert known_backing(path, ()) == known_backing(backing_file(tmp_path / "band.wav"), ())


@pytest.mark.slow
@CODECS
def test_a_converted_file_keeps_the_print_of_its_sound(
    tmp_path: Path, suffix: str, codec: str
) -> None:
    path = backing_file(tmp_path / "band.wav")
    samples = np.asarray(soundfile.read(path, dtype="int16")[0])
    facts = sound_facts(path)
    assert facts is not None
    write_sound(path, samples, with_print(facts, samples))
    copy = converted(path, tmp_path / f"copy{suffix}", codec, keeps_tags=True)
    backing_print = known_backing(copy, ()).sound_print
    assert backing_print is not None
    assert is_print_of(backing_print, Recording(copy))


@pytest.mark.slow
@CODECS
def test_a_converted_file_that_kept_its_comment_says_the_same(
    tmp_path: Path, suffix: str, codec: str
) -> None:
    backing = backing_file(tmp_path / "band.wav")
    copy = converted(backing, tmp_path / f"copy{suffix}", codec, keeps_tags=True)
    assert known_backing(copy, ()) == replace(known_backing(backing, ()), path=copy)


@pytest.mark.slow
@CODECS
def test_one_that_lost_it_is_known_by_its_sound(tmp_path: Path, suffix: str, codec: str) -> None:
    (tmp_path / "monday").mkdir()
    backing = backing_file(tmp_path / "monday" / "backing.wav")
    copy = converted(backing, tmp_path / f"copy{suffix}", codec, keeps_tags=False)
    assert sound_facts(copy) is None
    assert known_backing(copy, ()) == KnownBacking(copy)
    known = known_backing(copy, (tmp_path / "monday",))
    assert known.start_s == pytest.approx(2, abs=0.06)  # an encoder may set a little before it
    assert known == replace(known_backing(backing, ()), path=copy, start_s=known.start_s)


@pytest.mark.slow
def test_another_sound_beside_a_lesson_is_not_taken_for_its_backing(tmp_path: Path) -> None:
    (tmp_path / "monday").mkdir()
    backing_file(tmp_path / "monday" / "backing.wav")
    other = backing_file(tmp_path / "other.wav", seed=4)
    copy = converted(other, tmp_path / "copy.mp3", "mp3", keeps_tags=False)
    assert known_backing(copy, (tmp_path / "monday",)) == KnownBacking(copy)


def test_an_older_file_says_where_its_bar_1_is(tmp_path: Path) -> None:
    path = backing_file(tmp_path / "band.wav", chart=None, feel="")
    backing = known_backing(path, ())
    assert (backing.start_s, backing.chart, backing.quarters_a_minute) == (2, None, 120)


@pytest.mark.parametrize(
    "text",
    [
        TEXT,
        "meter: 7/4 2+2+3\n| Cm7 | F7 |",
        "meter: 3/4\n| Am7/G . Bb°7 | Ebmaj7#11 |",
        "| N.C. | C7alt | F#ø7 B7b9b13 |",
    ],
)
def test_a_chart_that_travels_in_a_file_is_the_same(text: str) -> None:
    chart = read_chart_text(text)
    again = read_played_chart(played_chart_data(chart))
    assert spans(again) == spans(chart)
    assert [bar.meter for bar in again.bars] == [bar.meter for bar in chart.bars]


# --- what a take is counted in -------------------------------------------------------------


def frame(backing: KnownBacking | None, chart: str | None = None, **fields: Any) -> TakeFrame:
    given = {"lesson": None, "beside": (), "tempo_bpm": None, "instrument": None}
    return frame_of(chart=chart, backing=backing, **given | fields)


def test_a_take_over_a_backing_needs_neither_chart_nor_tempo() -> None:
    known = KnownBacking(Path("band.mp3"), 2.0, CHART, 96.0, Feel.SWING)
    counted = frame(known)
    assert (counted.chart, counted.quarters_a_minute) == (CHART, 96)
    assert (counted.feel, counted.source) == (Feel.SWING, "band.mp3")
    assert frame(known, TEXT.replace("Db7", "C#7")).quarters_a_minute == 96


@pytest.mark.parametrize(
    ("chart", "fields", "said"),
    [
        (TEXT.replace("Db7", "Ab7"), {}, "bar 2 has D♭7 there and A♭7 in the chart of the take"),
        (TEXT.replace("| Cmaj7 |", "|"), {}, "over a form of 16 quarter notes, the take of 12"),
        (None, {"tempo_bpm": 120.0}, "is at 96 pulses a minute, tempo_bpm says 120"),
    ],
)
def test_what_the_backing_says_otherwise_is_one_line(
    chart: str | None, fields: dict[str, Any], said: str
) -> None:
    known = KnownBacking(Path("band.mp3"), 2.0, CHART, 96.0, Feel.SWING)
    with pytest.raises(BriefError, match=r"^backing band\.mp3") as refused:
        frame(known, chart, **fields)
    assert said in str(refused.value)
    assert "\n" not in str(refused.value)


def test_a_tempo_counts_the_pulse_of_the_chart() -> None:
    """Dotted quarters in 6/8, as wherever a tempo is asked for."""
    six = "meter: 6/8\n| Cm7 | Fm7 |"
    assert frame(None, six, tempo_bpm=70.0).quarters_a_minute == 105
    known = KnownBacking(Path("band.mp3"), 2.0, read_chart_text(six), 105.0, Feel.STRAIGHT)
    assert frame(known, tempo_bpm=70.0).tempo_words == "70"
    with pytest.raises(BriefError, match="at 70 pulses a minute, tempo_bpm says 105"):
        frame(known, tempo_bpm=105.0)


def test_a_backing_that_rises_has_no_tempo_to_count_in() -> None:
    rising = KnownBacking(Path("band.mp3"), 2.0, CHART, None, Feel.SWING, rising=(96.0, 108.0))
    counted = frame(rising)
    assert (counted.quarters_a_minute, counted.rising) == (None, (96.0, 108.0))
    assert counted.tempo_words == "96 to 108"
    assert frame(rising, tempo_bpm=100.0).quarters_a_minute == 100  # that notes are written in
