"""What comes from the practice room: sound without a head, and what is known of it."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from halfstep.errors import BriefError, StoreError
from halfstep.render.wav_file import write_mono_wav

FRAME_BYTES = 2
"""16 bit, one channel, the low byte first."""
RATES = range(8000, 192_001)
"""Samples a second that a browser may record."""
MOST_LETTERS = 20_000
"""Of what is known of a take, as data."""


def demand_about(about: Mapping[str, Any]) -> None:
    """Refuse a recording of which too little is known, or too much is told.

    Raises
    ------
    BriefError
    """
    rate = about.get("sample_rate")
    if type(rate) is not int or rate not in RATES:
        raise BriefError(
            f"`sample_rate`: send samples a second, a whole number from {RATES[0]} to {RATES[-1]}"
        )
    if len(json.dumps(about)) > MOST_LETTERS:
        raise BriefError(f"`about`: send {MOST_LETTERS} letters or less")


def write_take(path: Path, sound: Path, about: Mapping[str, Any]) -> None:
    """Write a take as a WAVE file whose comment holds what is known of it.

    Parameters
    ----------
    path : Path
    sound : Path
        Its frames, without a head.
    about : dict
        With `sample_rate`.

    Raises
    ------
    StoreError
        When the disk cannot take it.
    """
    tags = {b"ICMT": json.dumps(about, ensure_ascii=False, sort_keys=True)}
    try:
        with sound.open("rb") as frames, path.open("wb") as file:
            size = sound.stat().st_size
            write_mono_wav(file, frames, size=size, rate=about["sample_rate"], tags=tags)
    except OSError as error:
        raise StoreError(f"the take cannot be kept: {error.strerror}") from None
