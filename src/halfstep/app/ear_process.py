"""A process that listens to takes while they are recorded, as long as some are.

Each line of its standard input names a recording that has grown. It hears a little of each in
turn, so that nobody waits for another's long take, and lets go of those that have rested.
"""

from __future__ import annotations

import gc
import os
import signal
import sys
from collections import OrderedDict
from contextlib import suppress
from pathlib import Path
from queue import Empty, SimpleQueue
from tempfile import TemporaryDirectory
from threading import Thread
from time import monotonic

from halfstep.services.early_hearing import EarlyHearing, GrowingRecording, growing_recording
from halfstep.workers import RARE_GARBAGE

MOST_HEARINGS = 30
"""At once, each of ten megabytes at most; one that was let go is begun again."""
RESTED_S = 120.0
"""So long after it last grew a recording is let go of."""
LOOKS_EVERY_S = 30.0
ENDS_AFTER_S = 900.0
"""So long after the last recording the process ends; the next one starts another."""


class Hearings:
    """The recordings that are listened to just now."""

    def __init__(self) -> None:
        self._waiting: OrderedDict[Path, GrowingRecording] = OrderedDict()
        self._hearings: OrderedDict[Path, EarlyHearing] = OrderedDict()
        self._touched_s: dict[Path, float] = {}

    def __len__(self) -> int:
        return len(self._hearings)

    @property
    def are_due(self) -> bool:
        """True while there is something to hear."""
        return bool(self._waiting)

    def add(self, recording: GrowingRecording) -> None:
        """Have it heard on, after those that wait already."""
        self._waiting.setdefault(recording.sound, recording)

    def hear_one(self) -> None:
        """Hear a little of the one that waits longest; one that cannot be heard is let go."""
        sound, recording = self._waiting.popitem(last=False)
        try:
            has_more = self._hearing(recording).hear_on()
        except (OSError, ValueError):
            self._let_go(sound)
            return
        self._touched_s[sound] = monotonic()
        self._hearings.move_to_end(sound)
        if has_more:
            self.add(recording)

    def let_rested_go(self) -> None:
        """Let go of those of which nothing was heard for a while."""
        rested_s = monotonic() - RESTED_S
        for sound in [one for one, touched_s in self._touched_s.items() if touched_s < rested_s]:
            self._let_go(sound)

    def _hearing(self, recording: GrowingRecording) -> EarlyHearing:
        if recording.sound not in self._hearings:
            while len(self._hearings) >= MOST_HEARINGS:
                self._let_go(next(iter(self._hearings)))
            self._hearings[recording.sound] = EarlyHearing(recording)
        return self._hearings[recording.sound]

    def _let_go(self, sound: Path) -> None:
        self._hearings.pop(sound, None)
        self._touched_s.pop(sound, None)


def main() -> None:
    """Listen until nobody can tell anything any more."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the process that started this one ends it
    gc.set_threshold(RARE_GARBAGE)
    news: SimpleQueue[GrowingRecording] = SimpleQueue()
    Thread(target=_listen, args=(news,), daemon=True).start()
    warm_up()
    hear_all(news, Hearings())


def _listen(news: SimpleQueue[GrowingRecording]) -> None:
    for line in sys.stdin.buffer:
        news.put(growing_recording(line.decode()))
    os._exit(0)


def warm_up() -> None:
    """Have loaded what hearing needs: a second of silence with a click in it is heard."""
    with suppress(OSError), TemporaryDirectory(prefix="halfstep-") as name:
        sound = Path(name) / "warm.pcm"
        sound.write_bytes(bytes(16_000) + b"\x00\x40" * 1000 + bytes(16_000))
        EarlyHearing(GrowingRecording(sound, 16_000, "concert", Path(name))).hear_on()


def hear_all(news: SimpleQueue[GrowingRecording], hearings: Hearings) -> None:
    """Hear what is told of, until nothing was for long."""
    heard_s = monotonic()
    while monotonic() < heard_s + ENDS_AFTER_S:
        _take_in(news, hearings)
        if hearings.are_due:
            hearings.hear_one()
            heard_s = monotonic()
        hearings.let_rested_go()


def _take_in(news: SimpleQueue[GrowingRecording], hearings: Hearings) -> None:
    """Take in all that is told; wait for it while there is nothing to hear."""
    with suppress(Empty):
        while True:
            is_busy = hearings.are_due
            hearings.add(news.get(block=not is_busy, timeout=None if is_busy else LOOKS_EVERY_S))


if __name__ == "__main__":
    main()
