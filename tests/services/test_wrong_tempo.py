"""A take at a constant wrong ratio, from the recording to what is told of it.

Source: 48 kHz read as 44.1 kHz is 12·log2(48/44.1) = 1.467 semitones, 8.1 % slower (arithmetic).
"""

from __future__ import annotations

from pathlib import Path

import pytest
import soundfile

from halfstep.feedback.findings import FindingKind
from halfstep.services.etude_reply import EtudeReply
from halfstep.services.feedback_reply import FeedbackReply
from halfstep.services.give_feedback import GiveFeedback, give_feedback
from halfstep.services.write_etude import WriteEtude, write_one_etude
from tone_takes import TONE_RATE, line_in_tones

CHART = "tempo: 120\nfeel: straight\n| Dm7 | G7 | Cmaj7 | A7 | Fmaj7 | Bm7b5 E7 | Am7 | D7 |"
TUNING = {FindingKind.SHARP, FindingKind.FLAT, FindingKind.TRANSPOSITION, FindingKind.OCTAVE}


@pytest.fixture(scope="module")
def etude(tmp_path_factory: pytest.TempPathFactory) -> tuple[EtudeReply, Path]:
    reply = write_one_etude(WriteEtude(CHART, "scale", instrument="flute", ending=False))
    path = tmp_path_factory.mktemp("etude") / "line.json"
    path.write_bytes(reply.file(".json").data)
    return reply, path


def judged(
    etude: tuple[EtudeReply, Path], path: Path, *, played_bpm: float, stated_rate: int = TONE_RATE
) -> FeedbackReply:
    """Two choruses at one tempo, in a file that states a sampling rate; 120 was asked for."""
    reply, line = etude
    quarter_s = 60 / played_bpm
    sound = line_in_tones(reply, lambda beat: 1.0 + beat * quarter_s, choruses=2)
    soundfile.write(path, sound, stated_rate)
    return give_feedback(GiveFeedback(path, etude=line))


def demand_all_read(reply: FeedbackReply) -> None:
    """Every note is read as it is written, and nothing of time or tuning is blamed."""
    read, notes = reply.feedback.take.alignment, reply.feedback.take.notes
    assert read
    assert len(read.matches) == len(read.onsets) > 50
    assert all(read.line.notes[m.written].midi == notes[m.heard].midi for m in read.matches)
    assert not [f for f in reply.feedback.findings if f.fault]


@pytest.mark.slow
@pytest.mark.parametrize("played_bpm", [104.0, 135.0])
def test_a_player_at_another_tempo_is_counted_as_he_plays(
    etude: tuple[EtudeReply, Path], tmp_path: Path, played_bpm: float
) -> None:
    reply = judged(etude, tmp_path / "take.flac", played_bpm=played_bpm)
    assert reply.feedback.take.clock.quarter_s == pytest.approx(60 / played_bpm, rel=0.01)
    (unjudged,) = (f for f in reply.feedback.findings if f.kind is FindingKind.NOT_JUDGED)
    assert unjudged.reason.startswith(f"played at {60 / reply.feedback.take.clock.quarter_s:g}")
    assert unjudged.reason.endswith("not at 120: counted as played")
    demand_all_read(reply)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("true", "stated", "slip"),
    [(48.0, 44.1, "8.1 % too slow"), (44.1, 48.0, "8.8 % too fast")],
)
def test_a_recording_at_a_wrong_sampling_rate_is_put_right(
    etude: tuple[EtudeReply, Path], tmp_path: Path, true: float, stated: float, slip: str
) -> None:
    """In tempo and pitch: nothing is told in the transposition that it seems to be in."""
    rate = round(TONE_RATE * stated / true)
    reply = judged(etude, tmp_path / "take.wav", played_bpm=120.0, stated_rate=rate)
    assert reply.feedback.take.clock.quarter_s == 0.5
    (unjudged,) = (f for f in reply.feedback.findings if f.kind is FindingKind.NOT_JUDGED)
    assert unjudged.reason == f"the recording runs {slip}, in tempo and pitch: put right"
    assert not TUNING & {finding.kind for finding in reply.feedback.findings}
    demand_all_read(reply)
    note = reply.feedback.take.notes[8]
    in_file_s = (1.0 + note.onset * 0.5) * true / stated
    assert reply.data()["notes"][8]["onset_s"] == pytest.approx(in_file_s, abs=0.03)


@pytest.mark.slow
def test_a_take_at_the_tempo_that_was_asked_for_is_left_as_it_is(
    etude: tuple[EtudeReply, Path], tmp_path: Path
) -> None:
    reply = judged(etude, tmp_path / "take.flac", played_bpm=120.0)
    assert not [f for f in reply.feedback.findings if f.kind is FindingKind.NOT_JUDGED]
    demand_all_read(reply)
