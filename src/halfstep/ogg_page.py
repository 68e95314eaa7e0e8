"""What is in a page of an Ogg file? Its sum, and the number of the stream it belongs to.

Source: the Ogg encapsulation, RFC 3533, from memory.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator

MARK, HEAD = b"OggS", 27
"""What a page begins with, and the bytes before the lengths of its segments."""
SERIAL, SUM = slice(14, 18), slice(22, 26)
"""Where in a page its stream's number and its own sum stand."""
_MIRRORED = bytes(int(f"{byte:08b}"[::-1], 2) for byte in range(256))


def page_sum(page: bytes | bytearray) -> int:
    """The sum of a page whose own four bytes of it are naught.

    Its polynomial is that of `zlib.crc32`, which takes the bits of each byte the other way
    round and turns start and result over.
    """
    mirrored = zlib.crc32(page.translate(_MIRRORED), 0xFFFFFFFF) ^ 0xFFFFFFFF
    return int(f"{mirrored:032b}"[::-1], 2)


def page_places(data: bytes | bytearray) -> Iterator[tuple[int, int]]:
    """Where each whole page begins and ends, in order; what is no page is passed over."""
    start = data.find(MARK)
    while 0 <= start <= len(data) - HEAD:
        lengths = data[start + HEAD : start + HEAD + data[start + 26]]
        end = start + HEAD + len(lengths) + sum(lengths)
        whole = len(lengths) == data[start + 26] and data[end : end + 4] in (MARK, b"")
        if whole and end <= len(data):
            yield start, end
        start = data.find(MARK, end if whole else start + 4)
