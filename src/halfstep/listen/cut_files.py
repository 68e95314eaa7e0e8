"""Does a file of sound end before its end? What its first and last bytes say.

Sources: RIFF/WAVE (IBM and Microsoft 1991), the Ogg encapsulation (RFC 3533), the ISO base
media file format (ISO/IEC 14496-12), all from memory; the frame count that writers of MP3
leave in an empty first frame is common practice, no source.
"""

from __future__ import annotations

from pathlib import Path

_HEAD, _TAIL = 1 << 16, 1 << 17
_UNKNOWN = 0xFFFFFFFF
"""The size that a writer leaves which does not know it yet."""


def states_length(form: str, path: Path) -> bool:
    """True where the length that libav gives is stated in the file, not guessed from its size.

    Parameters
    ----------
    form : str
        The container as libav names it.
    path : Path
        The file.
    """
    if form == "mp3":
        head = _head(path)
        return any(mark in head for mark in (b"Xing", b"Info", b"VBRI"))
    return form not in {"aac", "wav", "ogg", "amr", "ac3", "eac3"}


def breaks_off(path: Path) -> bool:
    """True where a WAV file is shorter than its head says, or an Ogg file ends within a page."""
    head = _head(path)
    if head[:4] == b"RIFF":
        size = int.from_bytes(head[4:8], "little")
        data = head.find(b"data", 12)
        of_data = int.from_bytes(head[data + 4 : data + 8], "little") if data > 0 else 0
        known = size not in (0, _UNKNOWN) and of_data not in (0, _UNKNOWN)
        return known and data + 8 + of_data > path.stat().st_size
    return head[:4] == b"OggS" and _ends_within_page(_tail(path))


def lacks_index(path: Path) -> bool:
    """True where a file of the MP4 family ends before the index that is written last."""
    try:
        return _head(path)[4:8] == b"ftyp" and not _has_box(path, b"moov")
    except OSError:
        return False


def _has_box(path: Path, kind: bytes) -> bool:
    """True where a file of the MP4 family has a whole box of a kind at its top level."""
    end = path.stat().st_size
    place = 0
    with path.open("rb") as file:
        while place + 8 <= end:
            file.seek(place)
            head = file.read(16)
            size = int.from_bytes(head[:4], "big")
            if size == 1:
                size = int.from_bytes(head[8:16], "big")
            if head[4:8] == kind:
                return place + size <= end
            if size < 8:
                return False
            place += size
    return False


def _ends_within_page(tail: bytes) -> bool:
    start = tail.rfind(b"OggS")
    if start < 0 or len(tail) < start + 27:
        return start >= 0
    segments = tail[start + 26]
    lengths = tail[start + 27 : start + 27 + segments]
    return len(lengths) < segments or start + 27 + segments + sum(lengths) > len(tail)


def _head(path: Path) -> bytes:
    with path.open("rb") as file:
        return file.read(_HEAD)


def _tail(path: Path) -> bytes:
    with path.open("rb") as file:
        file.seek(max(0, path.stat().st_size - _TAIL))
        return file.read()
