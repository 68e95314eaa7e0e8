"""Do machines that share a database and a store of files, and no folder, make one school?

A recording comes to two of them in pieces, a third hears it, and any of them shows it; a copy is a
folder for one machine and becomes a school of several again; who is erased leaves no byte.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack
from datetime import date
from pathlib import Path
from typing import NamedTuple
from uuid import uuid4

import pytest
from desks import PLAYERS, Desk, fill_class
from handed_out import chart_of, form_for, small_lesson
from room_takes import LEAD_S, played

from halfstep.app.tasks.job_work import Workplace, answer_call
from halfstep.errors import BriefError
from halfstep.school.backup import back_up, restore
from halfstep.school.data_folder import DATABASE_VARIABLE, FILES_VARIABLE
from halfstep.school.database import School
from halfstep.school.erasures import ERASED_FILE
from halfstep.school.jobs import JobState, jobs_in_state
from halfstep.school.kept_takes import sweep
from halfstep.school.leaving import erase_student
from halfstep.school.retention import let_go
from object_store import ObjectStore, object_store
from postgres_server import PostgresServer, postgres_programs, postgres_server
from tone_takes import TONE_RATE

pytestmark = [pytest.mark.slow, pytest.mark.xdist_group("server")]


class Machines(NamedTuple):
    """Three machines of one school."""

    first: Desk
    second: Desk
    third: Desk
    store: ObjectStore
    bucket: str
    server: PostgresServer


def told(_share: float, _what: str) -> None:
    """Nobody looks."""


@pytest.fixture
def machines(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Machines]:
    programs = postgres_programs()
    if programs is None:
        pytest.skip("PostgreSQL is not installed (Debian: postgresql)")
    with ExitStack() as stack:
        store = stack.enter_context(object_store())
        server = stack.enter_context(postgres_server(programs))
        bucket = store.new_bucket()
        monkeypatch.setenv(DATABASE_VARIABLE, server.new_database("district"))
        monkeypatch.setenv(FILES_VARIABLE, f"s3://{bucket}/one")
        desks = [Desk(stack.enter_context(School(tmp_path / name))) for name in ("a", "b", "c")]
        fill_class(desks[0], PLAYERS)
        yield Machines(*desks, store, bucket, server)


def work(desk: Desk) -> None:
    """Do on this machine what waits."""
    with desk.school.reading() as connection:
        waiting = jobs_in_state(connection, JobState.WAITING)
    for job in waiting:
        done = answer_call(Workplace(desk.school, "ada"), job.number)
        assert done is not None
        assert (done.state, done.trouble) == (JobState.DONE, "")


def raw(folder: Path) -> bytes:
    """All bytes below a folder."""
    return b"".join(path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file())


def test_what_one_machine_is_sent_another_hears_and_a_third_plays(
    machines: Machines, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first, second, third, store, bucket, server = machines
    word = first.players_word("Ansel")
    here, there = first.visitor(word), second.visitor(word)
    here.get("/room")
    place = f"/room/days/{date.today().isoformat()}/items/1"
    sound, key = played(first, "Ansel", place), str(uuid4())
    about = {"sample_rate": TONE_RATE, "headphones": True}
    about |= {"begun_at": 10.0, "first_beat_at": 10.0 + LEAD_S}
    here.post("/room/recordings", json={"key": key, "piece": place, "about": about})
    half = len(sound) // 2
    assert here.put(f"/room/recordings/{key}?from=0", content=sound[:half]).json()["have"] == half
    assert there.get(f"/room/recordings/{key}").json() == {"have": half}
    whole = there.put(f"/room/recordings/{key}?from={half}", content=sound[half:]).json()["have"]
    assert whole == len(sound)
    for browser in (there, here):
        end = browser.post(f"/room/recordings/{key}/end", json={"frames": len(sound) // 2})
        assert (end.status_code, end.json()["take"]) == (201, 1)

    work(third)
    page = here.get("/my-takes/1")
    assert page.status_code == 200
    assert "feedback.svg" in page.text
    assert "<svg" in there.get("/takes/1/files/feedback.svg").text
    recording = there.get("/takes/1/recording")
    assert sound in recording.content
    part = there.get("/takes/1/recording", headers={"range": "bytes=1000-1999"})
    assert (part.status_code, part.content) == (206, recording.content[1000:2000])
    assert part.headers["content-range"] == f"bytes 1000-1999/{len(recording.content)}"
    last = there.get("/takes/1/recording", headers={"range": "bytes=-10"})
    assert (last.status_code, last.content) == (206, recording.content[-10:])
    beyond = there.get("/takes/1/recording", headers={"range": "bytes=99999999-"})
    assert beyond.status_code == 416
    assert there.get("/takes/2/recording").status_code == 404

    monkeypatch.setattr("halfstep.app.tasks.job_work.make_files", small_lesson)
    teacher = second.teacher()
    teacher.post("/hand-outs", data=form_for(chart_of(second), whom="student-1"))
    work(first)
    assert there.get("/sheets/1/handout-alto-sax.pdf").content.startswith(b"%PDF-")
    assert teacher.get("/hand-outs/1/class.pdf").content.startswith(b"%PDF-")
    assert teacher.get("/hand-outs/1/set.zip").content.startswith(b"PK")
    assert teacher.get("/ready").text == "ready"

    kept_here = b"".join(raw(tmp_path / name) for name in ("a", "b", "c"))
    for mark in (sound[-half:][:5_000], sound[half // 2 :][:5_000]):
        assert any(mark in one for one in store.objects(bucket).values())
        assert mark not in kept_here, "no machine keeps it"

    left = ("made/99-killed/files/a.pdf", "takes/1/killed.wav")
    for name in left:
        second.school.files.put(name, b"left by who was killed")
    let_go(third.school)
    with third.school.reading() as connection:
        sweep(third.school, connection, older_than_s=-60.0)
    assert not any(second.school.files.exists(name) for name in left)
    assert there.get("/takes/1/recording").content == recording.content

    copy = back_up(first.school, tmp_path / "copies", told).folder
    erase_student(third.school, "Ansel")
    assert sorted(store.objects(bucket)) == ["one/door.secret"]
    (tmp_path / "copies" / ERASED_FILE).unlink()  # as though nobody had been erased since
    monkeypatch.delenv(DATABASE_VARIABLE)
    monkeypatch.delenv(FILES_VARIABLE)
    assert restore(copy, tmp_path / "own", told) == ()
    with School(tmp_path / "own") as own:
        assert Desk(own).visitor(word).get("/takes/1/recording").content == recording.content
        again = back_up(own, tmp_path / "more", told).folder
    fresh = store.new_bucket()
    monkeypatch.setenv(DATABASE_VARIABLE, server.new_database("again"))
    monkeypatch.setenv(FILES_VARIABLE, f"s3://{fresh}")
    assert restore(again, tmp_path / "d", told) == ()
    assert "takes/1" in str(sorted(store.objects(fresh)))
    monkeypatch.setenv(DATABASE_VARIABLE, server.new_database("third"))
    with pytest.raises(BriefError, match="has something in it; give an empty folder"):
        restore(again, tmp_path / "f", told)
    monkeypatch.setenv(DATABASE_VARIABLE, server.address("again"))
    with School(tmp_path / "e") as district:
        assert Desk(district).visitor(word).get("/takes/1/recording").content == recording.content
