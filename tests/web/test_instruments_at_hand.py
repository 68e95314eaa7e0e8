"""Does a player choose on the pages with which of the own instruments is played?"""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from desks import new_desk
from handed_out import CHART

from halfstep.app.tasks.chart_tasks import keep_chart, typed_content
from halfstep.school.students import student_of_number


@pytest.mark.slow
def test_a_player_of_two_instruments(tmp_path: Path) -> None:
    """The teacher adds one; the player takes it up, and has that one's sheets, room and pages."""
    with new_desk(tmp_path / "data") as desk:
        teacher, player = desk.teacher(), desk.student("Ansel")
        chart = keep_chart(desk.school, typed_content(CHART, "Two Roads"), of=None)
        assert "Play the" not in player.get("/week").text
        same = {"instrument": "alto-sax", "level": "beginner"}
        refused = teacher.post("/students/1/instruments", data=same)
        assert refused.status_code == 422
        assert "Ansel plays it already" in refused.text
        asked = {"instrument": "clarinet", "level": "beginner"}
        assert teacher.post("/students/1/instruments", data=asked).status_code == 303
        form = {"chart": chart, "whom": "class-1", "steps": "arpeggio", "tempo_bpm": "96"}
        (address,) = {teacher.post("/hand-outs", data=form).headers["location"]}
        shown = teacher.get(address).text
        assert "0 of 4 sheets are there" in shown
        assert "Clarinet, beginner" in shown
        week = player.get("/week").text
        assert "Written for Alto saxophone." in week
        assert "Play the clarinet" in week
        answer = player.post("/my-instrument", data={"instrument": "clarinet", "to": "week"})
        assert answer.headers["location"] == "/week"
        week = player.get("/week").text
        assert "Written for Clarinet." in week
        assert "Two Roads" in week
        assert "alto saxophone, clarinet" in player.get("/kept").text
        room = player.get(player.get("/room").headers["location"]).text
        assert "You play the clarinet now." in room
        assert "Written for Clarinet." in room
        assert player.post("/my-instrument", data={"instrument": "tuba"}).status_code == 422
        roster = teacher.get("/classes/1/roster.csv").content.decode("utf-8-sig")
        assert next(csv.DictReader(io.StringIO(roster)))["also plays"] == "clarinet beginner"
        assert teacher.post("/students/1/instrument", data={"instrument": "alto-sax"}).is_redirect
        with desk.school.reading() as connection:
            assert student_of_number(connection, 1).instrument.key == "alto-sax"
