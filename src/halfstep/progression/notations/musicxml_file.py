"""What XML lies in a score file? Opened as if it came from a stranger.

A ``.mxl`` file is a zip archive whose ``META-INF/container.xml`` names the score. Entity
bombs, outside entities, huge archives and names that leave the archive are refused.

Source: MusicXML 4.0, compressed files (W3C).
"""

from __future__ import annotations

import io
import zipfile
import zlib
from pathlib import PurePosixPath
from typing import TYPE_CHECKING

from halfstep.errors import ReadError

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

MAX_BYTES = 20_000_000
"""A file, and all that an archive holds."""

MAX_ENTRIES = 100
MAX_RATIO = 200
"""Expanded over stored size of an entry larger than 1 MB."""

_CONTAINER = "META-INF/container.xml"


def read_score_root(data: bytes, *, source: str = "") -> Element:
    """The root of a MusicXML file, plain or compressed, with parts that hold bars.

    Raises
    ------
    ReadError
        When the bytes are no MusicXML, or ask for too much.
    """
    try:
        root = _parsed(_score_bytes(data))
    except ReadError as error:
        raise error.at(source=source) from None
    if root.tag == "score-timewise":
        root = _partwise(root)
    if root.tag != "score-partwise":
        raise ReadError(
            f"<{root.tag[:40]}> is no MusicXML score; export it as MusicXML", source=source
        )
    return root


def _score_bytes(data: bytes) -> bytes:
    """The score itself: the file, or the entry its container names."""
    if not data.strip():
        raise ReadError("the file is empty; give a MusicXML file")
    if not data.startswith(b"PK"):
        return data
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            _check(archive)
            return _entry(archive, _score_name(archive))
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError) as error:
        raise ReadError(f"the compressed file is damaged: {error}") from None
    except (KeyError, NotImplementedError, RuntimeError, ValueError, OverflowError) as error:
        raise ReadError(f"the compressed file cannot be opened: {error}") from None


def _check(archive: zipfile.ZipFile) -> None:
    entries = archive.infolist()
    if len(entries) > MAX_ENTRIES:
        raise ReadError(f"the compressed file holds more than {MAX_ENTRIES} entries")
    if sum(entry.file_size for entry in entries) > MAX_BYTES:
        raise ReadError(f"the compressed file expands to more than {MAX_BYTES // 1_000_000} MB")
    for entry in entries:
        path = PurePosixPath(entry.filename.replace("\\", "/"))
        if path.is_absolute() or ".." in path.parts or ":" in path.parts[0:1]:
            raise ReadError(f"the compressed file names a place outside it: {entry.filename!r}")
        if entry.compress_type not in {zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED}:
            raise ReadError("the compressed file is packed in a way that MusicXML does not know")
        big = entry.file_size > 1_000_000
        if big and entry.file_size > MAX_RATIO * max(entry.compress_size, 1):
            raise ReadError("the compressed file expands beyond measure")


def _entry(archive: zipfile.ZipFile, name: str) -> bytes:
    with archive.open(name) as file:
        data = file.read(MAX_BYTES + 1)  # the size an entry states may be wrong
    if len(data) > MAX_BYTES:
        raise ReadError(f"the compressed file expands to more than {MAX_BYTES // 1_000_000} MB")
    return data


def _score_name(archive: zipfile.ZipFile) -> str:
    names = archive.namelist()
    stated = [name for name in _container_names(archive) if name in names]
    scores = [
        name
        for name in names
        if name.lower().endswith((".xml", ".musicxml")) and not name.startswith("META-INF")
    ]
    name = next(iter(stated + scores), None)
    if name is None:
        raise ReadError("the compressed file holds no score")
    return name


def _container_names(archive: zipfile.ZipFile) -> list[str]:
    """What the container names; nothing where it is broken, as some writers leave it."""
    if _CONTAINER not in archive.namelist():
        return []
    try:
        container = _parsed(_entry(archive, _CONTAINER))
    except ReadError:
        return []
    return [rootfile.get("full-path", "") for rootfile in container.iter("rootfile")]


def _parsed(data: bytes) -> Element:
    from xml.etree.ElementTree import ParseError

    from defusedxml import DefusedXmlException, ElementTree

    try:
        root: Element = ElementTree.fromstring(data, forbid_dtd=False)
    except DefusedXmlException:
        raise ReadError("the file defines or fetches entities, which no score needs") from None
    except ParseError as error:
        line, column = error.position
        fault = str(error).split(":")[0]
        message = f"this is no well-formed XML: {fault}; export the score again"
        raise ReadError(message, line=line, column=column + 1) from None
    except (LookupError, ValueError) as error:
        raise ReadError(f"the XML cannot be decoded: {error}") from None
    for element in root.iter():
        if isinstance(element.tag, str) and "}" in element.tag:
            element.tag = element.tag.rpartition("}")[2]
    return root


def _partwise(root: Element) -> Element:
    """A score whose bars hold parts, turned into parts that hold bars."""
    from xml.etree.ElementTree import Element as New

    parts: dict[str, Element] = {}
    turned = New("score-partwise")
    turned.extend(child for child in root if child.tag != "measure")
    for measure in root.iter("measure"):
        for piece in measure.iter("part"):
            name = piece.get("id", "")
            part = parts.setdefault(name, New("part", {"id": name}))
            bar = New("measure", dict(measure.attrib))
            bar.extend(piece)
            part.append(bar)
    turned.extend(parts.values())
    return turned
