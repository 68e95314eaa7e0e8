"""Feedback on a take to a backing that goes faster with every chorus, in the take and beside it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from halfstep.data.feedback_json import feedback_data
from halfstep.errors import BriefError
from halfstep.feedback.findings import FindingKind
from halfstep.services.etude_reply import EtudeReply
from halfstep.services.feedback_reply import FeedbackReply
from halfstep.services.give_feedback import GiveFeedback, give_feedback
from halfstep.services.known_backing import known_backing
from halfstep.services.make_backing import MakeBacking, make_backing
from halfstep.services.write_etude import WriteEtude, write_one_etude
from tone_takes import TONE_RATE, line_in_tones

CHART = "feel: straight\n| Dm7 | G7 | Cmaj7 | A7 | Fmaj7 | Bm7b5 E7 | Am7 | D7 |"
TEMPI, FORM = (150.0, 165.0, 185.0), 32
DELAY_S = 0.18


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("rising")


@pytest.fixture(scope="module")
def etude(folder: Path) -> EtudeReply:
    wanted = WriteEtude(f"tempo: 150\n{CHART}", "scale", instrument="flute", ending=False)
    reply = write_one_etude(wanted)
    (folder / "line.json").write_bytes(reply.file(".json").data)
    return reply


@pytest.fixture(scope="module")
def backing(folder: Path) -> Path:
    made = MakeBacking(
        CHART, folder, tempi="150,165,185", rising=True, click=True, sound_format="wav"
    )
    make_backing(made)
    return next(folder.glob("*.wav"))


def second(beat: float) -> float:
    """When a beat of the form sounds, by the tempi alone."""
    chorus = min(int(beat // FORM), len(TEMPI) - 1)
    before_s = sum(FORM * 60 / tempo for tempo in TEMPI[:chorus])
    return before_s + (beat - chorus * FORM) * 60 / TEMPI[chorus]


def recording(etude: EtudeReply, backing: Path, path: Path, *, bleeds: bool) -> Path:
    """The line in every chorus, later by the delay of a device; the backing in it or not."""
    begin_s = (known_backing(backing, ()).start_s or 0.0) + DELAY_S
    sound = line_in_tones(etude, lambda beat: begin_s + second(beat), choruses=len(TEMPI))
    if bleeds:
        under, rate = soundfile.read(backing)
        seconds = np.arange(len(sound)) / TONE_RATE - DELAY_S
        sound += 0.3 * np.interp(seconds, np.arange(len(under)) / rate, under[:, 0])
    soundfile.write(path, sound, TONE_RATE)
    return path


def judged(etude: EtudeReply, backing: Path, *, bleeds: bool) -> FeedbackReply:
    take = recording(etude, backing, backing.parent / f"take-{bleeds}.flac", bleeds=bleeds)
    line = backing.parent / "line.json"
    return give_feedback(GiveFeedback(take, backing=backing, etude=line, headphones=not bleeds))


@pytest.mark.slow
@pytest.mark.parametrize("bleeds", [True, False], ids=["backing in the take", "headphones"])
def test_every_note_is_read_in_every_tempo(
    etude: EtudeReply, backing: Path, *, bleeds: bool
) -> None:
    reply = judged(etude, backing, bleeds=bleeds)
    take = reply.feedback.take
    assert take.clock.is_offset_known is bleeds
    assert take.clock.quarter_s == pytest.approx(60 / 165)
    read = take.alignment
    assert read
    assert len(read.matches) >= 0.98 * len(read.onsets)
    assert max(abs(read.late(match)) for match in read.matches) < 0.25
    last = take.notes[-1].sound
    assert last
    assert take.clock.time_s(take.notes[-1].sounded) == pytest.approx(last.onset_s)
    assert not [f for f in reply.feedback.findings if f.fault and f.kind is not FindingKind.MISSED]
    begin_s = (known_backing(backing, ()).start_s or 0.0) + DELAY_S
    for change in feedback_data(reply.feedback, reply.written, ())["changes"]:
        assert change["time_s"] == pytest.approx(begin_s + second(change["start"]), abs=0.06)


def test_a_tempo_of_ones_own_is_refused(backing: Path) -> None:
    asked = GiveFeedback(backing, backing=backing, chart=CHART, tempo_bpm=150)
    with pytest.raises(BriefError, match=r"rises from 150 to 185; leave tempo_bpm out"):
        give_feedback(asked)
