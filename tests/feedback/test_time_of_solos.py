"""What is told of the time of good players? Nothing; and their beats are found.

Source: six transcribed solos of 60-290 bpm, onsets and bars by hand, from the derived tables of
the jazzodata repository (MIT). No beat of the band is in them: the steady clock is the straight
line through all onsets.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import groupby

import numpy as np
import pytest

from halfstep.feedback.form_places import form_places
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.kept_tempo import kept_quarter_s
from halfstep.feedback.take_clock import TakeClock, clocked_notes
from halfstep.feedback.timing_findings import timing_findings
from halfstep.harmony.analysis import analyse
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.listen.heard_take import HeardNote
from halfstep.listen.known_errors import known_errors
from halfstep.meter import Feel
from halfstep.part.transposed_part import part_for
from made_takes import chart_in
from solos import needs_tables, rows

SOLOS = ("52", "104", "139", "172", "241", "355")
pytestmark = needs_tables


def solo(number: str, *, has_backing: bool) -> tuple[JudgedTake, list[Fraction]]:
    """A solo as a take, and the places by hand."""
    table = groupby(rows("wjd_sample_solos_notes.csv"), key=lambda row: row["melid"])
    notes = next([*group] for melid, group in table if melid == number)
    places = [
        4 * int(note["bar"])
        + int(note["beat"])
        - 1
        + Fraction(int(note["tatum"]) - 1, int(note["division"]))
        for note in notes
    ]
    onsets_s = [float(note["onset"]) for note in notes]
    quarter_s, form_s = np.polyfit([float(place) for place in places], onsets_s, 1)
    sounds = [
        HeardNote(onset_s, onset_s + 0.1, midi, 0.0, -20.0, 0.99, float(midi))
        for onset_s, midi in zip(onsets_s, (int(note["pitch_raw"]) for note in notes), strict=True)
    ]
    clock = TakeClock(float(quarter_s), float(form_s), has_backing, has_backing)
    analysis = analyse(chart_in("4/4"))
    form = form_places(analysis)
    counted = clocked_notes(sounds, clock, form=form, feel=Feel.SWING)
    take = JudgedTake(
        notes=counted,
        end=counted[-1].sounded + 1,
        clock=clock,
        part=part_for(analysis, INSTRUMENTS["tenor-sax"]),
        form=form,
        level=Level.ADVANCED,
        feel=Feel.SWING,
        errors=known_errors("tenor-sax"),
    )
    return take, places


@pytest.mark.parametrize("has_backing", [True, False])
@pytest.mark.parametrize("number", SOLOS)
def test_a_master_is_told_nothing_of_time(number: str, has_backing: bool) -> None:
    take, _ = solo(number, has_backing=has_backing)
    assert [*timing_findings(take)] == []


@pytest.mark.parametrize("number", SOLOS)
def test_notes_of_a_master_stand_in_their_beats(number: str) -> None:
    take, places = solo(number, has_backing=False)
    pairs = zip(take.notes, places, strict=True)
    right = sum(note.place // 1 == place // 1 for note, place in pairs)
    # 104 is in double time, most of it in sixteenths and faster
    assert right / len(places) >= (0.7 if number == "104" else 0.88)


@pytest.mark.parametrize("number", SOLOS)
def test_a_master_keeps_the_tempo_of_the_record(number: str) -> None:
    take, _ = solo(number, has_backing=False)
    onsets_s = [note.sound.onset_s for note in take.notes if note.sound]
    assert kept_quarter_s(onsets_s, take.clock.quarter_s, Fraction(1)) == take.clock.quarter_s
