"""Is a line heard with each part of the band alone?"""

from __future__ import annotations

import io

import av
import pytest
from desks import Desk

CHART = "| Dm7 | G7 | Cmaj7 | A7 |"
PARTS = ("line", "drums", "bass", "chords")


def line_of(desk: Desk) -> str:
    teacher = desk.teacher()
    chart = teacher.post("/charts", data={"text": CHART, "save": "1"}).headers["location"]
    form = {"step": "scale", "level": "intermediate", "instrument": "alto-sax"}
    return str(teacher.post(f"{chart}/lines", data=form).headers["location"])


@pytest.mark.slow
def test_each_part_is_heard_alone_and_all_begin_together(desk: Desk) -> None:
    address, teacher = line_of(desk), desk.teacher()
    answers = [teacher.get(f"{address}/parts/{part}.m4a") for part in PARTS]
    assert [answer.headers["content-type"] for answer in answers] == 4 * ["audio/mp4"]
    assert len({answer.content for answer in answers}) == 4
    for answer in answers:
        with av.open(io.BytesIO(answer.content)) as sound:
            lasts_s = float(sound.duration) / av.time_base
            assert lasts_s > 8, "a count-in and four bars"


@pytest.mark.parametrize("part", ["drone", "..", "mix"])
def test_another_part_is_one_line(desk: Desk, part: str) -> None:
    answer = desk.teacher().get(f"/lines/1/parts/{part}.m4a")
    assert answer.status_code == 404


def test_a_player_hears_no_line_of_the_desk(desk: Desk) -> None:
    assert desk.student("Ansel").get("/lines/1/parts/line.m4a").status_code == 403
