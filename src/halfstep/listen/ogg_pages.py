"""Damaged pages of an Ogg file, made readable again.

A reader throws a page away whose sum is wrong, a second of sound for one wrong byte. With
its sum set right a page is read, and only the packet that holds the wrong byte is lost.

Source: the Ogg encapsulation, RFC 3533, from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from halfstep.ogg_page import MARK, SUM, page_places, page_sum


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
        if file.read(4) != MARK:
            return None
        data = bytearray(MARK + file.read())
    mended = _mend(data)
    return MendedPages(data, mended) if mended else None


def _mend(data: bytearray) -> int:
    """Sets wrong sums right; how many there were."""
    wrong = 0
    for start, end in page_places(data):
        page = data[start:end]
        page[SUM] = bytes(4)
        page[SUM] = page_sum(page).to_bytes(4, "little")
        wrong += page != data[start:end]
        data[start:end] = page
    return wrong
