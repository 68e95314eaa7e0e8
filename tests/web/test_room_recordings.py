"""Does a recording come whole from the practice room, in pieces, once, whatever is in the way?"""

from __future__ import annotations

import io
import json
import os
import wave
from typing import Any
from uuid import uuid4

import pytest
from desks import Desk
from starlette.testclient import TestClient

from halfstep.render.wav_file import wav_comment
from halfstep.school import room_recordings
from halfstep.school.leaving import erase_student, export_student
from halfstep.school.retention import let_go
from halfstep.school.room_recordings import RoomRecording, recording_of_take, recordings_of
from halfstep.school.sent_takes import SentTake, sent_takes_of

RATE = 48_000
SOUND = bytes(range(256)) * 150
"""19,200 frames."""
ABOUT = {"sample_rate": RATE, "title": "Two Roads", "tempo_bpm": 96, "headphones": True}


def begun(player: TestClient, key: str = "", **changed: Any) -> str:
    """The address of a recording that has begun."""
    key = key or str(uuid4())
    sent = {"key": key, "piece": "/room/items/1", "about": ABOUT} | changed
    answer = player.post("/room/recordings", json=sent)
    assert answer.status_code == 200, answer.text
    return f"/room/recordings/{key}"


def grown(player: TestClient, address: str, first: int, piece: bytes) -> int:
    """How many bytes stand after a piece."""
    have: int = player.put(f"{address}?from={first}", content=piece).json()["have"]
    return have


def ended(player: TestClient, address: str, frames: int = len(SOUND) // 2) -> dict[str, Any]:
    """What is told at the end."""
    sent = {"frames": frames, "about": {"first_beat_at": 2.5}}
    answer = player.post(f"{address}/end", json=sent, headers={"accept": "application/json"})
    told: dict[str, Any] = answer.json() | {"status": answer.status_code}
    return told


def takes(desk: Desk) -> tuple[SentTake, ...]:
    """What Ansel sent."""
    with desk.school.reading() as connection:
        return sent_takes_of(connection, 1)


def recordings(desk: Desk) -> tuple[RoomRecording, ...]:
    with desk.school.reading() as connection:
        return recordings_of(connection, 1)


def files(desk: Desk) -> list[str]:
    """The names of what grows on the disk."""
    return [path.name for path in (desk.school.folder / "recordings").rglob("*.*")]


def test_pieces_become_one_take_with_what_is_known_of_it(desk: Desk) -> None:
    ansel = desk.student("Ansel")
    address = begun(ansel)
    assert grown(ansel, address, 0, SOUND[:10_000]) == 10_000
    assert grown(ansel, address, 10_000, SOUND[10_000:]) == len(SOUND)
    told = ended(ansel, address)
    assert told == {"have": len(SOUND), "take": 1, "address": "/my-takes/1", "status": 201}
    (take,) = takes(desk)
    assert take.name == "Two Roads"
    path = desk.school.folder / "takes" / take.file
    with wave.open(str(path)) as sound:  # Python's own reader
        assert (sound.getnchannels(), sound.getsampwidth(), sound.getframerate()) == (1, 2, RATE)
        assert sound.readframes(sound.getnframes()) == SOUND
    assert json.loads(wav_comment(path) or "") == ABOUT | {"first_beat_at": 2.5}
    with desk.school.reading() as connection:
        recording = recording_of_take(connection, take.number)
    assert recording is not None
    assert (recording.piece, recording.about["first_beat_at"]) == ("/room/items/1", 2.5)
    assert files(desk) == []
    assert ansel.get(told["address"]).status_code == 200


def test_a_piece_sent_twice_or_too_early_changes_nothing(desk: Desk) -> None:
    ansel = desk.student("Ansel")
    address = begun(ansel)
    assert grown(ansel, address, 4_000, SOUND[4_000:8_000]) == 0
    assert grown(ansel, address, 0, SOUND[:5_000]) == 5_000
    assert grown(ansel, address, 0, SOUND[:5_000]) == 5_000
    assert grown(ansel, address, 3_000, SOUND[3_000:9_000]) == 9_000
    assert ansel.get(address).json() == {"have": 9_000}
    assert begun(ansel, address.rpartition("/")[2]) == address
    assert ansel.get(address).json() == {"have": 9_000}
    (path,) = (desk.school.folder / "recordings").rglob("*.pcm")
    assert path.read_bytes() == SOUND[:9_000]


def test_an_end_asks_for_the_bytes_that_lack_and_is_the_same_when_it_comes_again(
    desk: Desk,
) -> None:
    ansel = desk.student("Ansel")
    address = begun(ansel)
    grown(ansel, address, 0, SOUND[:5_000])
    assert ended(ansel, address) == {"have": 5_000, "status": 409}
    assert takes(desk) == ()
    grown(ansel, address, 5_000, SOUND[5_000:])
    first = ended(ansel, address)
    assert ended(ansel, address)["take"] == first["take"]
    assert grown(ansel, address, 0, SOUND) == 0
    assert ansel.get(address).json()["address"] == "/my-takes/1"
    assert len(takes(desk)) == 1
    assert files(desk) == []


@pytest.mark.slow
def test_the_same_sound_under_another_key_is_the_same_take(desk: Desk) -> None:
    ansel = desk.student("Ansel")
    for _ in range(2):
        address = begun(ansel)
        grown(ansel, address, 0, SOUND)
        assert ended(ansel, address)["take"] == 1
    assert len(takes(desk)) == 1


@pytest.mark.slow
def test_what_is_thrown_away_is_gone_and_what_was_sent_stays(desk: Desk) -> None:
    ansel = desk.student("Ansel")
    address = begun(ansel)
    grown(ansel, address, 0, SOUND)
    assert ansel.delete(address).status_code == 204
    assert files(desk) == []
    assert ansel.get(address).status_code == 404
    address = begun(ansel)
    grown(ansel, address, 0, SOUND)
    ended(ansel, address)
    assert "your teacher has it" in ansel.delete(address).text
    assert len(takes(desk)) == 1


@pytest.mark.slow
def test_nobody_reaches_the_recording_of_another(desk: Desk) -> None:
    ansel, corin = desk.student("Ansel"), desk.student("Corin")
    address = begun(ansel)
    grown(ansel, address, 0, SOUND)
    assert corin.get(address).status_code == 404
    assert corin.put(f"{address}?from=0", content=SOUND).status_code == 404
    assert corin.delete(address).status_code == 404
    assert corin.post(f"{address}/end", json={"frames": 9}).status_code == 404
    begun(corin, address.rpartition("/")[2])
    assert corin.get(address).json() == {"have": 0}
    assert ansel.get(address).json() == {"have": len(SOUND)}
    for stranger in (desk.visitor(), desk.teacher()):
        sent = {"key": str(uuid4()), "piece": "/room/items/1", "about": ABOUT}
        assert stranger.post("/room/recordings", json=sent).status_code == 403
        assert stranger.get(address).status_code == 403


@pytest.mark.parametrize(
    ("changed", "line"),
    [
        ({"key": "../../1"}, "Send a UUID"),
        ({"key": 7}, "Send a UUID"),
        ({"piece": "https://elsewhere/"}, "address of what is played"),
        ({"piece": "/room/" + "x" * 300}, "address of what is played"),
        ({"piece": None}, "address of what is played"),
        ({"about": []}, "as an object"),
        ({"about": {}}, "samples a second"),
        ({"about": {"sample_rate": 1e999}}, "no JSON object"),
        ({"about": {"sample_rate": True}}, "samples a second"),
        ({"about": {"sample_rate": 700}}, "samples a second"),
        ({"about": {"sample_rate": RATE, "x": "y" * 30_000}}, "20000 letters or less"),
    ],
)
def test_what_cannot_be_begun_is_one_line(desk: Desk, changed: Any, line: str) -> None:
    sent = {"key": str(uuid4()), "piece": "/room/items/1", "about": ABOUT} | changed
    answer = desk.student("Ansel").post(
        "/room/recordings",
        content=json.dumps(sent),
        headers={"accept": "application/json"},
    )
    assert answer.status_code == 422
    assert line.casefold() in answer.json()["error"].casefold()
    assert "\n" not in answer.json()["error"]


def test_a_fault_is_a_page_to_a_browser_and_data_to_a_script(desk: Desk) -> None:
    ansel = desk.student("Ansel")
    address = f"/room/recordings/{uuid4()}"
    assert ansel.get(address).headers["content-type"].startswith("text/html")
    answer = ansel.get(address, headers={"accept": "application/json"})
    assert "no such recording" in answer.json()["error"]


@pytest.mark.parametrize("body", [b"", b"[1]", b"\xff", b"[" * 90_000, b'{"frames": -1}'])
def test_what_is_no_end_is_one_line(desk: Desk, body: bytes) -> None:
    ansel = desk.student("Ansel")
    answer = ansel.post(f"{begun(ansel)}/end", content=body)
    assert answer.status_code == 422
    assert takes(desk) == ()


@pytest.mark.parametrize("first", ["", "-1", "1.5", "٣", "9" * 13, "x"])
def test_what_says_no_byte_to_begin_with_is_one_line(desk: Desk, first: str) -> None:
    ansel = desk.student("Ansel")
    answer = ansel.put(f"{begun(ansel)}?from={first}", content=SOUND)
    assert answer.status_code == 422
    assert "the byte that the piece begins with" in answer.text


@pytest.mark.slow
def test_nothing_recorded_and_more_than_was_recorded_become_no_take(desk: Desk) -> None:
    ansel = desk.student("Ansel")
    assert ended(ansel, begun(ansel), 0)["status"] == 422
    address = begun(ansel)
    grown(ansel, address, 0, SOUND)
    assert ended(ansel, address, 5)["status"] == 422
    assert takes(desk) == ()


def test_pieces_and_recordings_have_bounds(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    ansel = desk.student("Ansel")
    address = begun(ansel)
    assert ansel.put(f"{address}?from=0", content=bytes(4_000_001)).status_code == 413
    monkeypatch.setattr("halfstep.app.tasks.recording_tasks.MOST_BYTES", len(SOUND))
    assert grown(ansel, address, 0, SOUND) == len(SOUND)
    answer = ansel.put(f"{address}?from={len(SOUND)}", content=SOUND)
    assert (answer.status_code, "too long" in answer.text) == (422, True)
    assert ansel.get(address).json() == {"have": len(SOUND)}


@pytest.mark.slow
def test_beyond_the_most_the_oldest_that_was_not_sent_goes(desk: Desk) -> None:
    ansel = desk.student("Ansel")
    addresses = [begun(ansel) for _ in range(room_recordings.MOST_UNFINISHED + 1)]
    assert ansel.get(addresses[0]).status_code == 404
    grown(ansel, addresses[1], 0, SOUND)
    assert len(recordings(desk)) == room_recordings.MOST_UNFINISHED
    # its browser still has it, and begins anew
    assert grown(ansel, begun(ansel, addresses[0].rpartition("/")[2]), 0, SOUND) == len(SOUND)
    assert len(files(desk)) == 1  # that made the next one the oldest


@pytest.mark.slow
def test_what_was_left_for_days_is_swept_and_a_take_is_not(desk: Desk) -> None:
    ansel = desk.student("Ansel")
    sent, left = begun(ansel), begun(ansel)
    for address in (sent, left):
        grown(ansel, address, 0, SOUND)
    ended(ansel, sent)
    orphan = desk.school.folder / "recordings" / "1" / "orphan.wav"
    orphan.write_bytes(SOUND)
    os.utime(orphan, (0, 0))
    with desk.school.writing() as connection:
        connection.exec_driver_sql("UPDATE room_recordings SET begun_at = '2026-01-01 10:00:00.0'")
    begun(desk.student("Corin"))
    assert files(desk) == ["orphan.wav"], "who begins one does not wait for all files to be seen"
    let_go(desk.school)
    assert files(desk) == []
    assert [recording.take for recording in recordings(desk)] == [1]


@pytest.mark.slow
def test_a_full_disk_is_one_line_and_keeps_what_was_acknowledged(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    ansel = desk.student("Ansel")
    address = begun(ansel)
    grown(ansel, address, 0, SOUND[:8_000])

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr("halfstep.school.growing_files.os.fsync", full)
        answer = ansel.put(f"{address}?from=8000", content=SOUND[8_000:])
        assert answer.status_code == 507
        assert "No space left on device; it stays in your browser" in answer.text
    assert ansel.get(address).json() == {"have": 8_000}
    grown(ansel, address, 8_000, SOUND[8_000:])
    with monkeypatch.context() as patch:
        patch.setattr("halfstep.school.kept_files.os.fsync", full)
        assert ended(ansel, address)["status"] == 507
    assert takes(desk) == ()
    assert ended(ansel, address)["take"] == 1


@pytest.mark.slow
def test_a_player_leaves_with_recordings_and_without_a_trace(desk: Desk) -> None:
    ansel = desk.student("Ansel")
    sent, left = begun(ansel), begun(ansel)
    for address in (sent, left):
        grown(ansel, address, 0, SOUND)
    ended(ansel, sent)
    folder = desk.school.folder.parent / "leaving"
    export_student(desk.school, "Ansel", folder)
    first, second = json.loads(folder.joinpath("room.json").read_text())
    assert (first["file"], first["about"]["tempo_bpm"]) == ("", 96)
    assert folder.joinpath(second["file"]).read_bytes() == SOUND
    erase_student(desk.school, "Ansel")
    assert not (desk.school.folder / "recordings" / "1").exists()
    assert recordings(desk) == ()


def test_a_wav_of_frames_without_a_head_is_read_by_another_reader() -> None:
    from halfstep.render.wav_file import write_mono_wav

    soundfile = pytest.importorskip("soundfile")
    made = io.BytesIO()
    write_mono_wav(made, io.BytesIO(SOUND), size=len(SOUND), rate=44_100, tags={b"ICMT": "né"})
    made.seek(0)
    frames, rate = soundfile.read(made, dtype="int16")
    assert (rate, frames.tobytes()) == (44_100, SOUND)
