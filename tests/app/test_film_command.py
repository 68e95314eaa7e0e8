"""``halfstep film``, as a teacher types it."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.app_command import Command


@pytest.mark.slow
def test_a_film_is_written_with_what_stands_beside_it(command: Command, home: Path) -> None:
    """The film, captions, chapters and a picture, all called after it."""
    out = "seat.mp4"
    done = command(
        "film", "| Am7 D7 | Gmaj7 |", "--step", "cells", "--choruses", "1", "--tempo", "240",
        "--captions", "--out", out,
    )  # fmt: skip
    assert done.status == 0
    assert done.out == (f"written to {out} and beside it seat.vtt, seat-chapters.txt, seat.png\n")
    assert sorted(path.name for path in home.iterdir()) == [
        "seat-chapters.txt", "seat.mp4", "seat.png", "seat.vtt"
    ]  # fmt: skip
    chapters = (home / "seat-chapters.txt").read_text("utf-8")
    assert chapters == "0:00 Title and count-in\n0:05 Chorus 1\n"


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--step", "6", "--out", "x.avi"], "--out 'x.avi': end the name in one of .mp4"),
        (["--step", "6", "--overlay", "--out", "x.mp4"], "end the name in one of .mov, .webm"),
        (["--step", "6", "--tempo", "80..60+5"], "--tempo '80..60+5': 80 does not reach 60"),
        (["--step", "6", "--called", "Bo"], "--called goes with --take"),
    ],
)
def test_what_cannot_be_done_is_said_in_the_words_that_were_typed(
    command: Command, words: list[str], message: str
) -> None:
    done = command("film", "| Am7 D7 | Gmaj7 |", *words)
    assert done.status == 2
    assert message in done.err
    assert done.err.count("\n") == 1
