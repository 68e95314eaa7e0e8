"""Is a password good, and is it the right one?

Hashed with argon2id (RFC 9106, its second recommended setting, which is the library's own), each
with its own salt. What is common, or made of the name, is refused by how many guesses it would
take; nothing is asked about kinds of letters (NIST SP 800-63B, 3.1.1: a least length, a list of
common ones, and no such rules).
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from halfstep.errors import BriefError

if TYPE_CHECKING:
    from argon2 import PasswordHasher

LEAST_LETTERS = 10
MOST_LETTERS = 200
_LEAST_SCORE = 3
"""Of four: it would take 100 million guesses or more."""
_RATED_LETTERS = 72
"""So many are looked at: the time it takes grows with their square."""
_NOBODYS = (
    "$argon2id$v=19$m=65536,t=3,p=4$c29tZXNhbHRvZm5vYm9keQ$"
    "Nn6cnOGF2DvFm3i0nG8y1lTzzHhUpk2SZHyj+TyDPUk"
)
"""The hash of no password, for who gives a name that nobody has: the answer takes as long."""


@cache
def _hasher() -> PasswordHasher:
    from argon2 import PasswordHasher

    return PasswordHasher()


def password_hash(password: str) -> str:
    """What is kept of a password."""
    return _hasher().hash(password)


def is_right(kept: str, password: str) -> bool:
    """True for the password of which a hash is kept; never where none is.

    It takes the same time whether there is one or not.
    """
    from argon2.exceptions import InvalidHashError, VerificationError

    try:
        is_the_one = _hasher().verify(kept or _NOBODYS, password[:MOST_LETTERS])
    except (VerificationError, InvalidHashError):
        return False
    return bool(kept) and is_the_one and len(password) <= MOST_LETTERS


def demand_good(password: str, *, of: tuple[str, ...] = ()) -> None:
    """Refuse a password that is soon guessed.

    Parameters
    ----------
    password : str
    of : tuple of str
        What others know: names, the word for the school.

    Raises
    ------
    BriefError
    """
    if not LEAST_LETTERS <= len(password) <= MOST_LETTERS:
        raise BriefError(
            f"`password`: give {LEAST_LETTERS} letters or more, such as a few words"
            if len(password) < LEAST_LETTERS
            else f"`password`: give {MOST_LETTERS} letters or fewer"
        )
    from zxcvbn import zxcvbn

    known = [*of, "halfstep"]
    if zxcvbn(password[:_RATED_LETTERS], user_inputs=known)["score"] < _LEAST_SCORE:
        raise BriefError(
            "`password`: this one is soon guessed; give a few words that do not belong together"
        )
