"""What was heard of a take, as data, in seconds of the recording and concert pitch."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from halfstep.data.documents import JsonForm, read_document
from halfstep.errors import ReadError
from halfstep.listen.heard_take import HeardNote, HeardTake
from halfstep.listen.known_errors import CERTAINTY_CLASSES, certainty_class, known_errors
from halfstep.listen.take_notice import TakeNotice, Trouble
from halfstep.part.take_part import WrittenTake

TAKE_FORM = JsonForm("halfstep-take", "a take")


def take_data(written: WrittenTake) -> dict[str, Any]:
    """All that was heard, as data; what is not known is null."""
    take = written.take
    return {
        **TAKE_FORM.head,
        "length_s": round(take.length_s, 4),
        "tuning_cents": round(take.tuning_cents, 1),
        "delay_s": _rounded(take.delay_s, 4),
        "delay_modulo_s": _rounded(take.delay_modulo_s, 4),
        "form_s": _rounded(written.form_s, 4),
        "leak_db": _rounded(take.leak_db, 1),
        "rate_ratio": round(take.rate_ratio, 6),
        "errors": _errors_data(written),
        "notices": [notice.text for notice in take.notices],
        "troubles": [str(notice.trouble) for notice in take.notices],
        "notes": [_note_data(note) for note in take.notes],
    }


def _errors_data(written: WrittenTake) -> dict[str, Any]:
    """What is known of the ear's own errors with that player."""
    errors = known_errors(written.player.key)
    return {
        "measured_with": errors.instrument or None,
        "onset_bias_ms": errors.onset_bias_ms,
        "onset_spread_ms": errors.onset_spread_ms,
        "cents": errors.cents,
        "swing_sd": {"to_150_bpm": errors.swing_sd_slow, "from_150_bpm": errors.swing_sd_fast},
        "certainty_from": dict(CERTAINTY_CLASSES),
    }


def _rounded(figure: float | None, digits: int) -> float | None:
    return None if figure is None else round(figure, digits)


def _note_data(note: HeardNote) -> dict[str, Any]:
    return {
        "onset_s": round(note.onset_s, 4),
        "offset_s": round(note.offset_s, 4),
        "midi": note.midi,
        "cents": round(note.cents, 1),
        "level_db": round(note.level_db, 1),
        "certainty": round(note.certainty, 3),
        "certainty_class": certainty_class(note.certainty),
        "pitch_midi": round(note.pitch_midi, 4),
    }


def read_take(source: str | Path) -> HeardTake:
    """The take in a text or a file of it, as exact as it was stored.

    Raises
    ------
    ReadError
        When it is no such document, or not as it was written.
    """
    data = read_document(source, TAKE_FORM)
    try:
        return HeardTake(
            tuple(_heard_note(note, float(data["tuning_cents"])) for note in data["notes"]),
            length_s=float(data["length_s"]),
            tuning_cents=float(data["tuning_cents"]),
            delay_s=_figure(data["delay_s"]),
            leak_db=_figure(data["leak_db"]),
            rate_ratio=float(data["rate_ratio"]),
            notices=tuple(_notices(data)),
            delay_modulo_s=_figure(data.get("delay_modulo_s")),
        )
    except (KeyError, TypeError, ValueError):
        raise ReadError("the take is not as Halfstep writes it") from None


def _notices(data: dict[str, Any]) -> Iterator[TakeNotice]:
    """What was said of the take; older files do not tell the kinds apart."""
    texts = list(map(str, data["notices"]))
    troubles = data.get("troubles", [Trouble.OTHER] * len(texts))
    for trouble, text in zip(troubles, texts, strict=True):
        yield TakeNotice(Trouble(trouble), text)


def _figure(stored: float | None) -> float | None:
    return None if stored is None else float(stored)


def _heard_note(data: dict[str, Any], tuning_cents: float) -> HeardNote:
    named = float(data["midi"]) + (float(data["cents"]) + tuning_cents) / 100
    return HeardNote(
        onset_s=float(data["onset_s"]),
        offset_s=float(data["offset_s"]),
        midi=int(data["midi"]),
        cents=float(data["cents"]),
        level_db=float(data["level_db"]),
        certainty=float(data["certainty"]),
        pitch_midi=float(data.get("pitch_midi", named)),
    )
