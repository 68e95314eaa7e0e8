"""Is what was acknowledged of a recording there, once, though the server is killed in its midst?"""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import wave
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from desks import new_desk

from halfstep.app.tasks import recording_tasks
from halfstep.school import growing_files
from halfstep.school.database import School
from halfstep.school.sent_takes import sent_takes_of
from halfstep.school.students import Student, find_student

ABOUT = {"sample_rate": 48_000}
PIECE = 10_000
SOUNDS = {"a" * 36: bytes(range(250)) * 400, "b" * 36: bytes(range(240)) * 400}
"""By their keys."""
Call = tuple[ModuleType, str]
ONCE: tuple[Call, Call] = ((growing_files, "flush"), (recording_tasks, "remove_sound"))
"""Made once for a recording, at its first piece and at its end."""
A_PIECE: tuple[Call, ...] = ((growing_files, "_write_all"), (os, "fsync"))
AN_END: tuple[Call, ...] = (
    (recording_tasks, "write_take"),
    (recording_tasks, "store_recording"),
    (recording_tasks, "keep_room_take"),
    (recording_tasks, "finish_recording"),
)


def _player(school: School) -> Student:
    with school.reading() as connection:
        return find_student(connection, "Ansel")


def _killed(act: Callable[[], object], call: Call, *, before: bool) -> None:
    """Do something in a process that is killed before a call, or just after it."""
    module, name = call
    real = getattr(module, name)

    def die(*arguments: Any, **named: Any) -> None:
        if not before:
            real(*arguments, **named)
        elif name == "_write_all":
            real(arguments[0], arguments[1][:77])  # a part of the piece is in the file
        os.kill(os.getpid(), signal.SIGKILL)

    child = os.fork()
    if not child:
        setattr(module, name, die)
        act()
        os._exit(0)
    _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status), (name, before)


class _Sending:
    """A browser that sends a recording to whichever process serves just now."""

    def __init__(self, folder: Path, key: str) -> None:
        self._folder, self._key, self._sound = folder, key, SOUNDS[key]
        self._acknowledged = 0

    def begin(self) -> None:
        with School(self._folder) as school:
            player = _player(school)
            recording_tasks.begin(school, player, self._key, piece="/room", about=ABOUT)

    def have(self) -> int:
        with School(self._folder) as school:
            length = recording_tasks.standing(school, _player(school), self._key).length
        assert length >= self._acknowledged
        return length

    def grow(self) -> None:
        first = self.have()
        piece = self._sound[first : first + PIECE]
        with School(self._folder) as school:
            length = recording_tasks.add(school, _player(school), self._key, piece, first=first)
        self._acknowledged = length

    def end(self) -> None:
        frames = len(self._sound) // 2
        with School(self._folder) as school:
            recording_tasks.end(school, _player(school), self._key, frames=frames, about={})

    def all_the_way(self, *, before: bool) -> None:
        """Send it whole, the server killed at every place where that could matter."""
        self.begin()
        _killed(self.grow, ONCE[0], before=before)
        for call in A_PIECE:
            _killed(self.grow, call, before=before)
            self.grow()
        while self.have() < len(self._sound):
            self.grow()
        for call in AN_END:
            _killed(self.end, call, before=before)
            assert self.have() == len(self._sound)
        _killed(self.end, ONCE[1], before=before)
        self.end()


def _send_all(folder: Path) -> None:
    for key, before in zip(SOUNDS, (True, False), strict=True):
        _Sending(folder, key).all_the_way(before=before)


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="processes are forked")
def test_a_server_killed_anywhere_loses_no_acknowledged_byte_and_keeps_one_take(
    tmp_path: Path,
) -> None:
    folder = tmp_path / "data"
    with new_desk(folder):
        pass
    # in a process of one thread: what forks must have no other
    sender = multiprocessing.get_context("spawn").Process(target=_send_all, args=(folder,))
    sender.start()
    sender.join()
    assert sender.exitcode == 0
    with School(folder) as school:
        with school.reading() as connection:
            takes = sent_takes_of(connection, 1)
        sounds = []
        for take in takes:
            with wave.open(str(school.folder / "takes" / take.file)) as file:
                sounds.append(file.readframes(file.getnframes()))
    assert sorted(sounds) == sorted(SOUNDS.values())
