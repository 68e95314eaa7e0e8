"""Damaged pages of an Ogg file, made readable again.

A reader throws a page away whose sum is wrong, a second of sound for one wrong byte. With
its sum set right a page is read, and only the packet that holds the wrong byte is lost.

Source: the Ogg encapsulation, RFC 3533, from memory.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from pathlib import Path

_MARK, _HEAD, _SUM = b"OggS", 27, slice(22, 26)
_MIRRORED = bytes(int(f"{byte:08b}"[::-1], 2) for byte in range(256))


@dataclass(frozen=True, slots=True)
class MendedPages:
    """A file with the sums of its pages set right.

    Attributes
    ----------
    data : bytearray
    mended : int
        How many sums were wrong.
    """

    data: bytearray
    mended: int


def mended_pages(path: Path) -> MendedPages | None:
    """The mended file; None where no sum is wrong or it is no Ogg.

    Raises
    ------
    OSError
        If it cannot be read.
    """
    with path.open("rb") as file:
        if file.read(4) != _MARK:
            return None
        data = bytearray(_MARK + file.read())
    mended = _mend(data)
    return MendedPages(data, mended) if mended else None


def _mend(data: bytearray) -> int:
    """Sets wrong sums right; how many there were."""
    wrong = start = 0
    while 0 <= start <= len(data) - _HEAD:
        lengths = data[start + _HEAD : start + _HEAD + data[start + 26]]
        end = start + _HEAD + len(lengths) + sum(lengths)
        whole = len(lengths) == data[start + 26] and data[end : end + 4] in (_MARK, b"")
        if whole and end <= len(data):
            page = data[start:end]
            page[_SUM] = bytes(4)
            right = page_sum(page).to_bytes(4, "little")
            wrong += data[start:end][_SUM] != right
            data[start + 22 : start + 26] = right
        start = data.find(_MARK, end if whole else start + 4)
    return wrong


def page_sum(page: bytes | bytearray) -> int:
    """The sum of a page whose own four bytes of it are naught.

    Its polynomial is that of `zlib.crc32`, which takes the bits of each byte the other way
    round and turns start and result over.
    """
    mirrored = zlib.crc32(page.translate(_MIRRORED), 0xFFFFFFFF) ^ 0xFFFFFFFF
    return int(f"{mirrored:032b}"[::-1], 2)
