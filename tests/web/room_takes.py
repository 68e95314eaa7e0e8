"""Takes of the practice room, for tests: what stands at a place, played in tones and sent."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

import numpy as np
from desks import Desk

from halfstep.app.tasks.room_tasks import room_take
from halfstep.school.students import find_student
from tone_takes import TONE_RATE, line_in_tones

LEAD_S = 2.0
"""Of a take before its bar 1."""


def played(desk: Desk, name: str, address: str, **about: Any) -> bytes:
    """The line at a place once through, as 16 bit frames."""
    with desk.school.reading() as connection:
        student = find_student(connection, name)
    take = room_take(desk.school, student, {"piece": address, **about})
    assert take is not None
    etude = take.etude
    brief = etude.etude.brief
    quarter_s = 60 / (brief.tempo_bpm * float(etude.etude.analysis.chart.meter.tempo_beats))
    sound = line_in_tones(etude, lambda beat: LEAD_S + beat * quarter_s, choruses=1)
    frames: bytes = np.int16(20_000 * sound).tobytes()
    return frames


def sent_from_room(desk: Desk, name: str, address: str, sound: bytes, **about: Any) -> int:
    """The number of a take that was recorded at a place of the room and sent."""
    player, key = desk.student(name), str(uuid4())
    known = {
        "sample_rate": TONE_RATE,
        "headphones": True,
        "begun_at": 10.0,
        "first_beat_at": 10.0 + LEAD_S,
        **about,
    }
    player.post("/room/recordings", json={"key": key, "piece": address, "about": known})
    player.put(f"/room/recordings/{key}?from=0", content=sound)
    answer = player.post(f"/room/recordings/{key}/end", json={"frames": len(sound) // 2})
    number: int = answer.json()["take"]
    return number
