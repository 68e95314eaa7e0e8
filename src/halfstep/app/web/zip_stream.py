"""Many files as one that begins to arrive before it is whole.

Members have no date and stand in the order given, so the same files make the same bytes. What is
packed already (sound, pages) is stored as it is.

Source: PKWARE's application note on .ZIP files, as the standard library writes it.
"""

from __future__ import annotations

import io
import re
import unicodedata
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote
from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipFile, ZipInfo

from starlette.responses import StreamingResponse

_FIRST_DAY = (1980, 1, 1, 0, 0, 0)
"""The earliest that the form knows."""
_PACKED = {".pdf", ".m4a", ".mp3", ".ogg", ".flac", ".zip", ".png"}
_LONGEST = 60
"""Letters of a part of a name."""

ZipMember = tuple[str, Iterable[bytes]]
"""The name of a member, and its content in blocks."""


class _Outbox(io.RawIOBase):
    """Takes what is written, until it is fetched."""

    def __init__(self) -> None:
        self._kept = bytearray()

    def writable(self) -> bool:
        return True

    def write(self, data: Any) -> int:
        block = bytes(data)
        self._kept += block
        return len(block)

    def fetched(self) -> bytes:
        """What was written since the last time."""
        data, self._kept = bytes(self._kept), bytearray()
        return data


def zip_blocks(members: Iterable[ZipMember]) -> Iterator[bytes]:
    """The archive of some members, block by block."""
    outbox = _Outbox()
    with ZipFile(outbox, "w") as archive:
        for name, source in members:
            for _ in _written(archive, name, source):
                if data := outbox.fetched():
                    yield data
    yield outbox.fetched()


def _written(archive: ZipFile, name: str, source: Iterable[bytes]) -> Iterator[None]:
    info = ZipInfo(name, _FIRST_DAY)
    info.compress_type = ZIP_STORED if Path(name).suffix in _PACKED else ZIP_DEFLATED
    info.external_attr = 0o644 << 16
    with archive.open(info, "w") as member:
        for block in source:
            member.write(block)
            yield
    yield


def zip_response(name: str, members: Iterable[ZipMember]) -> StreamingResponse:
    """An archive to be saved under a name."""
    headers = {"content-disposition": attachment(name)}
    return StreamingResponse(zip_blocks(members), media_type="application/zip", headers=headers)


def attachment(name: str) -> str:
    """The header that has a browser save an answer under a name (RFC 6266, RFC 8187).

    >>> attachment("Übung.zip")
    "attachment; filename=Ubung.zip; filename*=UTF-8''%C3%9Cbung.zip"
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
    safe = re.sub(r"[^A-Za-z0-9._-]+", "-", plain) or "file"
    return f"attachment; filename={safe}; filename*=UTF-8''{quote(name, safe='')}"


def file_words(text: str) -> str:
    """A text as a part of a file's name, safe on every disk.

    >>> file_words("../Room: Twelve?"), file_words("..."), file_words("Ødegård")
    ('Room-Twelve', 'unnamed', 'Ødegård')
    """
    words = re.sub(r"[\W_]+", "-", unicodedata.normalize("NFC", text)).strip("-")
    return words[:_LONGEST].rstrip("-") or "unnamed"
