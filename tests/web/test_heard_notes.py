"""Do the notes of a take appear while it is recorded, and is it heard the same after all?"""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from queue import SimpleQueue
from time import monotonic, sleep
from typing import Any
from uuid import uuid4

import numpy as np
import pytest
from desks import ADDRESS, Desk
from starlette.testclient import TestClient

from halfstep.app import ear, ear_process
from halfstep.app.ear import Ear
from halfstep.app.ear_process import MOST_HEARINGS, Hearings, hear_all
from halfstep.app.tasks.job_endings import JOB_ENDINGS
from halfstep.app.tasks.job_work import Workplace, work_once
from halfstep.app.web.site import desk_site
from halfstep.school.leaving import erase_student
from halfstep.school.sent_takes import find_sent_take
from halfstep.services.early_hearing import GrowingRecording, early_notes
from tone_takes import TONE_RATE

PIECE_BYTES = 3 * TONE_RATE
"""A second and a half."""
NOTES = (60, 64, 67, 65, 62, 64)
WRITTEN = ["A4", "C♯5", "E5", "D5", "B4", "C♯5"]
"""As an alto saxophone reads them."""


def tones() -> bytes:
    """A note each half second, and silence around."""
    time = np.arange(round(0.45 * TONE_RATE)) / TONE_RATE
    rise = np.clip(time / 0.01, 0, 1) * np.clip((time[-1] - time) / 0.02, 0, 1)
    sound = np.zeros(TONE_RATE * (3 + len(NOTES) // 2))
    for number, midi in enumerate(NOTES):
        first = TONE_RATE + number * TONE_RATE // 2
        cycles = 440 * 2 ** ((midi - 69) / 12) * time
        note = sum(np.sin(2 * np.pi * partial * cycles) / partial**2 for partial in range(1, 5))
        sound[first : first + len(time)] += 0.2 * rise * note
    return (sound * 32767).astype("<i2").tobytes()


@dataclass
class Listener:
    """Who is told of recordings that grow."""

    hearings: Hearings = field(default_factory=Hearings)

    def hear(self, recording: GrowingRecording) -> None:
        self.hearings.add(recording)
        while self.hearings.are_due:
            self.hearings.hear_one()


def player_of(desk: Desk, hear: Callable[[GrowingRecording], None]) -> TestClient:
    """Ansel's browser, at a site with a listener."""
    browser = desk.student("Ansel")
    site = desk_site(desk.school, hear=hear)
    return TestClient(site, ADDRESS, cookies=dict(browser.cookies), follow_redirects=False)


def begun(player: TestClient, piece: str = "/room/items/1", **known: str) -> str:
    """The address of a recording that has begun."""
    key = str(uuid4())
    about = {"sample_rate": TONE_RATE, "headphones": True, "piece": piece} | known
    player.post("/room/recordings", json={"key": key, "piece": piece, "about": about})
    return f"/room/recordings/{key}"


def pieces(sound: bytes) -> Iterator[tuple[int, bytes]]:
    return ((at, sound[at : at + PIECE_BYTES]) for at in range(0, len(sound), PIECE_BYTES))


def notes_at(player: TestClient, address: str, after: int = 0) -> list[dict[str, Any]]:
    answer = player.get(f"{address}/notes?after={after}")
    assert answer.status_code == 200, answer.text
    notes: list[dict[str, Any]] = answer.json()["notes"]
    return notes


def folder_of(desk: Desk, address: str) -> Path:
    return desk.school.folder / "early" / "1" / address.rpartition("/")[2]


@pytest.mark.slow
def test_notes_appear_piece_by_piece_as_the_player_reads_them(desk: Desk) -> None:
    player = player_of(desk, Listener().hear)
    address = begun(player)
    told: list[dict[str, Any]] = []
    counts = []
    for at, piece in pieces(tones()):
        player.put(f"{address}?from={at}", content=piece)
        told += notes_at(player, address, len(told))
        counts.append(len(told))
    assert [note["note"] for note in told] == WRITTEN
    assert 0 < counts[1] < counts[-1]
    assert told[0]["at_s"] == pytest.approx(1.0, abs=0.03)
    assert all(note["sureness"] > 0.7 for note in told)


@pytest.mark.slow
def test_a_take_whose_job_no_release_can_read_says_why_it_is_not_heard(desk: Desk) -> None:
    player = player_of(desk, lambda _: None)
    address = begun(player, player.get("/room").headers["location"])
    player.put(f"{address}?from=0", content=tones())
    player.post(f"{address}/end", json={"frames": len(tones()) // 2, "about": {}})
    with desk.school.writing() as connection:
        connection.exec_driver_sql("UPDATE jobs SET request = '{}'")
    work_once(Workplace(desk.school, "one"))
    with desk.school.reading() as connection:
        assert find_sent_take(connection, 1).trouble


@pytest.mark.slow
def test_notes_are_spelled_in_the_key_that_is_played(desk: Desk) -> None:
    player = player_of(desk, lambda _: None)
    place = player.get("/room").headers["location"]
    names = []
    for key in ("D", "Db"):
        address = begun(player, place, key=key)
        folder_of(desk, address).mkdir(parents=True)
        (folder_of(desk, address) / "notes.jsonl").write_text("[1.0, 61, 0.9]\n[1.5, 66, 0.9]\n")
        names.append([note["note"] for note in notes_at(player, address)])
    assert names == [["A♯4", "D♯5"], ["B♭4", "E♭5"]]


@pytest.mark.slow
def test_a_take_that_was_listened_to_is_heard_as_any_other(desk: Desk) -> None:
    sound = tones()
    feedback = []
    for hear in (Listener().hear, lambda _: None):
        player = player_of(desk, hear)
        address = begun(player, player.get("/room").headers["location"])
        for at, piece in pieces(sound):
            player.put(f"{address}?from={at}", content=piece)
        was_heard = folder_of(desk, address).is_dir()
        answer = player.post(f"{address}/end", json={"frames": len(sound) // 2, "about": {}})
        work_once(Workplace(desk.school, "one"))
        with desk.school.reading() as connection:
            take = find_sent_take(connection, answer.json()["take"])
        feedback.append((was_heard, take.trouble, take.feedback.partition('"evidence"')[0]))
        assert not folder_of(desk, address).exists()
    with_ear, without = feedback
    assert (with_ear[0], without[0]) == (True, False)
    assert with_ear[1:] == without[1:]


@pytest.mark.slow
def test_words_stand_before_the_pages_are_made(desk: Desk) -> None:
    player = player_of(desk, lambda _: None)
    address = begun(player, player.get("/room").headers["location"])
    player.put(f"{address}?from=0", content=tones())
    player.post(f"{address}/end", json={"frames": len(tones()) // 2, "about": {}})
    endless = Workplace(desk.school, "one", endings={})
    job = work_once(endless)  # whose end does not stand with the take
    assert job is not None
    before = player.get("/room/takes/1/told").text
    assert "being heard" not in before
    assert "Bar by bar" in before
    assert "/takes/1/files/" not in player.get("/my-takes/1").text
    with desk.school.writing() as connection:
        JOB_ENDINGS[job.kind](desk.school, connection, job)
    assert "/takes/1/files/feedback.svg" in player.get("/my-takes/1").text


def test_notes_are_a_players_own(desk: Desk) -> None:
    player = player_of(desk, lambda _: None)
    address = begun(player)
    assert notes_at(player, address) == []
    assert desk.student("Corin").get(f"{address}/notes").status_code == 404
    assert desk.teacher().get(f"{address}/notes").status_code == 403
    for after in ("-1", "two", "1" * 10, "½"):
        assert player.get(f"{address}/notes?after={after}").status_code == 422


@pytest.mark.slow
def test_what_was_heard_goes_with_a_take_that_is_thrown_away_and_with_its_player(
    desk: Desk,
) -> None:
    player = player_of(desk, Listener().hear)
    addresses = [begun(player), begun(player)]
    for address in addresses:
        player.put(f"{address}?from=0", content=tones())
        assert folder_of(desk, address).is_dir()
    assert player.delete(addresses[0]).status_code == 204
    assert not folder_of(desk, addresses[0]).exists()
    erase_student(desk.school, "Ansel")
    assert not folder_of(desk, addresses[1]).exists()


def test_what_is_left_is_swept_away_and_what_may_be_of_use_stays(desk: Desk) -> None:
    player = player_of(desk, lambda _: None)
    begun(player)
    old, new = folder_of(desk, "/old"), folder_of(desk, "/new")
    for folder in (old, new):
        folder.mkdir(parents=True)
    os.utime(old, (0, 0))
    begun(player)
    assert (old.exists(), new.exists()) == (False, True)
    assert (desk.school.folder / "early").stat().st_mode & 0o077 == 0


def test_what_cannot_be_heard_is_let_go(tmp_path: Path) -> None:
    hearings = Hearings()
    hearings.add(GrowingRecording(tmp_path / "gone.pcm", 8000, "flute", tmp_path / "heard"))
    hearings.hear_one()
    assert (hearings.are_due, len(hearings)) == (False, 0)


def test_no_more_are_listened_to_at_once_than_memory_is_for(tmp_path: Path) -> None:
    hearings = Hearings()
    for number in range(MOST_HEARINGS + 5):
        sound = tmp_path / f"{number}.pcm"
        sound.write_bytes(bytes(32_000))
        hearings.add(GrowingRecording(sound, 8000, "flute", tmp_path / str(number)))
        hearings.hear_one()
    assert len(hearings) == MOST_HEARINGS


def test_an_ear_ends_when_nobody_has_recorded_for_long(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ear_process, "LOOKS_EVERY_S", 0.01)
    monkeypatch.setattr(ear_process, "ENDS_AFTER_S", 0.02)
    hearings = Hearings()
    hear_all(SimpleQueue(), hearings)
    assert not hearings.are_due


@pytest.mark.slow
def test_who_goes_on_where_another_stopped_tells_no_note_twice(tmp_path: Path) -> None:
    sound = tones()
    recording = GrowingRecording(tmp_path / "take.pcm", TONE_RATE, "flute", tmp_path / "heard")
    for length in (2 * PIECE_BYTES, len(sound)):
        recording.sound.write_bytes(sound[:length])
        Listener().hear(recording)
    assert [note.midi for note in early_notes(recording.folder)] == [*NOTES]


@pytest.mark.slow
def test_an_ear_that_is_killed_is_followed_by_another(
    desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ear, "PAUSE_S", 0.0)
    recording = GrowingRecording(tmp_path / "take.pcm", TONE_RATE, "flute", tmp_path / "heard")
    recording.sound.write_bytes(tones())
    with Ear(desk.school) as listener:
        assert listener.process is None
        listener.tell(GrowingRecording(tmp_path / "none.pcm", TONE_RATE, "flute", tmp_path / "no"))
        first = listener.process
        assert first is not None
        os.kill(first, signal.SIGKILL)
        os.waitid(os.P_PID, first, os.WEXITED | os.WNOWAIT)
        listener.tell(recording)
        assert listener.process != first
        until_s = monotonic() + 60.0
        while not early_notes(recording.folder) and monotonic() < until_s:
            sleep(0.05)
    assert [note.midi for note in early_notes(recording.folder)] == [*NOTES]
    assert listener.process is None
