"""What is in a page of an Ogg file? Packets, its number and its stream's, its place and its sum.

Source: the Ogg encapsulation, RFC 3533, from memory.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator

MARK, HEAD = b"OggS", 27
"""What a page begins with, and the bytes before the lengths of its segments."""
PLACE, SERIAL, NUMBER, SUM = slice(6, 14), slice(14, 18), slice(18, 22), slice(22, 26)
"""Where in a page the frames decoded by its end, its stream's number, its own and its sum stand."""
_FLAGS, _SEGMENTS = 5, 26
_LAST = 4  # the flag of a stream's last page
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
        lengths = data[start + HEAD : start + HEAD + data[start + _SEGMENTS]]
        end = start + HEAD + len(lengths) + sum(lengths)
        whole = len(lengths) == data[start + _SEGMENTS] and data[end : end + 4] in (MARK, b"")
        if whole and end <= len(data):
            yield start, end
        start = data.find(MARK, end if whole else start + 4)


def first_packet_apart(page: bytes | bytearray) -> tuple[bytearray, bytearray]:
    """A page as two: its first packet, and the rest; of several packets, the first begun in it."""
    lengths = page[HEAD : HEAD + page[_SEGMENTS]]
    segments = 1 + next(n for n, length in enumerate(lengths) if length < 255)
    body = HEAD + len(lengths)
    middle = body + sum(lengths[:segments])
    first = _with_segments(page, lengths[:segments], page[body:middle])
    first[_FLAGS] &= ~_LAST
    return first, _with_segments(page, lengths[segments:], page[middle:])


def _with_segments(
    page: bytes | bytearray, lengths: bytes | bytearray, body: bytes | bytearray
) -> bytearray:
    return bytearray(page[:_SEGMENTS]) + bytes([len(lengths)]) + lengths + body
