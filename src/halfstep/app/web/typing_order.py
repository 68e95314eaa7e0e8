"""Which of two states of a text was typed last? Requests may overtake each other on their way."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from threading import Lock

_MOST_TYPISTS = 1000


class TypingOrder:
    """Remembers how far each open page has come, and lets one state be kept at a time.

    A page calls its states ``PAGE-1``, ``PAGE-2`` and so on; one without such a name is always
    taken for the last.
    """

    def __init__(self) -> None:
        self._lock = Lock()
        self._turns: dict[str, int] = {}

    @contextmanager
    def turn(self, name: str) -> Iterator[bool]:
        """True where no later state of the same page was kept; others wait until it ends."""
        page, _, number = name.rpartition("-")
        with self._lock:
            if not (page and number.isascii() and number.isdecimal() and len(number) < 10):
                yield True
                return
            is_last = int(number) >= self._turns.get(page, 0)
            if is_last:
                self._turns.pop(page, None)
                self._turns[page] = int(number)
            while len(self._turns) > _MOST_TYPISTS:
                del self._turns[next(iter(self._turns))]
            yield is_last
