"""A film as it stands in its file, read back by libav and by a browser."""

from __future__ import annotations

import json
import shutil
import subprocess
from dataclasses import dataclass
from itertools import chain, pairwise
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest

from film_reading import decoded, filmed, heard, request, wedge
from halfstep.lesson.film import FilmPictures
from halfstep.lesson.film_sound import film_sound
from halfstep.lesson.film_timeline import FilmHead, FilmLine, FilmTimeline
from halfstep.render.film_file import FRAMES_A_SECOND
from halfstep.services.make_film import make_film

CHART = "title: Window Seat\n[A] | Am7 D7 | Gmaj7 |\n[B] | Cmaj7 | F#m7b5 B7b9 |"
HALF_A_FRAME_S = 0.5 / FRAMES_A_SECOND


@dataclass(frozen=True)
class Film:
    """A film that was written, and what it was written from."""

    path: Path
    line: FilmLine
    times: FilmTimeline
    pictures: FilmPictures


def written(folder: Path, name: str, **fields: Any) -> Film:
    asked = request(CHART, instrument="alto-sax", **fields)
    path = folder / name
    make_film(asked).write(path)
    return Film(path, *filmed(asked))


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Film:
    """Three choruses at 137, of which none is a whole number of frames."""
    folder = tmp_path_factory.mktemp("film")
    return written(folder, "film.mp4", tempi="137", choruses=3, captions=True)


Marks = list[tuple[float, tuple[int, int] | None]]


def marked(film: Film) -> Marks:
    """At each frame, the head over the wedge."""
    places = []
    for number, line in enumerate(film.pictures.music.lines):
        top = film.pictures.music.top_of(number % 2, number)
        for head, box in line.heads.items():
            places.append(((box.left + box.right) / 2, top + box.bottom, head))
    return [(time_s, _over(wedge(pixels), places)) for time_s, pixels in decoded(film.path)]


def _over(
    at: tuple[float, float] | None, places: list[tuple[float, float, tuple[int, int]]]
) -> tuple[int, int] | None:
    """The head that is nearest over a place."""
    if at is None:
        return None
    over = [place for place in places if abs(place[0] - at[0]) < 4 and place[1] < at[1]]
    return min(over, key=lambda place: at[1] - place[1])[2] if over else None


def lateness(head: FilmHead, frames: Marks) -> list[float]:
    """How late the mark comes to a head, each time that it does so about when that sounds."""
    return [
        time_s - head.start_s
        for (_, before), (time_s, now) in pairwise(frames)
        if now == (head.bar, head.note) != before and abs(time_s - head.start_s) < 0.2
    ]


@pytest.mark.slow
def test_the_mark_comes_to_each_head_with_the_nearest_frame(film: Film) -> None:
    """In the decoded film, from the first head of the first chorus to the last of the third."""
    frames = marked(film)
    for head in film.times.heads:
        (late_s,) = lateness(head, frames)
        assert abs(late_s) <= HALF_A_FRAME_S + 1e-3


@pytest.mark.slow
def test_frames_follow_each_other_evenly_but_at_the_seams(film: Film) -> None:
    """No frame is shown less than half as long as the others, or more than half longer."""
    times = [time_s for time_s, _ in decoded(film.path)]
    gaps = np.diff(times) * FRAMES_A_SECOND
    assert gaps.min() >= 0.5 - 1e-3
    assert gaps.max() <= 1.5 + 1e-3
    assert np.median(gaps) == pytest.approx(1.0, abs=1e-3)


@pytest.mark.slow
def test_sound_and_pictures_begin_and_end_together(film: Film) -> None:
    """The sound is not one sample off, and as long as the film."""
    sound, _ = film_sound(film.line)
    played = heard(film.path)
    assert len(played) == pytest.approx(film.times.length_s * 44_100, abs=1024)
    first = round(film.times.sound_s * 44_100)
    stretch = played[first : first + 3 * 44_100, 0]
    meant = sound[: len(stretch), 0] / 32768
    lags = range(-40, 41)
    fit = [np.dot(np.roll(stretch, -lag)[100:-100], meant[100:-100]) for lag in lags]
    assert lags[int(np.argmax(fit))] == 0


@pytest.mark.slow
def test_it_plays_from_its_first_byte(film: Film) -> None:
    """Where everything is stands before the sound and the pictures."""
    data = film.path.read_bytes()
    assert data.index(b"moov") < data.index(b"mdat")


@pytest.mark.slow
def test_passages_that_are_seen_again_have_the_same_packets(film: Film) -> None:
    """The second chorus is the first one's packets; only where lines turn do others stand."""
    runs = [passage.runs for passage in film.pictures.passages]
    assert len(set(runs)) < len(runs)
    container: Any = av.open(str(film.path))
    with container:
        packets = [bytes(packet) for packet in container.demux(video=0) if packet.size]
    starts = np.cumsum([0, *(passage.frames for passage in film.pictures.passages)])
    first = {}
    for run, start, end in zip(runs, starts, starts[1:], strict=False):
        assert packets[start:end] == first.setdefault(run, packets[start:end])


@pytest.mark.slow
@pytest.mark.skipif(not shutil.which("ffprobe"), reason="ffprobe reads it")
def test_its_chapters_are_read_by_another_program(film: Film) -> None:
    """The opening, and each section of each chorus, when it begins."""
    told = subprocess.run(
        ["ffprobe", "-v", "error", "-show_chapters", "-of", "json", film.path],
        capture_output=True,
        check=True,
    )
    chapters = json.loads(told.stdout)["chapters"]
    assert [chapter["tags"]["title"] for chapter in chapters] == [
        "Title and count-in",
        "Chorus 1 · A", "Chorus 1 · B",
        "Chorus 2 · A", "Chorus 2 · B",
        "Chorus 3 · A", "Chorus 3 · B",
    ]  # fmt: skip
    starts = [float(chapter["start_time"]) for chapter in chapters]
    wished = [bar.start_s for bar in film.times.bars if bar.place % 2 == 0]
    assert starts == pytest.approx([0.0, *wished], abs=1e-3)


@pytest.mark.slow
def test_its_captions_are_read_by_another_reader(film: Film) -> None:
    """One cue a chord, and before them the title and the count-in."""
    container: Any = av.open(str(film.path.with_suffix(".vtt")))
    with container:
        cues = [packet for packet in container.demux(subtitles=0) if packet.size]
    assert len(cues) == 2 + len(film.times.chords)
    texts = [bytes(cue).decode() for cue in cues]
    assert texts[2] == "F♯m7: F♯ minor seventh\nThen B7: the scale stays; E natural goes to D sharp"
    starts = [float(cue.pts * cue.time_base) for cue in cues[2:]]
    assert starts == pytest.approx([chord.start_s for chord in film.times.chords], abs=1e-3)


@pytest.mark.slow
def test_a_browser_plays_and_seeks_it_from_a_plain_file(film: Film) -> None:
    """Chromium shows its length and its size, plays, goes to a place, and reads the captions."""
    playwright = pytest.importorskip("playwright.sync_api")
    if not Path("/usr/bin/chromium").exists():
        pytest.skip("no browser is installed")
    page_file = film.path.with_suffix(".html")
    page_file.write_text(
        f"<!doctype html><video src={film.path.name} muted><track kind=captions default "
        f"src=data:text/vtt;base64,{_base64(film.path.with_suffix('.vtt'))}></video>",
        "utf-8",
    )
    with playwright.sync_playwright() as started:
        browser = started.chromium.launch(
            executable_path="/usr/bin/chromium", args=["--no-sandbox"]
        )
        page = browser.new_page()
        page.goto(page_file.as_uri())
        told = page.evaluate(_PLAYED)
        browser.close()
    assert told["size"] == [1280, 720]
    assert told["length"] == pytest.approx(film.times.length_s, abs=0.1)
    assert told["played"] > 0.2
    assert told["sought"] == pytest.approx(20.0, abs=0.1)
    assert told["cues"] == 2 + len(film.times.chords)


_PLAYED = """async () => {
  const film = document.querySelector("video");
  const until = name => new Promise(done => film.addEventListener(name, done, {once: true}));
  if (film.readyState < 2) await until("loadeddata");
  film.textTracks[0].mode = "showing";
  await film.play();
  await new Promise(done => setTimeout(done, 700));
  film.pause();
  const played = film.currentTime;
  const sought = until("seeked");
  film.currentTime = 20;
  await sought;
  return {size: [film.videoWidth, film.videoHeight], length: film.duration, played,
          sought: film.currentTime, cues: film.textTracks[0].cues.length};
}"""


def _base64(path: Path) -> str:
    from base64 import b64encode

    return b64encode(path.read_bytes()).decode()


@pytest.mark.slow
@pytest.mark.parametrize("suffix", [".mov", ".webm"])
def test_an_overlay_is_seen_through(tmp_path: Path, suffix: str) -> None:
    """Before the music nothing of it is seen, then its notes, and the film under it beside them."""
    film = written(tmp_path, f"over{suffix}", choruses=1, overlay=True)
    frames = sum(passage.frames for passage in film.pictures.passages)
    container: Any = av.open(str(film.path))
    with container:
        stream = container.streams.video[0]
        codec = {"vp9": "libvpx-vp9"}.get(stream.codec_context.name)
        decoder: Any = av.CodecContext.create(codec, "r") if codec else stream.codec_context
        decoded = chain.from_iterable(
            decoder.decode(packet if packet.size else None) for packet in container.demux(stream)
        )
        seen = {
            number: frame.to_ndarray(format="rgba")[..., 3] if number in (0, frames // 2) else None
            for number, frame in enumerate(decoded)
        }
    assert len(seen) == frames
    assert seen[0].max() == 0
    music = seen[frames // 2]
    assert (music.min(), music.max()) == (0, 255)


@pytest.mark.slow
def test_choruses_that_rise_are_filmed_at_their_own_tempi(tmp_path: Path) -> None:
    """The mark is at its heads in the last chorus as in the first."""
    film = written(tmp_path, "rising.mp4", tempi="120..180+60")
    frames = marked(film)
    for head in (film.times.heads[0], film.times.heads[-1]):
        (late_s,) = lateness(head, frames)
        assert abs(late_s) <= HALF_A_FRAME_S + 1e-3
