"""What stands in a file of a sound bank? The chunks of the SoundFont 2 format, in and out.

`read_bank_file` splits a file into its tables, the bytes of its samples and its notes on
itself; `bank_bytes` puts such parts together again.

Conventions
-----------
- A table is an array of records, as the standard lays them out, with its last empty record.
- Where samples are compressed (.sf3) each is a stream of its own, Ogg Vorbis as a rule;
  ``start`` and ``end`` then count bytes, and a loop counts frames from its sample's first.
- A chunk of odd size is followed by a byte of padding. Compressed banks are met that leave it
  out; a known name where the padding should be says so.

Source: SoundFont Technical Specification 2.04 (from memory), section 7; the compressed form
has no standard, and is described from files.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from halfstep.errors import ReadError

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

RECORDS: dict[bytes, list[Any]] = {
    b"phdr": [
        ("name", "S20"), ("program", "<u2"), ("bank", "<u2"), ("bag", "<u2"), ("rest", "<u4", 3),
    ],
    b"pbag": [("first", "<u2"), ("modulator", "<u2")],
    b"pgen": [("operator", "<u2"), ("amount", "<i2")],
    b"inst": [("name", "S20"), ("bag", "<u2")],
    b"ibag": [("first", "<u2"), ("modulator", "<u2")],
    b"igen": [("operator", "<u2"), ("amount", "<i2")],
    b"shdr": [
        ("name", "S20"), ("start", "<u4"), ("end", "<u4"), ("loop_start", "<u4"),
        ("loop_end", "<u4"), ("rate", "<u4"), ("root", "u1"), ("correction", "i1"),
        ("link", "<u2"), ("kind", "<u2"),
    ],
}  # fmt: skip
"""The fields of each table's records; those of modulators are not read."""

_TABLE_ORDER = (
    b"phdr", b"pbag", b"pmod", b"pgen", b"inst", b"ibag", b"imod", b"igen", b"shdr",
)  # fmt: skip
_NO_MODULATOR = bytes(10)
_NAMES = frozenset({b"LIST", b"smpl", b"sm24", *_TABLE_ORDER})


@dataclass(frozen=True, slots=True)
class BankFile:
    """A sound bank in its parts.

    Attributes
    ----------
    tables : mapping of bytes to numpy.ndarray
        The records of the chunk ``pdta``, by the names in `RECORDS`.
    samples : numpy.ndarray
        uint8; what the samples' headers point into.
    texts : mapping of bytes to str
        The file's notes on itself: ``INAM`` its name, ``ICOP`` its copyright, and so on.
    """

    tables: Mapping[bytes, Any]
    samples: npt.NDArray[np.uint8]
    texts: Mapping[bytes, str]


def read_bank_file(path: Path) -> BankFile:
    """The parts of a sound bank.

    Raises
    ------
    ReadError
        When the file cannot be read or is no SoundFont 2 bank.
    """
    import numpy as np

    try:
        data = np.memmap(path, dtype=np.uint8, mode="r")
    except (OSError, ValueError) as error:
        raise ReadError(f"sound bank {path} cannot be read: {error}") from None
    if bytes(data[:4]) != b"RIFF" or bytes(data[8:12]) != b"sfbk":
        raise ReadError(f"{path} is no sound bank in the SoundFont 2 format (.sf2 or .sf3)")
    chunks = _chunks(data)
    missing = [name.decode() for name in (b"smpl", *RECORDS) if name not in chunks]
    if missing:
        raise ReadError(f"sound bank {path} lacks the chunk {missing[0]}")
    tables = {name: _table(chunks[name], fields) for name, fields in RECORDS.items()}
    texts = {name: _text(chunk) for name, chunk in chunks.items() if name[:1] == b"I"}
    return BankFile(tables, chunks[b"smpl"], texts)


def _table(chunk: npt.NDArray[np.uint8], fields: list[Any]) -> Any:
    """A chunk's records; what is left over at its end is none."""
    import numpy as np

    kind = np.dtype(fields)
    return np.frombuffer(chunk.tobytes(), dtype=kind, count=len(chunk) // kind.itemsize)


def _text(chunk: npt.NDArray[np.uint8]) -> str:
    return bytes(chunk).split(b"\0")[0].decode("utf-8", "replace").strip()


def _chunks(data: npt.NDArray[np.uint8]) -> dict[bytes, npt.NDArray[np.uint8]]:
    """The chunks inside the file's lists, by name; views, so that nothing is copied."""
    chunks = {}
    place = 12
    while place + 8 <= len(data):
        name, size = bytes(data[place : place + 4]), int(data[place + 4 : place + 8].view("<u4")[0])
        if name == b"LIST":
            place += 12
            continue
        chunks[name] = data[place + 8 : place + 8 + size]
        place += 8 + size
        if size % 2 and bytes(data[place : place + 4]) not in _NAMES:
            place += 1
    return chunks


def bank_bytes(bank: BankFile) -> bytes:
    """A file with these parts, without modulators; every chunk of odd size is padded."""
    modulators = {b"pmod": _NO_MODULATOR, b"imod": _NO_MODULATOR}
    tables = {name: table.tobytes() for name, table in bank.tables.items()} | modulators
    notes = b"".join(
        _chunk(name, text.encode("utf-8") + b"\0") for name, text in bank.texts.items()
    )
    parts = (
        _group(b"INFO", _chunk(b"ifil", struct.pack("<HH", 3, 0)) + notes),
        _group(b"sdta", _chunk(b"smpl", bank.samples.tobytes())),
        _group(b"pdta", b"".join(_chunk(name, tables[name]) for name in _TABLE_ORDER)),
    )
    return _chunk(b"RIFF", b"sfbk" + b"".join(parts))


def _chunk(name: bytes, data: bytes) -> bytes:
    return name + struct.pack("<I", len(data)) + data + b"\0" * (len(data) % 2)


def _group(name: bytes, data: bytes) -> bytes:
    return _chunk(b"LIST", name + data)
