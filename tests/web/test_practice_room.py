"""Does the practice room open on what comes next, and take the player's word?"""

from __future__ import annotations

from datetime import date

import pytest
from desks import Desk

from halfstep.school.kept_evidence import evidence_of

DAY = date.today().isoformat()


def item(number: int) -> str:
    return f"/room/days/{DAY}/items/{number}"


def test_the_room_opens_on_the_next_item_of_today_s_plan(desk: Desk) -> None:
    ansel = desk.student("Ansel")
    assert ansel.get("/room").headers["location"] == item(1)
    text = ansel.get(item(1)).text
    assert f'data-base="{item(1)}"' in text
    assert "<dt>Goal</dt>" in text
    assert "<dt>Stop</dt>" in text
    assert ansel.get("/room/items/2").headers["location"] == item(2)


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
