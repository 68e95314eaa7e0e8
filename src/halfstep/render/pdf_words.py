"""What does a file of the typesetter say aloud of its pages? Headings, and words for pictures.

Tags say which page they belong to; the typesetter writes them as plain text, in the order in which
they are read. Of any other file no words are found.

Source: ISO 32000-1, 7.3.4 for text in a file, 14.7 and 14.9.3 for tags and the words for pictures.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

_PAGE = re.compile(rb"(?<!\d)(\d+) 0 obj\s*<</Type/Page/")
_WORDED = re.compile(rb"/Type/StructElem/S/(?:H\d|Figure)/P \d+ 0 R/(?:T|Alt)(?=[(<])")
_OF_PAGE = re.compile(rb"/Pg (\d+) 0 R|endobj")
_PIECE = re.compile(rb"\\([0-7]{1,3}|.)|([()])|([^\\()]+)", re.DOTALL)
_ESCAPES = {b"n": b"\n", b"r": b"\r", b"t": b"\t", b"b": b"\b", b"f": b"\f"}
_NUMBERED = re.compile(r"^(\d+)(?=[^\W\d])")
_WIDE = b"\xfe\xff"


def page_words(pdf: bytes) -> tuple[str, ...]:
    """What is said of each page, in the order of the pages; empty for one without words."""
    words: dict[bytes, list[str]] = {match[1]: [] for match in _PAGE.finditer(pdf)}
    for page, text in _worded(pdf):
        if page in words:
            words[page].append(text)
    return tuple(" ".join(map(_sentence, texts)) for texts in words.values())


def _worded(pdf: bytes) -> Iterator[tuple[bytes, str]]:
    """Each heading and picture: its page, and its words."""
    for match in _WORDED.finditer(pdf):
        text, end = _text_at(pdf, match.end())
        page = _OF_PAGE.search(pdf, end)
        if page and page[1]:
            yield page[1], " ".join(text.split())


def _sentence(text: str) -> str:
    """A text that ends; the number before a heading is apart from it."""
    text = _NUMBERED.sub(r"\1. ", text)
    return text if text.endswith((".", "!", "?", ":")) else f"{text}."


def _text_at(pdf: bytes, start: int) -> tuple[str, int]:
    """The text that begins at a place of a file, and where it ends.

    >>> _text_at(b"(a (b) c)/K", 0)
    ('a (b) c', 9)
    >>> _text_at(b"<FEFF266D>", 0)
    ('♭', 10)
    """
    if pdf[start : start + 1] == b"<":
        end = pdf.index(b">", start)
        return _decoded(bytes.fromhex(pdf[start + 1 : end].decode("ascii"))), end + 1
    pieces: list[bytes] = []
    depth = 0
    for match in _PIECE.finditer(pdf, start):
        escaped, bracket, plain = match.groups()
        depth += {b"(": 1, b")": -1}.get(bracket, 0)
        if bracket and not depth:
            return _decoded(b"".join(pieces)), match.end()
        if match.start() > start:
            pieces.append(_unescaped(escaped) if escaped else bracket or plain)
    return "", len(pdf)


def _unescaped(escaped: bytes) -> bytes:
    if escaped.isdigit():
        return bytes([int(escaped, 8) & 0xFF])
    return _ESCAPES.get(escaped, escaped)


def _decoded(text: bytes) -> str:
    if text.startswith(_WIDE):
        return text[len(_WIDE) :].decode("utf-16-be", "replace")
    return text.decode("latin-1")
