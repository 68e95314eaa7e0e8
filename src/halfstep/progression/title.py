"""What may a title be? One line of characters that may stand in XML 1.0 and UTF-8."""

from __future__ import annotations

UNTITLED = "Through the changes"


def plain_title(text: str) -> str:
    r"""A title on one line, of characters that may stand in XML 1.0 and UTF-8.

    >>> plain_title("Room\tTwelve\x07")
    'Room Twelve'
    """
    return one_line(text) or UNTITLED


def one_line(text: str) -> str:
    """Text without line breaks and characters that XML may not hold, blanks joined."""
    allowed = (c if c.isprintable() or _stands_in_xml(c) else " " for c in text)
    return " ".join("".join(allowed).split())


def _stands_in_xml(character: str) -> bool:
    """True for all but control characters, surrogates and non-characters."""
    import unicodedata

    return unicodedata.category(character) not in {"Cc", "Cs", "Cn"}
