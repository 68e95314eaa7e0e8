"""A piece of the practice room: what it is, its lines of music, and its sounds as they are needed.

All of it is asked for at the address of its place, with tempo, key and feel behind it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache, partial

from starlette.responses import JSONResponse, Response

from halfstep.app.tasks.room_places import place_at
from halfstep.app.tasks.room_tasks import placed_etude
from halfstep.app.web.kept_sounds import KeptSounds, Making
from halfstep.app.web.piece_view import TEMPO_STEP, piece_data, shown_systems, turn_data
from halfstep.app.web.visit import Visit
from halfstep.errors import BriefError
from halfstep.meter import FASTEST_BPM, SLOWEST_BPM
from halfstep.services.etude_reply import EtudeReply
from halfstep.services.room_piece import RoomPiece, RoomWish, SameEtude, room_piece
from halfstep.services.room_sound import (
    BAND,
    CLICK,
    COUNT_IN,
    ENDING,
    FORMS,
    RoomSound,
    StretchWish,
)

SOUNDS = KeptSounds()
"""Of all who play."""
_KEPT_PIECES = 48
_LASTS = {"cache-control": "private, max-age=86400"}
_NUMBER = re.compile(r"\d{1,4}(\.\d{1,3})?", re.ASCII)
_NO_BARS = "`bars` are asked for as 3-6, and of a `chorus` from 1"
_BARS = re.compile(r"(\d{1,4})-(\d{1,4})", re.ASCII)


def show_piece(visit: Visit) -> Response:
    """What is played, as it is asked for."""
    sound = _sound(visit)
    SOUNDS.forget_ahead()
    SOUNDS.ahead(_neighbours(_written(visit), _wish(visit), sound.piece))
    SOUNDS.ahead(_makings(sound))
    return JSONResponse(piece_data(sound))


def show_turn(visit: Visit) -> Response:
    """What changes where some bars that go round turn."""
    turn = turn_data(_sound(visit).piece, *_bars(visit.text("bars")))
    return JSONResponse(turn, headers=_LASTS)


def show_systems(visit: Visit) -> Response:
    """The lines of music of what is played, from one of them on."""
    after = visit.text("after", "0")
    systems = shown_systems(_sound(visit).piece)[_whole(after) :]
    return JSONResponse([system.data for system in systems], headers=_LASTS)


def hear_stretch(visit: Visit) -> Response:
    """Some bars of a part; nothing where it is silent there."""
    sound, wish = _sound(visit), _stretch(visit)
    making, is_first = partial(sound.file, wish), sound.is_first(wish)
    file = SOUNDS.sound(sound.mark(wish), making, is_first=is_first)
    if not file.data:
        return Response(status_code=204, headers=_LASTS)
    headers = {**_LASTS, "x-frames": str(file.frames)}
    return Response(file.data, media_type=FORMS[wish.form], headers=headers)


# What is asked for


def _whole(text: str) -> int:
    return int(text) if re.fullmatch(r"\d{1,4}", text, re.ASCII) else 0


def _sound(visit: Visit) -> RoomSound:
    return _ready(SameEtude(_written(visit)), _wish(visit))


def _written(visit: Visit) -> EtudeReply:
    student = visit.player()
    return placed_etude(visit.school, student, place_at(visit.request.url.path)).etude


def _wish(visit: Visit) -> RoomWish:
    tempo = visit.text("tempo")
    if tempo and not _NUMBER.fullmatch(tempo):
        raise BriefError(f"`tempo_bpm` {tempo!r}: give pulses a minute")
    return RoomWish(float(tempo) if tempo else None, visit.text("key"), visit.text("feel"))


def _stretch(visit: Visit) -> StretchWish:
    chorus = visit.text("chorus", "1")
    wish = StretchWish(visit.word("part"), chorus, form=visit.text("form", "m4a"))
    if chorus in {COUNT_IN, ENDING}:
        return wish
    first, last = _bars(visit.text("bars", "1-1"))
    if not _NUMBER.fullmatch(chorus) or not chorus.isdecimal():
        raise BriefError(_NO_BARS)
    return wish._replace(chorus=max(1, int(chorus)), first=first, last=last)


def _bars(text: str) -> tuple[int, int]:
    span = _BARS.fullmatch(text)
    if span is None:
        raise BriefError(_NO_BARS)
    return int(span[1]), int(span[2])


@lru_cache(_KEPT_PIECES)
def _ready(same: SameEtude, wish: RoomWish) -> RoomSound:
    return RoomSound(room_piece(same.reply, wish))


# Ahead


def _neighbours(
    written: EtudeReply, wish: RoomWish, piece: RoomPiece
) -> Iterator[tuple[str, Making]]:
    """What sounds first a step slower and a step faster."""
    for step in (-TEMPO_STEP, TEMPO_STEP):
        tempo_bpm = piece.tempo_bpm + step
        if SLOWEST_BPM <= tempo_bpm <= FASTEST_BPM:
            yield from _makings(_ready(SameEtude(written), replace(wish, tempo_bpm=tempo_bpm)))


def _makings(sound: RoomSound) -> Iterator[tuple[str, Making]]:
    """What sounds first of a piece."""
    return ((sound.mark(first), partial(sound.file, first)) for first in _first(sound))


def _first(sound: RoomSound) -> Iterator[StretchWish]:
    """The count-in and the band's first bars."""
    first = sound.stretches[0]
    yield StretchWish(CLICK, COUNT_IN)
    for part in BAND:
        yield StretchWish(part, 1, first.first, first.last)
