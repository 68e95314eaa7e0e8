"""What a request for a film makes and refuses."""

from __future__ import annotations

import re
import stat
from pathlib import Path
from typing import Any

import av
import pytest

import halfstep
from halfstep.errors import BriefError, TakeError
from halfstep.services.make_film import KEPT_PRIVATE, MakeFilm, film_line, make_film

CHART = "title: Window Seat\n| Am7 D7 | Gmaj7 |"


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({}, "step: say which one is filmed"),
        ({"step": "6", "size": "4k"}, "size '4k': choose from 720p, 1080p, square, portrait"),
        ({"step": "6", "tempi": "80..60+5"}, "80 does not reach 60 in steps of"),
        ({"step": "6", "tempi": "80..100+5", "choruses": 3}, "5 tempi are 5 choruses"),
        ({"step": "6", "choruses": 0}, "choruses 0: give a number from 1 to"),
        ({"step": "6", "choruses": 200, "chart": "| F7 |" * 32}, "a film holds 60"),
        ({"step": "99"}, "there is no step '99'"),
        ({"step": "6", "called": "Bo"}, "called goes with take"),
        ({"step": "6", "chart": Path("/")}, "there is no lesson.json in this folder"),
        ({"take": Path("bo.wav"), "choruses": 2}, "a take is filmed as it was played"),
        ({"take": Path("bo.wav"), "step": "6"}, "held against the step of a lesson"),
        ({"take": Path("bo.wav"), "tempi": "80..90+5"}, "a take has one tempo"),
        ({"take": Path("bo.wav"), "called": "B" * 41}, "a nickname has 40 letters at most"),
    ],
)
def test_what_makes_no_sense_is_said_in_one_line(fields: dict[str, Any], message: str) -> None:
    """With the field, and what would be right."""
    with pytest.raises(BriefError, match=re.escape(message)) as refused:
        make_film(MakeFilm(**{"chart": CHART, **fields}))
    assert "\n" not in str(refused.value)


def test_a_take_that_is_not_there_is_said() -> None:
    with pytest.raises(TakeError, match="there is no such file"):
        make_film(MakeFilm(CHART, take=Path("nowhere.wav")))


def test_half_a_minute_is_filmed_where_no_choruses_are_asked_for() -> None:
    """Two bars at 120 last four seconds: eight choruses are half a minute."""
    assert film_line(MakeFilm(CHART, "cells", tempi="120")).tempi == (120.0,) * 8


@pytest.mark.slow
def test_a_lesson_s_step_is_filmed_as_it_was_handed_out(tmp_path: Path) -> None:
    """Its line, its tempo and its style; a step or a player that it has not is refused."""
    halfstep.make_lesson(
        CHART, tmp_path / "les", instruments=("flute", "alto-sax"), steps="6,cells",
        tempo_bpm=100, style="bossa-nova",
    )  # fmt: skip
    asked = MakeFilm(tmp_path / "les", "8", instrument="alto-sax", choruses=2)
    film = film_line(asked)
    assert (film.tempi, film.brief.band_style.name) == ((100.0, 100.0), "bossa-nova")
    assert (film.part.instrument.key, film.line.step.name) == ("alto-sax", "cells")
    with pytest.raises(BriefError, match="the lesson has one-line, cells"):
        film_line(MakeFilm(tmp_path / "les", "scale"))
    with pytest.raises(BriefError, match="the lesson is for flute, alto-sax"):
        film_line(MakeFilm(tmp_path / "les", "6", instrument="trumpet"))
    with pytest.raises(BriefError, match="a lesson says that itself"):
        film_line(MakeFilm(tmp_path / "les", "6", known_notes="G4 A4"))


@pytest.mark.slow
def test_a_full_disk_is_said_and_nothing_is_left(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One line; the folder is as it was."""

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("halfstep.lesson.film.write_film", full)
    reply = make_film(MakeFilm("| F7 |", "cells", tempi="300", choruses=1))
    with pytest.raises(BriefError, match=r"cannot write to .*: No space left on device"):
        reply.write(tmp_path / "film.mp4")
    assert not list(tmp_path.iterdir())


@pytest.mark.slow
def test_a_take_is_filmed_for_its_owner_alone(tmp_path: Path) -> None:
    """No name but the nickname is in it, only its owner can read it, and that is said."""
    lesson = tmp_path / "les"
    halfstep.make_lesson(
        CHART, lesson, instruments=("alto-sax",), steps="6", tempo_bpm=120, stems=True,
        sound_format="wav",
    )  # fmt: skip
    take = (lesson / "line-6.wav").rename(tmp_path / "ada-lindqvist.wav")
    reply = halfstep.make_film(lesson, step=6, take=take, headphones=True, called="Bo")
    files = reply.write(tmp_path / "bo.mp4")
    assert KEPT_PRIVATE in files.notices
    assert [path.name for path in files.paths] == ["bo.mp4", "bo-chapters.txt", "bo.png"]
    for path in files.paths:
        assert stat.S_IMODE(path.stat().st_mode) == 0o600
        assert b"lindqvist" not in path.read_bytes()
    container: Any = av.open(str(files.paths[0]))
    with container:
        assert "title" not in container.metadata
        assert container.duration / 1e6 == pytest.approx(reply.film.length_s, abs=0.1)
