"""Recordings come from the practice room: begun, grown piece by piece, ended or thrown away."""

from __future__ import annotations

import json
import tempfile
from pathlib import Path
from typing import Any

from starlette.responses import JSONResponse, Response

from halfstep.app.tasks import recording_tasks
from halfstep.app.tasks.early_tasks import growing_recording_of
from halfstep.app.tasks.recording_tasks import RecordingStanding
from halfstep.app.web.page import leads_to
from halfstep.app.web.visit import Visit, stored_upload, wants_data
from halfstep.errors import BriefError, TakeError
from halfstep.school.sent_takes import SentTake
from halfstep.school.students import Student
from halfstep.school.tables import LONGEST_ADDRESS

MOST_PIECE_BYTES = 4_000_000
MOST_WORDS_BYTES = 100_000
"""Of what is told of a recording."""
MOST_FRAMES = 2**31 - 1


def begin_room_recording(visit: Visit) -> Response:
    """Expect a recording, or tell how much of it stands."""
    student, sent = _player(visit), _object(visit)
    key, piece, about = sent.get("key"), _piece(sent.get("piece")), sent.get("about")
    if not isinstance(about, dict):
        raise BriefError("`about`: send what is known of the recording, as an object")
    stands = recording_tasks.begin(visit.school, student, _key(str(key)), piece=piece, about=about)
    return _told(stands)


def show_room_recording(visit: Visit) -> Response:
    """How far a recording has come."""
    return _told(recording_tasks.standing(visit.school, _player(visit), _key_in_address(visit)))


def grow_room_recording(visit: Visit) -> Response:
    """Keep a piece; it is acknowledged when it is on the disk for good."""
    first = visit.text("from")
    if not first.isascii() or not first.isdecimal() or len(first) > 12:
        raise BriefError("`from`: send the byte that the piece begins with, a whole number")
    key = _key_in_address(visit)
    student = _player(visit)
    have = recording_tasks.add(visit.school, student, key, visit.body, first=int(first))
    visit.site.hear(growing_recording_of(visit.school, student, key))
    return JSONResponse({"have": have})


def end_room_recording(visit: Visit) -> Response:
    """Make a recording a take; where bytes of it lack, they are asked for first."""
    student, sent = _player(visit), _object(visit)
    frames, about = sent.get("frames"), sent.get("about", {})
    if type(frames) is not int or not 0 <= frames <= MOST_FRAMES:
        raise BriefError("`frames`: send how many the recording has, a whole number")
    if not isinstance(about, dict):
        raise BriefError("`about`: send what is known of the recording, as an object")
    key = _key_in_address(visit)
    stands = recording_tasks.end(visit.school, student, key, frames=frames, about=about)
    if stands.take is not None:
        visit.site.wake()
    return _told(stands, done=201, undone=409)


def discard_room_recording(visit: Visit) -> Response:
    """Remove a recording that was not sent."""
    recording_tasks.throw_away(visit.school, _player(visit), _key_in_address(visit))
    return Response(status_code=204)


def send_room_file(visit: Visit) -> Response:
    """Keep a take that was recorded elsewhere and is sent as a file."""
    student, upload = _player(visit), visit.upload("take")
    if upload is None:
        raise TakeError("choose a recording first")
    about = _parsed(visit.text("about") or "{}")
    piece = _piece(visit.text("piece"))
    with tempfile.TemporaryDirectory(prefix="halfstep-") as folder:
        recording = stored_upload(upload, Path(folder))
        take = recording_tasks.send_file(
            visit.school, student, recording, about={**about, "piece": piece}
        )
    visit.site.wake()
    if wants_data(visit.request):
        return _told(RecordingStanding(0, take), done=201)
    return leads_to(take_address(take))


def _player(visit: Visit) -> Student:
    """Who records.

    Raises
    ------
    NotAllowed
    """
    student = visit.player()
    return student


def _key_in_address(visit: Visit) -> str:
    return _key(visit.word("key"))


def _key(text: str) -> str:
    """A key as browsers make them (RFC 9562), in one spelling.

    Raises
    ------
    BriefError
    """
    from uuid import UUID

    try:
        key = str(UUID(text))
    except ValueError:
        key = ""
    if key != text.lower():
        raise BriefError("`key`: send a UUID, such as 0f8fad5b-d9cb-469f-a165-70867728950e")
    return key


def _piece(piece: object) -> str:
    """The address of what is played.

    Raises
    ------
    BriefError
    """
    if not isinstance(piece, str) or not piece.startswith("/room") or len(piece) > LONGEST_ADDRESS:
        raise BriefError("`piece`: send the address of what is played, such as /room/items/1")
    return piece


def _object(visit: Visit) -> dict[str, Any]:
    """What was sent, as an object.

    Raises
    ------
    BriefError
    """
    return _parsed(visit.body)


def _parsed(text: str | bytes) -> dict[str, Any]:
    try:
        sent = json.loads(text, parse_constant=_no_number)
    except (ValueError, RecursionError):
        sent = None
    if not isinstance(sent, dict):
        raise BriefError("what was sent is no JSON object; send one, such as {}")
    return sent


def _no_number(text: str) -> float:
    raise ValueError(text)


def _told(stands: RecordingStanding, *, done: int = 200, undone: int = 200) -> Response:
    told: dict[str, Any] = {"have": stands.length}
    if stands.take is not None:
        told |= {"take": stands.take.number, "address": take_address(stands.take)}
    return JSONResponse(told, undone if stands.take is None else done)


def take_address(take: SentTake) -> str:
    """Where its player finds what was heard in a take."""
    return f"/my-takes/{take.number}"
