"""Who may do what, address by address? A new address fails here until its row is written.

In a school ``all`` is its owner alone; ``staff`` the owner, and the teacher whose class or chart it
is; ``student`` any who plays, ``own`` the one whose thing the address names, ``ward`` the guardian
of that one; ``account`` whoever has signed in.
For others a thing does not exist.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import suppress
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
from halfstep.school.accounts import AccountRole, account_named, add_account, keep_wards
from halfstep.school.belonging import Thing, teach_class
from halfstep.school.consents import Giver, Purpose, keep_consent, said_now
from halfstep.school.sessions import begin_session
from halfstep.school.students import student_of_number

TABLE = """
GET    /                                                    anybody
GET    /in/{word}                                           anybody
POST   /in/{word}                                           anybody
POST   /out                                                 anybody
GET    /sign-in                                             anybody
POST   /sign-in                                             anybody
GET    /forgotten                                           anybody
POST   /forgotten                                           anybody
GET    /join/{word}                                         anybody
POST   /join/{word}                                         anybody
GET    /account                                             account
POST   /account/password                                    account
POST   /account/mail                                        account
POST   /account/sessions/{session:int}/end                  account
GET    /account/codes                                       account
POST   /account/codes                                       account
POST   /account/codes/end                                   account
GET    /people                                              staff
POST   /people                                              staff
POST   /people/{account:int}/link                           staff
POST   /people/{account:int}/end                            staff
GET    /people/log                                          owner
GET    /wards                                               guardian
GET    /kept                                                student
GET    /settings                                            staff
POST   /settings                                            all
GET    /health                                              anybody
GET    /ready                                               anybody
GET    /desk                                                staff
POST   /demo/remove                                         all
POST   /phones/open                                         all
POST   /phones/close                                        all
GET    /calendar/{word}.ics                                 anybody
GET    /charts                                              staff
POST   /charts                                              staff
POST   /charts/drawn                                        staff
GET    /charts/{number:int}                                 staff
POST   /charts/{number:int}                                 staff
POST   /charts/{number:int}/scales                          staff
POST   /charts/{number:int}/copy                            staff
GET    /charts/{number:int}/remove                          staff
POST   /charts/{number:int}/remove                          staff
POST   /charts/{number:int}/lines                           staff
POST   /charts/{number:int}/offered                         staff
GET    /lines/{line:int}                                    staff
POST   /lines/{line:int}/edits                              staff
POST   /lines/{line:int}/undo                               staff
POST   /lines/{line:int}/redo                               staff
POST   /lines/{line:int}/lock                               staff
POST   /lines/{line:int}/anew                               staff
GET    /lines/{line:int}/versions                           staff
GET    /lines/{line:int}/line.{suffix}                      staff
GET    /lines/{line:int}/parts/{part}.m4a                   staff
POST   /lines/{line:int}/remove                             staff
GET    /hand-outs/new                                       staff
POST   /hand-outs                                           staff
GET    /hand-outs/{number:int}                              staff
POST   /hand-outs/{number:int}/again                        staff
POST   /hand-outs/{number:int}/withdraw                     staff
GET    /hand-outs/{number:int}/class.pdf                    staff
GET    /hand-outs/{number:int}/set.zip                      staff
GET    /sheets/{number:int}/{name}                          staff own ward
GET    /classes                                             staff
POST   /classes                                             staff
GET    /classes/{number:int}                                staff
POST   /classes/{number:int}/player                         staff
POST   /classes/{number:int}/players                        staff
GET    /classes/{number:int}/roster.csv                     staff
POST   /classes/{number:int}/roster                         staff
POST   /classes/{number:int}/door                           staff
POST   /classes/{number:int}/teachers                       all
GET    /classes/{number:int}/links                          staff
POST   /classes/{number:int}/links                          staff
POST   /classes/{number:int}/away                           staff
POST   /classes/{number:int}/back                           staff
POST   /classes/{number:int}/remove                         staff
GET    /invitations/{number:int}/link.svg                   staff
POST   /invitations/{number:int}/anew                       staff
POST   /invitations/{number:int}/withdraw                   staff
GET    /students/{number:int}                               staff
POST   /students/{number:int}                               staff
POST   /students/{number:int}/instruments                   staff
POST   /students/{number:int}/instrument                    staff
POST   /students/{number:int}/door                          staff
POST   /students/{number:int}/devices/{device:int}/end      staff
GET    /students/{number:int}/way.svg                       staff own ward
GET    /students/{number:int}/week.pdf                      staff own ward
GET    /students/{number:int}/standing                      staff
GET    /classes/{number:int}/standing                       staff
POST   /students/{number:int}/consents                      staff own ward
POST   /students/{number:int}/age                           staff
GET    /students/{number:int}/export.zip                    staff own ward
GET    /students/{number:int}/erase                         staff
POST   /students/{number:int}/erase                         staff
GET    /takes                                               staff
GET    /takes/{take:int}                                    staff
POST   /takes/{take:int}/words                              staff
POST   /takes/{take:int}/again                              staff
POST   /takes/{take:int}/share                              staff
GET    /takes/{take:int}/recording                          staff own ward
GET    /takes/{take:int}/backing                            staff own ward
GET    /takes/{take:int}/files/{name}                       staff own ward
GET    /week                                                student
POST   /my-instrument                                       student
GET    /shared/{take:int}/recording                         student
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
GET    /my-takes/{take:int}                                 staff own ward
GET    /api/openapi.json                                    anybody
POST   /api/read-chart                                      staff
POST   /api/explain-chart                                   staff
POST   /api/write-etude                                     staff
POST   /api/show-course                                     staff
GET    /api/students                                        staff
POST   /api/students                                        staff
GET    /api/students/{student}                              staff own ward
GET    /api/classes                                         staff
POST   /api/classes                                         staff
GET    /api/classes/{class}                                 staff
POST   /api/classes/{class}/students                        staff
POST   /api/jobs                                            staff
GET    /api/jobs/{job}                                      staff
GET    /api/jobs/{job}/files/{file}                         staff
GET    /api/charts                                          staff
POST   /api/charts                                          staff
GET    /api/charts/{chart}                                  staff
POST   /api/charts/{chart}                                  staff
POST   /api/lines                                           staff
GET    /api/lines/{line}                                    staff
POST   /api/hand-outs                                       staff
GET    /api/hand-outs/{hand_out}                            staff
POST   /api/hand-outs/{hand_out}/withdraw                   staff
GET    /api/classes/{class}/hand-outs                       staff
GET    /api/students/{student}/sheets                       staff own ward
GET    /api/takes                                           staff
GET    /api/students/{student}/takes                        staff own ward
GET    /api/takes/{take}                                    staff own ward
POST   /api/takes/{take}/answer                             staff
POST   /api/hand-outs/{hand_out}/takes                      student
GET    /api/calendar                                        staff student guardian
"""
ROWS = {
    (method, path): tuple(who) for method, path, *who in map(str.split, TABLE.strip().splitlines())
}
ANSELS, CORINS, NOBODYS = 1, 2, 999_999
"""The numbers of things; each of Ansel's has a twin of Corin's."""
ROLES = {
    "owner": AccountRole.OWNER,
    "teacher": AccountRole.TEACHER,
    "colleague": AccountRole.TEACHER,
    "guardian": AccountRole.GUARDIAN,
}
"""By their names, which are what they are."""
PLAYING = {"ansel": ANSELS, "corin": CORINS}
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


STAFF = {"owner", "teacher"}
MEANS = {
    "staff": STAFF,
    "all": {"owner"},
    "owner": {"owner"},
    "student": {*PLAYING},
    "own": {"ansel"},
    "ward": {"guardian"},
    "guardian": {"guardian"},
    "account": STAFF | {"guardian"},
    "anybody": STAFF | {"guardian", *PLAYING, "stranger"},
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
    """A desk with one of each thing of Ansel's, and one of Corin's, who is not to be heard."""
    with new_desk(tmp_path_factory.mktemp("rights") / "data") as desk:
        _fill(desk)
        yield desk


@pytest.fixture(scope="module")
def visitors(full: Desk) -> dict[str, Visitor]:
    """Everybody: Ansel came by a link, the guardian is his."""
    with full.school.reading() as connection:
        found = {name: account_named(connection, name) for name in ROLES}
        players = {name: student_of_number(connection, n) for name, n in PLAYING.items()}
    owner, teacher, colleague, guardian = found.values()
    return {
        "owner": Visitor(is_teacher=True, account=owner),
        "teacher": Visitor(is_teacher=True, account=teacher),
        "colleague": Visitor(is_teacher=True, account=colleague),
        "guardian": Visitor(account=guardian, wards=frozenset({ANSELS})),
        **{name: Visitor(student=player) for name, player in players.items()},
        "stranger": STRANGER,
    }


@pytest.fixture(scope="module")
def browsers(full: Desk) -> dict[str, TestClient]:
    """Theirs, and those of some who are let in nowhere."""
    with full.school.writing() as connection:
        accounts = {name: account_named(connection, name) for name in ROLES}
        words = {
            name: begin_session(connection, account, "test")
            for name, account in accounts.items()
            if account
        }
    return {
        **{name: full.visitor(word) for name, word in words.items()},
        **{name: full.student(name.title()) for name in PLAYING},
        "stranger": full.visitor(),
        "forger": full.visitor("desk-forged"),
        "other forger": full.visitor("session-forged"),
        "desk of before": full.teacher(),
    }


def _fill(desk: Desk) -> None:
    now, empty = datetime.now(UTC), {"text": "", "sheet": "", "scales": ""}
    lines_at = {"made_at": now, "changed_at": now}
    lines = {"request": "{}", "etude": "{}", **lines_at}
    take = {"file": "none.wav", "name": "none.wav", "sent_at": now}
    with desk.school.writing() as connection:
        for name, role in ROLES.items():
            account = add_account(connection, name, role)
            if role is AccountRole.GUARDIAN:
                keep_wards(connection, account, {ANSELS})
            elif name == "teacher":
                teach_class(connection, account.number, 1)
                teacher = account.number
        for number in (ANSELS, CORINS):
            rows = {
                tables.charts: {"title": "x", **empty, **lines_at, "account": teacher},
                tables.lines: {"chart_id": number, **lines},
                tables.hand_outs: {
                    "student_id": number,
                    "title": "x",
                    "request": "{}",
                    "made_at": now,
                },
                tables.sheets: {"hand_out_id": number, "student_id": number},
                tables.sent_takes: {"student_id": number, "source": str(number), **take},
                tables.invitations: {"student_id": number, "made_at": now},
            }
            for table, row in rows.items():
                connection.execute(insert(table), row)
        unheard = said_now(Purpose.HEARING, Giver.PLAYER, is_given=False)
        keep_consent(connection, CORINS, unheard)


def test_every_address_has_a_row_and_no_row_is_left_over() -> None:
    assert RIGHTS.keys() == ROWS.keys()


def _may(at: tuple[str, str]) -> set[str]:
    """Who may, of all who come, where the thing is Ansel's."""
    may = set().union(*(MEANS[word] for word in ROWS[at]))
    return may | {"colleague"} if "teacher" in may and not RIGHTS[at].thing else may


@pytest.mark.parametrize("at", ROWS, ids=" ".join)
def test_who_may_may(full: Desk, visitors: dict[str, Visitor], at: tuple[str, str]) -> None:
    numbers = dict.fromkeys(("number", *NUMBER.findall(at[1])), ANSELS)
    may = set()
    with full.school.reading() as connection:
        for name, visitor in visitors.items():
            with suppress(HalfstepError):
                demand(connection, visitor, RIGHTS[at], numbers)
                may.add(name)
    assert may == _may(at)


def _asked(browser: TestClient, at: tuple[str, str], number: int) -> tuple[int, str]:
    method, path = at
    path = NUMBER.sub(lambda found: WORDS.get(found[1], str(number)), path)
    sent = {"json": {}} if "/api/" in path else {}
    answer = browser.request(method, path, **sent)
    return answer.status_code, answer.text


@pytest.mark.parametrize("at", [at for at in ROWS if "anybody" not in ROWS[at]], ids=" ".join)
def test_who_may_not_is_refused(browsers: dict[str, TestClient], at: tuple[str, str]) -> None:
    for name in browsers.keys() - _may(at):
        asked = {"colleague": "staff", "guardian": "ward", **dict.fromkeys(PLAYING, "own")}
        is_hidden = asked.get(name) in ROWS[at]
        assert _asked(browsers[name], at, ANSELS)[0] == (404 if is_hidden else 403), name


@pytest.mark.parametrize("at", NAMED, ids=" ".join)
def test_what_is_somebody_elses_answers_as_if_it_did_not_exist(
    browsers: dict[str, TestClient], at: tuple[str, str]
) -> None:
    missing = _asked(browsers["corin" if "own" in ROWS[at] else "owner"], at, NOBODYS)
    assert missing[0] == 404
    for name, is_asked, others in (
        ("corin", "own" in ROWS[at], ANSELS),
        ("guardian", "ward" in ROWS[at], CORINS),
        ("colleague", "staff" in ROWS[at], ANSELS),
    ):
        if is_asked:
            theirs = _asked(browsers[name], at, others)
            assert theirs == _asked(browsers[name], at, NOBODYS)
            assert theirs[0] == 404


TEACHERS_TAKES = [at for at in NAMED if RIGHTS[at].thing is Thing.TAKE and "staff" in ROWS[at]]


@pytest.mark.parametrize("at", TEACHERS_TAKES, ids=" ".join)
def test_a_take_that_may_not_be_heard_answers_who_teaches_as_if_it_did_not_exist(
    browsers: dict[str, TestClient], at: tuple[str, str]
) -> None:
    for name in STAFF:
        assert _asked(browsers[name], at, CORINS) == _asked(browsers[name], at, NOBODYS)
        assert _asked(browsers[name], at, CORINS)[0] == 404
