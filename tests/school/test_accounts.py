"""Is who signs in the one it is said to be, wherever and however often it is tried?"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from argon2 import PasswordHasher
from sqlalchemy import select, update

from fresh_schools import fresh_school
from halfstep.app.tasks import account_tasks
from halfstep.app.tasks.account_tasks import (
    JoinByLink,
    SignIn,
    begin_codes,
    change_password,
    end_codes,
    invite,
    join_by_link,
    let_out,
    new_link,
    sign_in,
    sign_out,
)
from halfstep.errors import BriefError, NoSuchThing, NotAllowed, TooManyTries
from halfstep.instruments import find_instrument
from halfstep.level import Level
from halfstep.school import passwords, sessions
from halfstep.school.accounts import (
    Account,
    AccountRole,
    account_named,
    every_account,
    is_school,
    keep_wards,
)
from halfstep.school.attempts import COUNTS_FOR, MOST_OF_ADDRESS, MOST_OF_NAME
from halfstep.school.audit import Audited, latest_lines
from halfstep.school.data_folder import DATABASE_FILE
from halfstep.school.database import School
from halfstep.school.leaving import erase_student
from halfstep.school.passwords import demand_good, is_right, password_hash
from halfstep.school.second_factor import step_of_code
from halfstep.school.sessions import IDLE, LINK_LASTS, LONGEST, session_of, sessions_of
from halfstep.school.students import add_student, new_student
from halfstep.school.tables import account_links, attempts

SECRET = b"of this folder"
GOOD, OTHER = "lamp stairs coat violet", "nine wet umbrellas dry"


@pytest.fixture(autouse=True)
def _little_work(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Hashes that are soon reckoned, but where it is asked how they are made."""
    if "hash" in request.node.name or "much_work" in request.node.name:
        return
    hasher = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
    monkeypatch.setattr(passwords, "_hasher", lambda: hasher)
    monkeypatch.setattr(passwords, "_NOBODYS", hasher.hash("nobody's"))


@pytest.fixture
def school(tmp_path: Path) -> Iterator[School]:
    with fresh_school(tmp_path / "data") as made:
        yield made


@pytest.fixture
def owner(school: School) -> Account:
    """An owner who has chosen a password."""
    join_by_link(school, SECRET, JoinByLink(invite(school, "Wilma", AccountRole.OWNER), GOOD))
    return named(school, "Wilma")


def named(school: School, name: str) -> Account:
    with school.reading() as connection:
        account = account_named(connection, name)
    assert account is not None
    return account


def opens(school: School, word: str) -> bool:
    with school.reading() as connection:
        return session_of(connection, word) is not None


def try_it(
    school: School, name: str = "Wilma", password: str = GOOD, code: str = "", **more: str
) -> str:
    return sign_in(school, SECRET, SignIn(name, password, code, **more))


def deeds(school: School) -> list[Audited]:
    with school.reading() as connection:
        return [line.deed for line in latest_lines(connection)]


# Passwords


@pytest.mark.parametrize(
    "password",
    ["short", "1234567890", "password123", "saxophone1", "aaaaaaaaaaaa", "Wilma Wilma 1", ""],
)
def test_a_password_that_is_soon_guessed_is_refused(password: str) -> None:
    with pytest.raises(BriefError, match="password"):
        demand_good(password, of=("Wilma",))


def test_words_that_do_not_belong_together_are_taken() -> None:
    demand_good(GOOD, of=("Wilma",))
    demand_good("𝄞 ключ 鍵 nøgle", of=("Wilma",))
    with pytest.raises(BriefError, match="or fewer"):
        demand_good("x" * (passwords.MOST_LETTERS + 1))


@pytest.mark.slow
def test_a_hash_is_argon2id_with_its_own_salt() -> None:
    """RFC 9106, section 4: the second recommended setting, 64 MiB and three passes."""
    first, second = password_hash(GOOD), password_hash(GOOD)
    assert first != second
    assert first.startswith("$argon2id$v=19$m=65536,t=3,p=4$")
    assert is_right(first, GOOD)
    assert not is_right(first, OTHER)
    longest = password_hash("x" * passwords.MOST_LETTERS)
    assert not is_right(longest, "x" * passwords.MOST_LETTERS + "y"), "none is cut off"
    assert not is_right("", GOOD)
    assert not is_right("no hash", GOOD)


@pytest.mark.slow
def test_nobody_s_name_takes_as_much_work_as_somebody_s(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same hash is reckoned, whether there is one to compare with or not."""
    checked: list[str] = []
    hasher = passwords._hasher()

    class Noting:
        def verify(self, kept: str, password: str) -> bool:
            checked.append(kept.rpartition("$")[0].partition("$m")[2].partition("$")[0])
            return hasher.verify(kept, password)

    monkeypatch.setattr(passwords, "_hasher", Noting)
    assert not is_right("", "anything")
    assert not is_right(hasher.hash(GOOD), "anything")
    assert checked[0] == checked[1]


# Links


def test_a_link_works_once(school: School) -> None:
    word = invite(school, "Wilma", AccountRole.OWNER)
    assert opens(school, join_by_link(school, SECRET, JoinByLink(word, GOOD)))
    with pytest.raises(NoSuchThing, match="new one"):
        join_by_link(school, SECRET, JoinByLink(word, OTHER))
    assert try_it(school)


def test_a_bad_password_leaves_the_link_as_it_is(school: School) -> None:
    word = invite(school, "Wilma", AccountRole.OWNER)
    with pytest.raises(BriefError):
        join_by_link(school, SECRET, JoinByLink(word, "short"))
    assert join_by_link(school, SECRET, JoinByLink(word, GOOD))


def test_a_link_is_too_old_after_a_week(school: School) -> None:
    word = invite(school, "Wilma", AccountRole.OWNER)
    with school.writing() as connection:
        old = datetime.now(UTC) - timedelta(seconds=1)
        connection.execute(update(account_links).values(expires_at=old))
    with pytest.raises(NoSuchThing, match="too old"):
        join_by_link(school, SECRET, JoinByLink(word, GOOD))
    assert timedelta(days=7) == LINK_LASTS


def test_a_new_link_ends_the_one_before_and_what_was_signed_in(
    school: School, owner: Account
) -> None:
    session = try_it(school)
    first = new_link(school, owner.number, by=owner)
    second = new_link(school, owner.number, by=owner)
    with pytest.raises(NoSuchThing):
        join_by_link(school, SECRET, JoinByLink(first, OTHER))
    assert join_by_link(school, SECRET, JoinByLink(second, OTHER))
    assert not opens(school, session)
    with pytest.raises(NotAllowed):
        try_it(school)


def test_no_word_that_lets_in_is_in_the_files(school: School, owner: Account) -> None:
    words = [try_it(school), new_link(school, owner.number, by=owner)]
    kept = b"".join(path.read_bytes() for path in school.folder.glob(f"{DATABASE_FILE}*"))
    assert kept
    for word in (*words, GOOD):
        assert word.encode() not in kept


# Sessions


@pytest.mark.usefixtures("owner")
def test_a_name_is_known_however_it_is_written(school: School) -> None:
    assert opens(school, try_it(school, "  wILMA "))


@pytest.mark.usefixtures("owner")
@pytest.mark.parametrize(
    ("name", "password"),
    [("Wilma", OTHER), ("Wilma", ""), ("Nobody", GOOD), ("", ""), ("\0", "\0")],
)
def test_what_is_wrong_is_refused_in_the_same_words(
    school: School, name: str, password: str
) -> None:
    with pytest.raises(NotAllowed) as refused:
        try_it(school, name, password)
    assert str(refused.value) == account_tasks._WRONG
    assert deeds(school)[0] is Audited.REFUSED


def test_sessions_are_listed_and_ended_one_by_one(school: School, owner: Account) -> None:
    here, there = try_it(school, device="Firefox on Linux"), try_it(school, device="x" * 500)
    with school.reading() as connection:
        listed = sessions_of(connection, owner)
        ours = session_of(connection, here)
    assert ours is not None
    assert [len(one.device) for one in listed[:1]] == [sessions.LONGEST_DEVICE]
    sign_out(school, owner, ours.number)
    assert not opens(school, here)
    assert opens(school, there)
    with pytest.raises(NoSuchThing):
        sign_out(school, owner, ours.number)


def test_nobody_ends_anothers_session(school: School, owner: Account) -> None:
    word = invite(school, "Otis", AccountRole.TEACHER, by=owner)
    join_by_link(school, SECRET, JoinByLink(word, OTHER))
    with school.reading() as connection:
        (his,) = sessions_of(connection, named(school, "Otis"))
    with pytest.raises(NoSuchThing):
        sign_out(school, owner, his.number, elsewhere=True)


@pytest.mark.usefixtures("owner")
@pytest.mark.parametrize(
    ("begun", "seen"),
    [(IDLE + timedelta(hours=1),) * 2, (LONGEST + timedelta(hours=1), timedelta())],
)
def test_a_session_ends_by_itself(school: School, begun: timedelta, seen: timedelta) -> None:
    word, now = try_it(school), datetime.now(UTC)
    with school.writing() as connection:
        values = {"begun_at": now - begun, "seen_at": now - seen}
        connection.execute(update(sessions.sessions).values(values))
    assert not opens(school, word)


def test_another_password_signs_out_everywhere_else(school: School, owner: Account) -> None:
    here, there = try_it(school), try_it(school)
    with school.reading() as connection:
        ours = session_of(connection, here)
    assert ours is not None
    with pytest.raises(BriefError, match="not your password"):
        change_password(school, owner, ours.number, old=OTHER, new=OTHER)
    change_password(school, owner, ours.number, old=GOOD, new=OTHER)
    assert opens(school, here)
    assert not opens(school, there)
    assert try_it(school, password=OTHER)


# Tries


@pytest.mark.usefixtures("owner")
def test_after_some_tries_even_the_right_password_waits(school: School) -> None:
    for _ in range(MOST_OF_NAME):
        with pytest.raises(NotAllowed):
            try_it(school, "wilma", OTHER)
    with pytest.raises(TooManyTries, match="wait 15 minutes"):
        try_it(school)
    with school.writing() as connection:
        connection.execute(update(attempts).values(at=datetime.now(UTC) - COUNTS_FOR))
    assert try_it(school)


@pytest.mark.slow
@pytest.mark.usefixtures("owner")
def test_a_right_password_begins_the_count_anew(school: School) -> None:
    for _ in range(2):
        for _ in range(MOST_OF_NAME - 1):
            with pytest.raises(NotAllowed):
                try_it(school, password=OTHER)
        assert try_it(school)


@pytest.mark.slow
def test_many_names_from_one_address_wait_too(
    school: School, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(account_tasks, "is_right", lambda *_: False)  # the work is not asked here
    for number in range(MOST_OF_ADDRESS):
        with pytest.raises(NotAllowed):
            try_it(school, f"name {number}", address="192.0.2.7")
    with pytest.raises(TooManyTries):
        try_it(school, "another", address="192.0.2.7")
    with pytest.raises(NotAllowed) as refused:
        try_it(school, "another", address="192.0.2.8")
    assert not isinstance(refused.value, TooManyTries)
    with school.reading() as connection:
        kept = set(connection.scalars(select(attempts.c.subject)))
    assert all(re.fullmatch("[0-9a-f]{64}", subject) for subject in kept)


# Codes


RFC_SECRET = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"


@pytest.mark.parametrize(
    ("second", "code"),
    [
        (59, "287082"),
        (1111111109, "081804"),
        (1111111111, "050471"),
        (1234567890, "005924"),
        (2000000000, "279037"),
    ],
)
def test_codes_are_those_of_the_standard(second: int, code: str) -> None:
    """RFC 6238, appendix B (SHA-1), the last six of its eight digits."""
    at = datetime.fromtimestamp(second, UTC)
    assert step_of_code(RFC_SECRET, code, at, after=0) == second // 30
    assert step_of_code(RFC_SECRET, f"{code[:3]} {code[3:]}", at, after=0) == second // 30
    assert step_of_code(RFC_SECRET, code, at, after=second // 30) is None
    assert step_of_code(RFC_SECRET, code, at + timedelta(minutes=5), after=0) is None
    assert step_of_code(RFC_SECRET, "½½½½½½", at, after=0) is None


def test_who_asks_for_codes_needs_one_and_none_counts_twice(school: School, owner: Account) -> None:
    import pyotp

    codes, now = pyotp.TOTP(RFC_SECRET), datetime.now(UTC).timestamp()
    wrong = "000000" if codes.now() != "000000" else "111111"
    with pytest.raises(BriefError, match="code"):
        begin_codes(school, owner, RFC_SECRET, wrong, GOOD)
    owner = named(school, "Wilma")
    with pytest.raises(BriefError, match="not your password"):
        begin_codes(school, owner, RFC_SECRET, codes.at(now - 30), OTHER)
    begin_codes(school, owner, RFC_SECRET, codes.at(now - 30), GOOD)
    for code in ("", codes.at(now - 30), codes.at(now - 300)):
        with pytest.raises(NotAllowed):
            try_it(school, code=code)
    assert try_it(school, code=codes.at(now + 30))
    with pytest.raises(NotAllowed):
        try_it(school, code=codes.at(now + 30))
    end_codes(school, named(school, "Wilma"), GOOD)
    assert try_it(school)


# Who lets whom in


def test_a_desk_becomes_a_school_with_its_first_owner_and_by_nobody_else_twice(
    school: School,
) -> None:
    with school.reading() as connection:
        assert not is_school(connection)
    with pytest.raises(NotAllowed, match="owner"):
        invite(school, "Otis", AccountRole.TEACHER)
    invite(school, "Wilma", AccountRole.OWNER)
    with school.reading() as connection:
        assert is_school(connection)
    with pytest.raises(NotAllowed, match="owner"):
        invite(school, "Mallory", AccountRole.OWNER)


def test_a_teacher_lets_in_no_teacher(school: School, owner: Account) -> None:
    invite(school, "Otis", AccountRole.TEACHER, by=owner)
    otis = named(school, "Otis")
    for role in (AccountRole.OWNER, AccountRole.TEACHER):
        with pytest.raises(NotAllowed):
            invite(school, "Mallory", role, by=otis)
    for change in (new_link, let_out):
        with pytest.raises(NotAllowed):
            change(school, owner.number, by=otis)
    assert [one.name for one in accounts_of(school)] == ["Otis", "Wilma"]


def accounts_of(school: School) -> tuple[Account, ...]:
    with school.reading() as connection:
        return every_account(connection)


def test_who_is_let_out_is_out_at_once_and_the_last_owner_stays(
    school: School, owner: Account
) -> None:
    word = invite(school, "Otis", AccountRole.TEACHER, by=owner)
    session = join_by_link(school, SECRET, JoinByLink(word, OTHER))
    let_out(school, named(school, "Otis").number, by=owner)
    assert not opens(school, session)
    with pytest.raises(NotAllowed):
        try_it(school, "Otis", OTHER)
    with pytest.raises(BriefError, match="only owner"):
        let_out(school, owner.number, by=owner)
    assert deeds(school)[:2] == [Audited.REFUSED, Audited.ENDED_ACCOUNT]


def test_who_is_erased_takes_the_own_account_and_the_guardian_s_along(
    school: School, owner: Account
) -> None:
    for name in ("Odile", "Bram"):
        with school.writing() as connection:
            add_student(connection, new_student(name, find_instrument("flute"), Level.BEGINNER))
    invite(school, "Odile", AccountRole.STUDENT, player=1, by=owner)
    invite(school, "Greta of one", AccountRole.GUARDIAN, player=1, by=owner)
    invite(school, "Hugo of two", AccountRole.GUARDIAN, player=1, by=owner)
    with school.writing() as connection:
        keep_wards(connection, named(school, "Hugo of two"), {1, 2})
    erase_student(school, "Odile")
    assert [one.name for one in accounts_of(school)] == ["Hugo of two", "Wilma"]
    kept = b"".join(path.read_bytes() for path in school.folder.glob(f"{DATABASE_FILE}*"))
    assert b"Hugo of two" in kept
    for name in (b"Odile", b"odile", b"Greta of one", b"greta of one"):
        assert name not in kept


def test_a_guardian_is_somebody_s(school: School, owner: Account) -> None:
    with pytest.raises(BriefError, match="player"):
        invite(school, "Greta", AccountRole.GUARDIAN, by=owner)
    with pytest.raises(NoSuchThing):
        invite(school, "Greta", AccountRole.GUARDIAN, player=7, by=owner)
    with pytest.raises(BriefError, match="signs in already"):
        invite(school, "wilma", AccountRole.TEACHER, by=owner)
