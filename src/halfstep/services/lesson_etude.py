"""A step of a lesson, opened as the etude that it is."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from halfstep.data.documents import json_text, read_document
from halfstep.data.etude_json import ETUDE_FORM
from halfstep.data.lesson_json import LESSON_FORM, exercises
from halfstep.data.line_json import read_notes
from halfstep.errors import BriefError, HalfstepError
from halfstep.level import Level
from halfstep.services.band_fields import style_of
from halfstep.services.etude_reply import EtudeReply
from halfstep.services.opened_etude import OpenedEtude, opened_etude
from halfstep.services.request_fields import player_of


def lesson_etude(file: Path, step: str, instrument: str | None = None) -> EtudeReply:
    """A step of a lesson for one player, as it was handed out.

    Parameters
    ----------
    file : Path
        ``lesson.json``.
    step : str
        Its name.
    instrument : str or None
        Whose it is; None takes the first player that has it.

    Raises
    ------
    BriefError
        When the lesson has no such step, or cannot be read.
    """
    try:
        stored = _stored(read_document(file, LESSON_FORM), step, instrument)
        pickup = read_notes(stored.get("pickup", ()))
    except (HalfstepError, KeyError, TypeError, ValueError):
        raise BriefError(f"`lesson` {file.name}: it cannot be read; have it made anew") from None
    if not stored:
        raise BriefError(f"`step` {step!r}: this lesson has none")
    reply = opened_reply(opened_etude(json_text(stored)))
    return replace(reply, etude=replace(reply.etude, pickup=pickup)) if pickup else reply


def opened_reply(opened: OpenedEtude) -> EtudeReply:
    """An etude that was opened, to be shown and heard."""
    etude = opened.etude
    style = style_of(None, None, etude.analysis.chart)
    return EtudeReply(etude, opened.part, style, degrees=False, notices=(), whole=opened.whole)


def _stored(lesson: dict[str, Any], step: str, instrument: str | None) -> dict[str, Any]:
    """The step as an etude is stored; empty where there is none."""
    for player in lesson["players"]:
        if instrument not in {None, player["instrument"]}:
            continue
        for exercise in exercises(player):
            if exercise["step"] == step:
                return _etude_fields(lesson, player) | exercise
    return {}


def _etude_fields(lesson: dict[str, Any], player: dict[str, Any]) -> dict[str, Any]:
    instrument = player_of(str(player["instrument"]))
    compass = instrument.compass(Level(player["level"]))
    limits = (instrument.concert(compass.low).midi, instrument.concert(compass.high).midi)
    same = ("written_above_concert", "written_key", "level")
    return {
        **ETUDE_FORM.head,
        "chart_title": lesson["title"],
        "instrument": instrument.key,
        **{name: player[name] for name in same},
        "seed": lesson["seed"],
        "tempo_bpm": lesson["tempo_bpm"],
        "feel": lesson["feel"],
        "limits_midi": list(limits),
        "known_midi": None,
        "chart": lesson["chart"],
    }
