"""What can go wrong, split by who can put it right.

::

    HalfstepError
    ├── ReadError      their text or file: the rule, the value, the place
    ├── BriefError     a request that cannot be met: the rule that blocks it
    │   └── NoSuchThing    what it asks for is not kept, or no more
    ├── NotAllowed     a right that who asks does not have
    │   └── TooManyTries   and a wait before the next try
    ├── TakeError      a recording that cannot be judged
    ├── StoreError     what is kept on disk cannot be read or written
    │   └── StoreAway      and can be again in a moment
    └── MissingExtra   a part of the program that is not installed

Every message is one line that says what, where, and what would be right. A field of a
request is named in it between grave accents: each face puts it in words of its own (the
terminal says ``--tempo`` where a page says "Tempo"). No traceback reaches a user.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable

_ALIKE = 0.6
"""How alike, by `difflib`, a word must be to one that is known."""


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """``; did you mean alto-sax?``, the known word most like one that is not known.

    Empty where none is like it.

    >>> did_you_mean("Advancd", ["beginner", "advanced"])
    '; did you mean advanced?'
    >>> did_you_mean("tuba", ["beginner", "advanced"])
    ''
    """
    from difflib import get_close_matches

    typed = word.strip().lower().replace(" ", "-").replace("_", "-")
    nearest = get_close_matches(typed, list(known), 1, _ALIKE)
    return f"; did you mean {nearest[0]}?" if nearest else ""


def worded(text: str, word: Callable[[str], str]) -> str:
    """A message, every field that it names between grave accents put in other words."""
    return re.sub(r"`([a-z]+(?:_[a-z]+)*)`", lambda field: word(field[1]), text)


class HalfstepError(Exception):
    """The root of the tree; never raised itself."""

    @property
    def marked_text(self) -> str:
        """The message, with its fields between grave accents."""
        return "".join(map(str, self.args))

    def worded(self, word: Callable[[str], str]) -> str:
        """The message, every field that it names put in a face's words.

        Parameters
        ----------
        word : callable
            Given the name of a field, such as ``tempo_bpm``.

        >>> BriefError("`tempo_bpm` 500: give 40 to 300").worded(lambda field: f"--{field}")
        '--tempo_bpm 500: give 40 to 300'
        """
        return worded(self.marked_text, word)

    def __str__(self) -> str:
        return self.worded(str)


class ReadError(HalfstepError):
    """A text or file that cannot be read as music.

    Parameters
    ----------
    message : str
        What is wrong and what would be right.
    source : str, optional
        File name, or a word for the place the text came from.
    line, column : int, optional
        1-based place in the text.
    """

    def __init__(
        self,
        message: str,
        *,
        source: str = "",
        line: int | None = None,
        column: int | None = None,
    ) -> None:
        self.message = message
        self.source = source
        self.line = line
        self.column = column
        super().__init__(message)

    def at(self, *, source: str = "", line: int | None = None, column: int = 0) -> ReadError:
        """The same error, placed: ``column`` is added to the column it already has."""
        shifted = None if self.column is None else self.column + column
        return ReadError(
            self.message, source=source or self.source, line=line or self.line, column=shifted
        )

    @property
    def marked_text(self) -> str:
        """The place, and what is wrong there."""
        place = [self.source] if self.source else []
        if self.line is not None:
            place.append(f"line {self.line}")
        if self.column is not None:
            place.append(f"column {self.column}")
        return f"{', '.join(place)}: {self.message}" if place else self.message


class BriefError(HalfstepError):
    """A request that cannot be met; the message names the rule that blocks it."""


class NoSuchThing(BriefError):
    """What is asked for is not kept, or no more."""


class NotAllowed(HalfstepError):
    """A thing that is not for who asks; the message says what would be."""


class TooManyTries(NotAllowed):
    """Somebody tries again and again; the message says how long to wait."""


class TakeError(HalfstepError):
    """A recording that cannot be judged; the message says why."""


class StoreError(HalfstepError):
    """What is kept on disk cannot be read or written; the message says where, and why."""


class StoreAway(StoreError):
    """What keeps it cannot be reached just now; the same may be asked again in a moment."""


class MissingExtra(HalfstepError):
    """A library that an optional step needs is not installed."""
