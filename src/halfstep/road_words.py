"""How is a sign about the order of playing printed?"""

from __future__ import annotations

LAST_TIME = "last time"
"""The sign of a bar that is played the last time only."""
_SIGN_WORDS = {"to coda": "To Coda", "fine": "Fine", LAST_TIME: "Last time"}


def sign_words(sign: str) -> str:
    """A sign of a bar's road as it is printed; a jump is named as it is.

    >>> sign_words("to coda"), sign_words("D.C. al Fine")
    ('To Coda', 'D.C. al Fine')
    """
    return _SIGN_WORDS.get(sign, sign)
