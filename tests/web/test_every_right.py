"""Who may do what, address by address? A new address fails here until its row is written.

``teacher`` may at the desk; ``student`` any who has come by a link; ``own`` the student whose thing
the address names: for another it does not exist.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime

import pytest
from desks import Desk, new_desk
from sqlalchemy import insert
from starlette.testclient import TestClient

from halfstep.app.rights import STRANGER, Right, Visitor, demand
from halfstep.app.web.api_operations import OPERATIONS
from halfstep.app.web.routes import ROUTES
from halfstep.app.web.visit import SiteRoute
from halfstep.errors import HalfstepError
from halfstep.school import tables
from halfstep.school.students import student_of_number

TABLE = """
GET    /                                                    anybody
GET    /in/{word}                                           anybody
POST   /in/{word}                                           anybody
POST   /out                                                 anybody
GET    /desk                                                teacher
POST   /demo/remove                                         teacher
POST   /phones/open                                         teacher
POST   /phones/close                                        teacher
GET    /calendar/{word}.ics                                 anybody
GET    /charts                                              teacher
POST   /charts                                              teacher
POST   /charts/drawn                                        teacher
GET    /charts/{number:int}                                 teacher
POST   /charts/{number:int}                                 teacher
POST   /charts/{number:int}/scales                          teacher
POST   /charts/{number:int}/copy                            teacher
GET    /charts/{number:int}/remove                          teacher
POST   /charts/{number:int}/remove                          teacher
POST   /charts/{number:int}/lines                           teacher
POST   /charts/{number:int}/offered                         teacher
GET    /lines/{line:int}                                    teacher
POST   /lines/{line:int}/edits                              teacher
POST   /lines/{line:int}/undo                               teacher
POST   /lines/{line:int}/redo                               teacher
POST   /lines/{line:int}/lock                               teacher
POST   /lines/{line:int}/anew                               teacher
GET    /lines/{line:int}/versions                           teacher
GET    /lines/{line:int}/line.{suffix}                      teacher
GET    /lines/{line:int}/parts/{part}.m4a                   teacher
POST   /lines/{line:int}/remove                             teacher
GET    /hand-outs/new                                       teacher
POST   /hand-outs                                           teacher
GET    /hand-outs/{number:int}                              teacher
POST   /hand-outs/{number:int}/again                        teacher
POST   /hand-outs/{number:int}/withdraw                     teacher
GET    /hand-outs/{number:int}/class.pdf                    teacher
GET    /hand-outs/{number:int}/set.zip                      teacher
GET    /sheets/{number:int}/{name}                          teacher own
GET    /classes                                             teacher
POST   /classes                                             teacher
GET    /classes/{number:int}                                teacher
POST   /classes/{number:int}/player                         teacher
POST   /classes/{number:int}/players                        teacher
POST   /classes/{number:int}/door                           teacher
GET    /classes/{number:int}/links                          teacher
POST   /classes/{number:int}/links                          teacher
POST   /classes/{number:int}/remove                         teacher
GET    /invitations/{number:int}/link.svg                   teacher
POST   /invitations/{number:int}/withdraw                   teacher
GET    /students/{number:int}                               teacher
POST   /students/{number:int}                               teacher
POST   /students/{number:int}/door                          teacher
GET    /students/{number:int}/way.svg                       teacher own
GET    /students/{number:int}/week.pdf                      teacher own
GET    /students/{number:int}/standing                      teacher
GET    /classes/{number:int}/standing                       teacher
GET    /students/{number:int}/export.zip                    teacher
GET    /students/{number:int}/erase                         teacher
POST   /students/{number:int}/erase                         teacher
GET    /takes                                               teacher
GET    /takes/{take:int}                                    teacher
POST   /takes/{take:int}/words                              teacher
POST   /takes/{take:int}/again                              teacher
GET    /takes/{take:int}/recording                          teacher own
GET    /takes/{take:int}/backing                            teacher own
GET    /takes/{take:int}/files/{name}                       teacher own
GET    /week                                                student
POST   /week/{hand_out:int}/take                            student
POST   /room/recordings                                     student
GET    /room/recordings/{key}                               student
GET    /room/recordings/{key}/notes                         student
PUT    /room/recordings/{key}                               student
DELETE /room/recordings/{key}                               student
POST   /room/recordings/{key}/end                           student
POST   /room/files                                          student
GET    /room                                                student
GET    /room/items/{item:int}                               student
GET    /room/days/{day}/items/{item:int}                    student
POST   /room/days/{day}/items/{item:int}/word               student
GET    /room/sheets/{sheet:int}/{step}                      own
GET    /room/takes/{take:int}/next/{number:int}             own
GET    /room/takes/{take:int}/told                          own
GET    /room/days/{day}/items/{item:int}/piece              student
GET    /room/sheets/{sheet:int}/{step}/piece                own
GET    /room/takes/{take:int}/next/{number:int}/piece       own
GET    /room/days/{day}/items/{item:int}/turn               student
GET    /room/sheets/{sheet:int}/{step}/turn                 own
GET    /room/takes/{take:int}/next/{number:int}/turn        own
GET    /room/days/{day}/items/{item:int}/systems            student
GET    /room/sheets/{sheet:int}/{step}/systems              own
GET    /room/takes/{take:int}/next/{number:int}/systems     own
GET    /room/days/{day}/items/{item:int}/sound/{part}       student
GET    /room/sheets/{sheet:int}/{step}/sound/{part}         own
GET    /room/takes/{take:int}/next/{number:int}/sound/{part} own
GET    /my-takes                                            student
GET    /my-takes/{take:int}                                 teacher own
GET    /api/openapi.json                                    anybody
POST   /api/read-chart                                      teacher
POST   /api/explain-chart                                   teacher
POST   /api/write-etude                                     teacher
POST   /api/show-course                                     teacher
GET    /api/students                                        teacher
POST   /api/students                                        teacher
GET    /api/students/{student}                              teacher own
GET    /api/classes                                         teacher
POST   /api/classes                                         teacher
GET    /api/classes/{class}                                 teacher
POST   /api/classes/{class}/students                        teacher
POST   /api/jobs                                            teacher
GET    /api/jobs/{job}                                      teacher
GET    /api/jobs/{job}/files/{file}                         teacher
GET    /api/charts                                          teacher
POST   /api/charts                                          teacher
GET    /api/charts/{chart}                                  teacher
POST   /api/charts/{chart}                                  teacher
POST   /api/lines                                           teacher
GET    /api/lines/{line}                                    teacher
POST   /api/hand-outs                                       teacher
GET    /api/hand-outs/{hand_out}                            teacher
POST   /api/hand-outs/{hand_out}/withdraw                   teacher
GET    /api/classes/{class}/hand-outs                       teacher
GET    /api/students/{student}/sheets                       teacher own
GET    /api/takes                                           teacher
GET    /api/students/{student}/takes                        teacher own
GET    /api/takes/{take}                                    teacher own
POST   /api/takes/{take}/answer                             teacher
POST   /api/hand-outs/{hand_out}/takes                      student
GET    /api/calendar                                        teacher student
"""
ROWS = {
    (method, path): tuple(who) for method, path, *who in map(str.split, TABLE.strip().splitlines())
}
ANSELS, CORINS, NOBODYS = 1, 2, 999_999
"""The numbers of things; each of Ansel's has a twin of Corin's."""
NUMBER = re.compile(r"\{(\w+)(?::int)?\}")
WORDS = {
    "day": "2026-03-02",
    "key": "0f8fad5b-d9cb-469f-a165-70867728950e",
    "step": "scale",
    "suffix": "mid",
    "part": "line",
    "name": "handout.pdf",
    "word": "1-forged",
}


def rights() -> dict[tuple[str, str], Right]:
    """What each address needs, by its method and path."""
    pages = (route for route in ROUTES if isinstance(route, SiteRoute))
    needed = {
        (method, route.path): route.right for route in pages for method in route.methods or ()
    }
    needed = {at: right for at, right in needed.items() if at[0] != "HEAD"}
    return needed | {(one.method, one.path): one.right for one in OPERATIONS}


RIGHTS = rights()
NAMED = [at for at, right in RIGHTS.items() if right.thing]


@pytest.fixture(scope="module")
def full(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    """A desk with one of each thing of Ansel's, and one of Corin's."""
    with new_desk(tmp_path_factory.mktemp("rights") / "data") as desk:
        _fill(desk)
        yield desk


@pytest.fixture(scope="module")
def browsers(full: Desk) -> dict[str, TestClient]:
    """Everybody's."""
    return {
        "teacher": full.teacher(),
        "ansel": full.student("Ansel"),
        "corin": full.student("Corin"),
        "stranger": full.visitor(),
        "forger": full.visitor("desk-forged"),
    }


def _fill(desk: Desk) -> None:
    now, empty = datetime.now(UTC), {"text": "", "sheet": "", "scales": ""}
    lines = {"request": "{}", "etude": "{}", "made_at": now, "changed_at": now}
    take = {"file": "none.wav", "name": "none.wav", "sent_at": now}
    with desk.school.writing() as connection:
        for number in (ANSELS, CORINS):
            rows = {
                tables.charts: {"title": "x", **empty, "made_at": now, "changed_at": now},
                tables.lines: {"chart_id": number, **lines},
                tables.hand_outs: {"title": "x", "request": "{}", "made_at": now},
                tables.sheets: {"hand_out_id": number, "student_id": number},
                tables.sent_takes: {"student_id": number, "source": str(number), **take},
                tables.invitations: {"student_id": number, "made_at": now},
            }
            for table, row in rows.items():
                connection.execute(insert(table), row)


def test_every_address_has_a_row_and_no_row_is_left_over() -> None:
    assert RIGHTS.keys() == ROWS.keys()


@pytest.mark.parametrize("at", ROWS, ids=" ".join)
def test_who_may_may(full: Desk, at: tuple[str, str]) -> None:
    who = ROWS[at]
    with full.school.reading() as connection:
        ansel = Visitor(student=student_of_number(connection, ANSELS))
        corin = Visitor(student=student_of_number(connection, CORINS))
        numbers = dict.fromkeys(("number", *NUMBER.findall(at[1])), ANSELS)
        may = {}
        for name, visitor in (
            ("teacher", Visitor(is_teacher=True)),
            ("ansel", ansel),
            ("corin", corin),
            ("stranger", STRANGER),
        ):
            try:
                demand(connection, visitor, RIGHTS[at], numbers)
            except HalfstepError:
                may[name] = False
            else:
                may[name] = True
    is_open = "anybody" in who
    assert may == {
        "teacher": is_open or "teacher" in who,
        "ansel": is_open or "student" in who or "own" in who,
        "corin": is_open or "student" in who,
        "stranger": is_open,
    }


def _asked(browser: TestClient, at: tuple[str, str], number: int) -> tuple[int, str]:
    method, path = at
    path = NUMBER.sub(lambda found: WORDS.get(found[1], str(number)), path)
    sent = {"json": {}} if "/api/" in path else {}
    answer = browser.request(method, path, **sent)
    return answer.status_code, answer.text


@pytest.mark.parametrize("at", [at for at in ROWS if "anybody" not in ROWS[at]], ids=" ".join)
def test_who_may_not_is_refused(browsers: dict[str, TestClient], at: tuple[str, str]) -> None:
    refused = ["stranger", "forger"]
    refused += [] if {"student", "own"} & {*ROWS[at]} else ["ansel"]
    refused += [] if "teacher" in ROWS[at] else ["teacher"]
    for name in refused:
        assert _asked(browsers[name], at, ANSELS)[0] == 403


@pytest.mark.parametrize("at", NAMED, ids=" ".join)
def test_what_is_somebody_elses_answers_as_if_it_did_not_exist(
    browsers: dict[str, TestClient], at: tuple[str, str]
) -> None:
    missing = _asked(browsers["teacher" if "teacher" in ROWS[at] else "corin"], at, NOBODYS)
    assert missing[0] == 404
    if "own" in ROWS[at]:
        corins = _asked(browsers["corin"], at, ANSELS)
        assert corins == _asked(browsers["corin"], at, NOBODYS)
        assert corins[0] == 404
