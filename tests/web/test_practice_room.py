"""Does the practice room open on what comes next, and take the player's word?"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest
from desks import Desk
from handed_out import made
from room_takes import played, sent_from_room

from halfstep.app.tasks.practice_tasks import PlanDay, plan_day
from halfstep.course.skill import Skill
from halfstep.data.etude_json import read_etude
from halfstep.practice.evidence import Evidence, Verdict
from halfstep.practice.practice_plan import PlanItem, PracticePlan
from halfstep.school.jobs import jobs_of
from halfstep.school.kept_evidence import evidence_of
from halfstep.school.kept_plans import keep_plan
from halfstep.school.practised import practised_on
from halfstep.services.give_feedback import GiveFeedback
from halfstep.services.stored_requests import read_request
from tone_takes import TONE_RATE

DAY = date.today().isoformat()


def item(number: int) -> str:
    return f"/room/days/{DAY}/items/{number}"


@pytest.mark.slow
def test_the_room_opens_on_the_next_item_of_today_s_plan(desk: Desk) -> None:
    ansel = desk.student("Ansel")
    assert ansel.get("/room").headers["location"] == item(1)
    text = ansel.get(item(1)).text
    assert f'data-base="{item(1)}"' in text
    assert "<dt>Goal</dt>" in text
    assert "<dt>Stop</dt>" in text
    assert ansel.get("/room/items/2").headers["location"] == item(2)


@pytest.mark.slow
def test_a_word_is_kept_and_the_next_item_comes(desk: Desk) -> None:
    ansel = desk.student("Ansel")
    ansel.get("/room")
    answer = ansel.post(f"{item(1)}/word", data={"word": "nearly"})
    assert answer.headers["location"] == "/room"
    assert ansel.get("/room").headers["location"] == item(2)
    assert '<span class="day-word">nearly</span>' in ansel.get(item(2)).text
    with desk.school.reading() as connection:
        (piece,) = evidence_of(connection, "Ansel")
    assert piece.verdict == "nearly"


def test_no_other_word_is_taken(desk: Desk) -> None:
    ansel = desk.student("Ansel")
    ansel.get("/room")
    assert ansel.post(f"{item(1)}/word", data={"word": "bravely"}).status_code == 422


@pytest.mark.parametrize(
    "address",
    [
        "/room/days/2020-02-30/items/1",
        "/room/days/2020-02-28/items/1",
        f"/room/days/{DAY}/items/77",
        "/room/sheets/1/scale",
        "/room/takes/1/next/1",
        "/room/takes/1/told",
    ],
)
def test_what_is_not_there_is_said_so(desk: Desk, address: str) -> None:
    assert desk.student("Ansel").get(address).status_code == 404


def test_a_room_is_its_player_s_own(desk: Desk) -> None:
    for visitor in (desk.teacher(), desk.visitor()):
        assert visitor.get("/room").status_code == 403
        assert visitor.get(item(1)).status_code == 403


@pytest.mark.slow
def test_the_teacher_sees_what_was_practised_and_said(desk: Desk) -> None:
    ansel, teacher = desk.student("Ansel"), desk.teacher()
    assert "Practised this week" not in teacher.get("/desk").text
    ansel.get("/room")
    ansel.post(f"{item(1)}/word", data={"word": "not-yet"})
    assert '<a href="/students/1">Ansel</a>' in teacher.get("/desk").text
    text = teacher.get("/students/1").text
    assert "own word: not yet" in text
    assert "One chord: one note, at " in text


@pytest.mark.slow
def test_the_bars_that_went_wrong_are_offered_to_go_round(desk: Desk) -> None:
    plan = plan_day(desk.school, PlanDay("Ansel")).plan
    wrong = Evidence(
        "take", datetime.now(UTC), plan.items[0].skill, 80.0, Verdict.NOT_YET, trouble_bar=3
    )
    blues = Skill("major-blues", "root-third", 0)
    whole = replace(plan.items[0], last=wrong, skill=blues, progression=0, part=1.0)
    text = _with_first_item(desk, plan, whole)
    assert "bars 2 to 5 first, then all 12" in text
    assert 'data-loop="2 5"' in text
    half = replace(whole, part=0.5)
    text = _with_first_item(desk, plan, half)
    assert "bars 2 to 7 alone, round and round; all 12 another day" in text
    assert 'data-loop="2 7"' in text


def _with_first_item(desk: Desk, plan: PracticePlan, first: PlanItem) -> str:
    """The page of the first item of a plan, where it is another one."""
    with desk.school.writing() as connection:
        keep_plan(connection, "Ansel", replace(plan, items=(first, *plan.items[1:])))
    return desk.student("Ansel").get(item(1)).text


@pytest.mark.slow
def test_when_all_is_done_tomorrow_is_shown(desk: Desk) -> None:
    ansel = desk.student("Ansel")
    while (place := ansel.get("/room").headers.get("location")) is not None:
        ansel.post(f"{place}/word", data={"word": "clean"})
    text = ansel.get("/room").text
    assert "Done for today" in text
    assert "Tomorrow, as it looks now" in text


def evidence(desk: Desk) -> list[tuple[str, str]]:
    """What is counted of Ansel: where it comes from, in its first word, and how it went."""
    with desk.school.reading() as connection:
        pieces = evidence_of(connection, "Ansel")
    return [(piece.source.partition(" ")[0][:4], str(piece.verdict)) for piece in pieces]


@pytest.fixture
def planned(desk: Desk) -> Desk:
    """A desk where today is planned for Ansel."""
    desk.student("Ansel").get("/room")
    return desk


def test_a_take_is_heard_in_the_tempo_key_and_bars_that_were_played(planned: Desk) -> None:
    about = {"tempo_bpm": 77, "key": "Eb", "feel": "", "loop": [2, 3], "line": "own"}
    sent_from_room(planned, "Ansel", item(1), bytes(TONE_RATE), **about)
    with planned.school.reading() as connection:
        (job,) = jobs_of(connection, "sent-take 1")
    request = read_request(job.request)
    assert isinstance(request, GiveFeedback)
    etude = read_etude(str(request.etude))
    assert etude.tempo_bpm == 77
    assert str(etude.chart.key) == "E♭ major"
    assert etude.chart.beats == 8
    assert request.own_line
    assert request.headphones


@pytest.mark.slow
def test_a_take_is_heard_by_the_piece_it_was_played_from(planned: Desk) -> None:
    """The whole way: recorded in the room, heard, counted once, told, and practised on."""
    ansel = planned.student("Ansel")
    ansel.post(f"{item(1)}/word", data={"word": "not-yet"})
    number = sent_from_room(planned, "Ansel", item(1), played(planned, "Ansel", item(1)))
    told = f"/room/takes/{number}/told"
    assert f'data-swap-from="{told}"' in ansel.get(told).text
    made(planned)
    text = ansel.get(told).text
    assert "data-swap-from" not in text
    assert 'data-sound="/takes/1/files/next-1.m4a"' in text
    (only,) = evidence(planned)
    assert only[0] != "word", "the word went before, and is one thing with the take"
    with planned.school.reading() as connection:
        (kept,) = practised_on(connection, 1, date.today())
    assert (str(kept.word), str(kept.heard)) == ("not-yet", only[1])
    ansel.post(f"{item(1)}/word", data={"word": "clean"})
    assert evidence(planned) == [only]
    following = ansel.get(f"/room/takes/{number}/next/1")
    assert following.status_code == 200
    assert "bars" in following.text
    assert planned.student("Corin").get(f"/room/takes/{number}/next/1").status_code == 404
    assert planned.student("Corin").get(told).status_code == 404
