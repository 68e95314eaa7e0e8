"""Which sounds of the room are made already? Those asked for last, up to so many bytes.

What several ask for at once is made once; few are made at a time, so that pages stay quick. What
is likely to be asked for next is made ahead, by one thread that gives way to all others.
"""

from __future__ import annotations

import os
from collections import OrderedDict
from collections.abc import Callable, Iterable
from concurrent.futures import Future
from contextlib import suppress
from queue import Empty, Full, LifoQueue
from threading import BoundedSemaphore, Lock, Thread, get_native_id

from halfstep.services.room_sound import StretchFile

MOST_BYTES = 48_000_000
"""An hour and a half of one part, or three choruses of the bands of some eighty pieces."""
_AT_ONCE = 2
_MOST_AHEAD = 24
_GIVES_WAY = 15
"""How nice the thread is that makes ahead."""

Making = Callable[[], StretchFile]


class KeptSounds:
    """Sounds by what they are known by.

    Parameters
    ----------
    most_bytes : int
    """

    def __init__(self, most_bytes: int = MOST_BYTES) -> None:
        self._most_bytes = most_bytes
        self._kept: OrderedDict[str, StretchFile] = OrderedDict()
        self._bytes = 0
        self._on_the_way: dict[str, Future[StretchFile]] = {}
        self._lock = Lock()
        self._hands = BoundedSemaphore(_AT_ONCE)
        self._ahead: LifoQueue[tuple[str, Making]] = LifoQueue(_MOST_AHEAD)
        self._worker: Thread | None = None

    def sound(self, mark: str, make: Making, *, is_first: bool = False) -> StretchFile:
        """A sound: kept, waited for where somebody makes it, or made; the first at once."""

        def make_in_turn() -> StretchFile:
            with self._hands:
                return make()

        return self._sound(mark, make if is_first else make_in_turn)

    def _sound(self, mark: str, make: Making) -> StretchFile:
        with self._lock:
            if mark in self._kept:
                self._kept.move_to_end(mark)
                return self._kept[mark]
            coming = self._on_the_way.get(mark)
            if coming is None:
                mine = self._on_the_way[mark] = Future()
        return coming.result() if coming else self._made(mark, make, mine)

    def _made(self, mark: str, make: Making, mine: Future[StretchFile]) -> StretchFile:
        try:
            sound = make()
        except BaseException as error:
            self._arrived(mark)
            mine.set_exception(error)
            raise
        self._arrived(mark, sound)
        mine.set_result(sound)
        return sound

    def _arrived(self, mark: str, sound: StretchFile | None = None) -> None:
        with self._lock:
            del self._on_the_way[mark]
            if sound is None:
                return
            self._kept[mark] = sound
            self._bytes += len(sound.data)
            while self._bytes > self._most_bytes and len(self._kept) > 1:
                self._bytes -= len(self._kept.popitem(last=False)[1].data)

    # Ahead

    def ahead(self, sounds: Iterable[tuple[str, Making]]) -> None:
        """Make some when nobody waits: what was wanted last comes first."""
        for sound in sounds:
            with suppress(Full):
                self._ahead.put_nowait(sound)
        with self._lock:
            if self._worker is None:
                self._worker = Thread(target=self._work, daemon=True, name="sounds ahead")
                self._worker.start()

    def _work(self) -> None:
        with suppress(OSError, AttributeError):  # a system that knows no niceness of a thread
            os.setpriority(os.PRIO_PROCESS, get_native_id(), _GIVES_WAY)
        while True:
            mark, make = self._ahead.get()
            with suppress(Exception):  # who asks for it in earnest is told why it cannot be made
                self._sound(mark, make)

    def forget_ahead(self) -> None:
        """Make nothing ahead that was not begun yet."""
        with suppress(Empty):
            while True:
                self._ahead.get_nowait()
