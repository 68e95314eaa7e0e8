"""Some bars of a form that went round: what they show of the course, and where they lie in it."""

from __future__ import annotations

from dataclasses import replace
from itertools import cycle
from pathlib import Path

import pytest

from feedback.played_takes import played, take_of
from halfstep.course.course_folder import our_course
from halfstep.etude.steps import find_step
from halfstep.feedback.judge import judge
from halfstep.instruments import INSTRUMENTS
from halfstep.lesson.course_sheet import keyed_sheet
from halfstep.practice.evidence import Verdict
from halfstep.services.looped_etude import looped_etude
from halfstep.services.take_evidence import TakeEvidence, take_evidence
from halfstep.services.write_etude import WriteEtude, write_one_etude

UNIT = our_course().unit("major-blues")
assert UNIT
STEP = "root-third"
PLAYER = "alto-sax"
SHEET = keyed_sheet(UNIT, UNIT.progressions[0], 0, INSTRUMENTS[PLAYER])
WHOLE = write_one_etude(WriteEtude(SHEET, STEP, instrument=PLAYER, level=str(UNIT.level)))


def shown(tmp_path: Path, loop: tuple[int, int], *, wrong: int = 0) -> TakeEvidence:
    """What a take of some bars shows, in the first of which no note is right."""
    reply = looped_etude(WHOLE, loop)
    few = reply.etude
    tones = played(few.analysis, few.notes, passes=2, swing=0.6, spread=0.01, seed=1)
    beats = few.analysis.chart.beats
    slips = cycle((1, -2, 2, -1))
    tones = [
        replace(tone, midi=tone.midi + next(slips)) if tone.onset % beats < 4 * wrong else tone
        for tone in tones
    ]
    take = take_of(tones, few.analysis, line=few.notes, bpm=UNIT.start_bpm)
    recording = tmp_path / "take.wav"
    recording.write_bytes(b"take")
    return take_evidence(judge(take), find_step(STEP), our_course(), recording, reply.whole)


@pytest.mark.parametrize("loop", [(5, 6), (5, 8), (1, 12)])
def test_some_bars_count_for_their_share_of_the_unit(tmp_path: Path, loop: tuple[int, int]) -> None:
    piece = shown(tmp_path, loop).evidence
    assert piece
    assert (piece.skill.unit, piece.skill.step) == (UNIT.name, STEP)
    assert piece.verdict is Verdict.CLEAN
    assert piece.part == pytest.approx((loop[1] - loop[0] + 1) / 12)


def test_what_went_wrong_is_told_by_its_bar_in_the_whole(tmp_path: Path) -> None:
    piece = shown(tmp_path, (5, 8), wrong=1).evidence
    assert piece
    assert piece.verdict is not Verdict.CLEAN
    assert piece.trouble_bar == 5


def test_of_another_line_than_the_written_one_nothing_is_counted(tmp_path: Path) -> None:
    nothing = shown(tmp_path, (5, 6), wrong=1)
    assert nothing.evidence is None
    assert nothing.notice == "what is played is not the line that is written, so nothing is counted"
