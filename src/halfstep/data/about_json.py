"""What the practice room knows of a take that was recorded in it, as JSON.

Seconds whose names end in ``_at`` are of the browser's audio clock, of which frame 0 of the take
is at `TakeAbout.begun_at`; they are what the browser meant, not what was heard.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, fields
from math import isfinite
from typing import Any

from halfstep.errors import ReadError

LONGEST_ABOUT = 20_000
"""Letters."""
_MOST_ENTRIES = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeAbout:
    """What the practice room knows of a take.

    Attributes
    ----------
    piece : str
        The address of what was played.
    line : str
        ``written`` for the line on the staff, ``own`` for one of the player's own.
    tempo_bpm : float or None
        Pulses a minute; None for that of the piece.
    key : str
        Concert; empty for that of the piece.
    feel : str
        Empty for that of the piece.
    choruses : int
    loop : tuple of int
        The first and the last bar that went round; empty for all.
    parts : tuple of str
        What sounded.
    headphones : bool
        The player's own word.
    sample_rate : float
    begun_at, first_beat_at, last_beat_at : float
    chirps_at : tuple of float
    output_latency : float
        Seconds, as the browser believes.
    gaps : tuple of (int, int)
        Frames at which something was lost, and how many.
    engine : str
    """

    piece: str
    line: str = "written"
    tempo_bpm: float | None = None
    key: str = ""
    feel: str = ""
    choruses: int = 1
    loop: tuple[int, ...] = ()
    parts: tuple[str, ...] = ()
    headphones: bool = False
    sample_rate: float = 48000.0
    begun_at: float = 0.0
    first_beat_at: float = 0.0
    last_beat_at: float = 0.0
    chirps_at: tuple[float, ...] = ()
    output_latency: float = 0.0
    gaps: tuple[tuple[int, int], ...] = ()
    engine: str = ""

    @property
    def first_beat_s(self) -> float:
        """Where in the take bar 1 was meant to begin, before any delay."""
        return self.first_beat_at - self.begun_at

    @property
    def text(self) -> str:
        """The same as JSON in one line."""
        return json.dumps(asdict(self), ensure_ascii=False)


def read_about(source: str | dict[str, Any]) -> TakeAbout:
    """What a browser says of a take; what is missing is as usual, what is unknown is left out.

    Raises
    ------
    ReadError
        When a field is of another kind.
    """
    data = _object(source)
    values = {f.name: data[f.name] for f in fields(TakeAbout) if data.get(f.name) is not None}
    if not isinstance(values.get("piece"), str):
        raise ReadError("`about`: it does not say which `piece` was played")
    try:
        return TakeAbout(**{name: _READERS[name](value) for name, value in values.items()})
    except (TypeError, ValueError, OverflowError):
        raise ReadError("`about`: one of its fields is of another kind") from None


def _object(source: str | dict[str, Any]) -> dict[str, Any]:
    try:
        data = json.loads(source) if isinstance(source, str) else source
    except (ValueError, RecursionError):
        data = None
    if not isinstance(data, dict) or len(json.dumps(data)) > LONGEST_ABOUT:
        raise ReadError("`about`: it is no JSON object of a take")
    return data


def _number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
        raise ValueError
    return float(value)


def _whole(value: Any) -> int:
    return int(_number(value))


def _text(value: Any) -> str:
    if not isinstance(value, str) or len(value) > _MOST_ENTRIES:
        raise ValueError
    return value


def _entries(value: Any) -> list[Any]:
    if not isinstance(value, list | tuple) or len(value) > _MOST_ENTRIES:
        raise ValueError
    return list(value)


def _gap(value: Any) -> tuple[int, int]:
    """Where it is and how long; the browser may name them."""
    frame, lost = (value["frame"], value["lost"]) if isinstance(value, dict) else value
    return _whole(frame), _whole(lost)


_READERS: dict[str, Any] = {
    "piece": _text,
    "line": _text,
    "tempo_bpm": _number,
    "key": _text,
    "feel": _text,
    "choruses": _whole,
    "loop": lambda value: tuple(map(_whole, _entries(value))),
    "parts": lambda value: tuple(map(_text, _entries(value))),
    "headphones": bool,
    "sample_rate": _number,
    "begun_at": _number,
    "first_beat_at": _number,
    "last_beat_at": _number,
    "chirps_at": lambda value: tuple(map(_number, _entries(value))),
    "output_latency": _number,
    "gaps": lambda value: tuple(map(_gap, _entries(value))),
    "engine": _text,
}
