"""A file that is kept, as an answer: whole, or the part of it that a player of sound asks for.

A file on this machine is sent as such. One in a store of objects is passed on as it comes, and its
parts are asked for there (RFC 9110, section 14; of several parts at once the whole is sent).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from hashlib import sha256
from pathlib import Path

from starlette.datastructures import Headers
from starlette.responses import FileResponse, Response, StreamingResponse
from starlette.types import Receive, Scope, Send

from halfstep.app.web.media_types import media_type
from halfstep.app.web.zip_stream import attachment
from halfstep.errors import NoSuchThing
from halfstep.school.kept_files import KeptFiles

_RANGE = re.compile(r"bytes=(\d{0,15})-(\d{0,15})", re.ASCII)


def kept_answer(
    files: KeptFiles, name: str, *, headers: Mapping[str, str] | None = None, is_saved: bool = False
) -> Response:
    """A file by its name.

    Parameters
    ----------
    files : KeptFiles
    name : str
    headers : mapping, optional
    is_saved : bool, optional
        A browser saves it rather than shows it.

    Raises
    ------
    NoSuchThing
    """
    size = files.size(name)
    if size is None:
        raise NoSuchThing("there is no such file; it may have been removed")
    place = Path(name)
    told = dict(headers or {})
    if is_saved:
        told["content-disposition"] = attachment(place.name)
    path = files.path_here(name)
    if path is None:
        return StoredAnswer(files, name, size, told)
    return FileResponse(path, media_type=media_type(place), headers=told)


class StoredAnswer(Response):
    """A file of a store, passed on.

    Parameters
    ----------
    files : KeptFiles
    name : str
    size : int
        Bytes.
    headers : dict
    """

    def __init__(self, files: KeptFiles, name: str, size: int, headers: dict[str, str]) -> None:
        self._files, self._name, self._size = files, name, size
        mark = sha256(f"{name} {size}".encode()).hexdigest()[:24]
        told = {"accept-ranges": "bytes", "etag": f'"{mark}"', "content-length": str(size)}
        super().__init__(media_type=media_type(Path(name)), headers=told | headers)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Send what is asked for of it."""
        first, end = self._asked_for(Headers(scope=scope))
        told = dict(self.headers)
        if first >= end and self._size:
            told |= {"content-range": f"bytes */{self._size}", "content-length": "0"}
            await Response(status_code=416, headers=told)(scope, receive, send)
            return
        status = 200
        if (first, end) != (0, self._size):
            status = 206
            told["content-range"] = f"bytes {first}-{end - 1}/{self._size}"
        told["content-length"] = str(end - first)
        is_told_alone = scope["method"] == "HEAD"
        blocks = iter(()) if is_told_alone else self._files.blocks(self._name, first, end)
        await StreamingResponse(blocks, status, told)(scope, receive, send)

    def _asked_for(self, headers: Headers) -> tuple[int, int]:
        """Which bytes are sent; the end comes first where there are none of those."""
        span = _RANGE.fullmatch(headers.get("range", "").replace(" ", ""))
        known = headers.get("if-range", self.headers["etag"])
        if span is None or not any(span.groups()) or known != self.headers["etag"]:
            return 0, self._size
        first, last = span.groups()
        if not first:
            return max(0, self._size - int(last)), self._size
        end = min(int(last) + 1, self._size) if last else self._size
        return (int(first), end) if int(first) < end else (self._size, 0)
