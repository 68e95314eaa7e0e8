"""A written line played in tones that have a few partials, at any times."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from halfstep.services.etude_reply import EtudeReply

TONE_RATE = 22_050


def line_in_tones(
    etude: EtudeReply, time_s: Callable[[float], float], *, choruses: int, tail_s: float = 1.0
) -> Any:
    """The line of an etude in every chorus, each beat at its second, at `TONE_RATE`."""
    form = float(etude.etude.analysis.chart.beats)
    sound = np.zeros(round((time_s(choruses * form) + tail_s) * TONE_RATE))
    for chorus in range(choruses):
        for note in etude.etude.notes:
            if note.pitch is not None:
                start = chorus * form + float(note.onset)
                begin_s, end_s = time_s(start), time_s(start + float(note.beats))
                tone = _tone(note.pitch.midi, 0.9 * (end_s - begin_s))
                first = round(begin_s * TONE_RATE)
                sound[first : first + len(tone)] += tone
    return sound


def _tone(midi: int, held_s: float) -> Any:
    time = np.arange(round(held_s * TONE_RATE)) / TONE_RATE
    hertz = 440 * 2 ** ((midi - 69) / 12)
    edge = np.clip(time / 0.01, 0, 1) * np.clip((time[-1] - time) / 0.02, 0, 1)
    return 0.2 * edge * sum(np.sin(2 * np.pi * n * hertz * time) / n**2 for n in (1, 2, 3, 4))
