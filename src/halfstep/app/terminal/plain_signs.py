"""What is printed where a terminal's encoding lacks a sign? What a player types for it.

``B♭7`` becomes ``Bb7``, ``F♯`` ``F#``, ``Bø7`` ``Bm7b5``, ``B°7`` ``Bdim7``: the program reads
all of them. An accent is left out; what has no plain form is written as Python escapes it.
A question mark stands for nothing.

A locale that asks for C or POSIX is taken at its word, though Python writes UTF-8 there.
"""

from __future__ import annotations

import codecs
import os
import re
import sys
from functools import lru_cache
from io import TextIOWrapper

TYPE_CHECKING = False  # as in typing, which is slow to load

if TYPE_CHECKING:
    from collections.abc import Mapping
    from typing import TextIO

_SIGNS = {
    "♭": "b", "♯": "#", "♮": "natural ", "𝄫": "bb", "𝄪": "##", "°": "dim", "Δ": "maj7", "△": "maj7",
    "→": "->", "←": "<-", "–": "-", "—": "-", "−": "-", "─": "-", "·": "-", "…": "...",
    "“": '"', "”": '"', "‘": "'", "’": "'", "×": "x", "♩": "beat", "◇": "*", "≤": "<=", "≥": ">=",
}  # fmt: skip
_HALF_DIMINISHED = re.compile("ø([0-9]*)")
_HANDLER = "halfstep-plain"
_PORTABLE = {"C", "POSIX"}


def accept_any_text(stream: TextIO, environment: Mapping[str, str] = os.environ) -> None:
    """Let a stream print any text, in plain signs where it lacks others."""
    if not isinstance(stream, TextIOWrapper):
        return
    codecs.register_error(_HANDLER, _plain_for)
    is_own = stream in {sys.__stdout__, sys.__stderr__}  # what a test puts there has no locale
    encoding = "ascii" if is_own and _is_portable(environment) else None
    stream.reconfigure(encoding=encoding, errors=_HANDLER)


def _is_portable(environment: Mapping[str, str]) -> bool:
    """True where the locale asks for plain signs, and nothing asks for an encoding."""
    if environment.get("PYTHONIOENCODING") or environment.get("PYTHONUTF8"):
        return False
    return (environment.get("LC_ALL") or environment.get("LANG")) in _PORTABLE


def _plain_for(error: UnicodeError) -> tuple[str, int]:
    """What stands for the signs that an encoding lacks, and where to go on."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    suffix = _HALF_DIMINISHED.match(error.object, error.start)
    if suffix:
        return f"m{suffix[1] or 7}b5", suffix.end()
    return _plain_sign(error.object[error.start]), error.start + 1


def _plain_sign(sign: str) -> str:
    if sign in _SIGNS:
        return _SIGNS[sign]
    from unicodedata import normalize

    letters = normalize("NFKD", sign).encode("ascii", "ignore").decode()
    return letters or sign.encode("ascii", "backslashreplace").decode()


def printed(text: str) -> str:
    """The text as standard output prints it."""
    if text.isascii():
        return text
    return _printed(text, sys.stdout.encoding or "utf-8", sys.stdout.errors or "strict")


@lru_cache(maxsize=4096)
def _printed(text: str, encoding: str, errors: str) -> str:
    if errors != _HANDLER or encoding.lower().replace("-", "") == "utf8":
        return text
    return text.encode(encoding, errors).decode(encoding)
