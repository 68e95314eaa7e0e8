"""Takes of what is planned for a player, in tones, as the practice room would send them."""

from __future__ import annotations

import io
import sys
import wave
from dataclasses import dataclass
from datetime import date
from math import ceil
from pathlib import Path
from typing import Any

import numpy as np

from halfstep.app.tasks.room_places import PlanPlace
from halfstep.app.tasks.room_tasks import placed_etude
from halfstep.school.database import School
from halfstep.school.students import find_student
from halfstep.services.etude_reply import EtudeReply

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from tone_takes import TONE_RATE, line_in_tones

RATE, LEAD_S, BEGUN_AT = 48_000, 2.5, 10.0
NOISE = 30
"""Steps of 16 bits that make each take one of its own."""


@dataclass(frozen=True, slots=True)
class PlannedTake:
    """A take, and what is known of it.

    Attributes
    ----------
    base : str
        The address of what is played.
    frames : bytes
        Of 16 bits, one channel.
    about : dict
    """

    base: str
    frames: bytes
    about: dict[str, Any]

    @property
    def length_s(self) -> float:
        return len(self.frames) / 2 / RATE

    def of_its_own(self, seed: int) -> bytes:
        """The same frames, and like no other."""
        sound = np.frombuffer(self.frames, np.int16).astype(np.int32)
        noise = np.random.default_rng(seed).integers(-NOISE, NOISE, len(sound))
        return np.clip(sound + noise, -32768, 32767).astype(np.int16).tobytes()


def wav(frames: bytes) -> bytes:
    """As a file."""
    file = io.BytesIO()
    with wave.open(file, "wb") as sound:
        sound.setparams((1, 2, RATE, 0, "NONE", ""))
        sound.writeframes(frames)
    return file.getvalue()


def planned_take(school: School, name: str, length_s: float) -> tuple[PlannedTake, EtudeReply]:
    """The first item of a player's plan of today, played over and over for so long."""
    with school.reading() as connection:
        student = find_student(connection, name)
    place = PlanPlace(date.today(), 1)
    etude = placed_etude(school, student, place).etude
    chart, brief = etude.etude.analysis.chart, etude.etude.brief
    quarter_s = 60 / (brief.tempo_bpm * float(chart.meter.tempo_beats))
    choruses = ceil((length_s - LEAD_S) / (quarter_s * float(chart.beats)))
    sound = line_in_tones(etude, lambda beat: LEAD_S + beat * quarter_s, choruses=choruses)
    sound = sound[: round(length_s * TONE_RATE)]
    at = np.arange(round(len(sound) * RATE / TONE_RATE)) * TONE_RATE / RATE
    frames = np.int16(20_000 * np.interp(at, np.arange(len(sound)), sound)).tobytes()
    about = {
        "piece": place.address, "sample_rate": RATE, "headphones": True, "choruses": choruses,
        "begun_at": BEGUN_AT, "first_beat_at": BEGUN_AT + LEAD_S, "tempo_bpm": brief.tempo_bpm,
    }  # fmt: skip
    return PlannedTake(place.address, frames, about), etude
