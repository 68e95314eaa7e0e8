"""What is told of time in a take of the practice room, by its chirps, without them, over a jump.

A line is played in tones by a player who is late throughout or speeds up; the room's chirps are
about it, and all of it comes into the recording as late as a device has it.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from halfstep.data.about_json import TakeAbout
from halfstep.feedback.findings import Finding, FindingKind
from halfstep.listen.audio import Recording
from halfstep.listen.chirps import ChirpDelays, ChirpPlace, chirp
from halfstep.listen.heard_take import HeardNote, HeardTake
from halfstep.listen.kept_recording import KeptRecording
from halfstep.services.etude_reply import EtudeReply
from halfstep.services.give_feedback import GiveFeedback, give_feedback
from halfstep.services.room_delay import RoomDelay, room_delay
from halfstep.services.take_frame import TakeFrame
from halfstep.services.take_start import StartSource, start_of_form
from halfstep.services.write_etude import WriteEtude, write_one_etude
from tone_takes import TONE_RATE, line_in_tones
from typed_charts import read_chart_text

CHART = "tempo: 120\nfeel: straight\n| Dm7 | G7 | Cmaj7 | A7 | Fmaj7 | Bm7b5 E7 | Am7 | D7 |"
QUARTER_S, FORM, CHORUSES = 0.5, 32, 2
FIRST_BEAT_S, CHIRPS_S, LENGTH_S = 3.0, (0.4, 35.5), 38.0
BEGUN_AT = 17.25
ABOUT = TakeAbout(
    piece="/room/days/2031-03-05/items/1",
    parts=("drums", "bass"),
    sample_rate=TONE_RATE,
    begun_at=BEGUN_AT,
    first_beat_at=BEGUN_AT + FIRST_BEAT_S,
    chirps_at=tuple(BEGUN_AT + at_s for at_s in CHIRPS_S),
)
TIMING = {
    FindingKind.OFFSET,
    FindingKind.UNEVEN,
    FindingKind.RUSHING,
    FindingKind.DRAGGING,
}


@pytest.fixture(scope="module")
def etude() -> EtudeReply:
    return write_one_etude(WriteEtude(CHART, "scale", instrument="flute", ending=False))


def take_in_room(
    etude: EtudeReply, *, device_s: float, late_s: float = 0.0, faster: float = 0.0
) -> Any:
    """The line, and the chirps about it.

    Parameters
    ----------
    etude : EtudeReply
    device_s : float
        How late all sound comes into the recording.
    late_s : float
        How late the player is.
    faster : float
        By which share of the tempo.
    """
    sound = np.zeros(round(LENGTH_S * TONE_RATE))
    begin_s = FIRST_BEAT_S + device_s + late_s
    line = line_in_tones(
        etude,
        lambda beat: begin_s + beat * QUARTER_S * (1 - faster),
        choruses=CHORUSES,
    )
    sound[: len(line)] += line[: len(sound)]
    for at_s in CHIRPS_S:
        first = round((at_s + device_s) * TONE_RATE)
        sound[first : first + len(chirp(TONE_RATE))] += chirp(TONE_RATE)
    return sound + 1e-4 * np.random.default_rng(1).normal(size=len(sound))


def without_chirps(sound: Any) -> Any:
    """As with headphones: what the page plays is not in the take."""
    quiet = sound.copy()
    for at_s in CHIRPS_S:
        quiet[round(at_s * TONE_RATE) : round((at_s + 1.0) * TONE_RATE)] = 0
    return quiet


def findings(
    etude: EtudeReply, path: Path, sound: Any, about: TakeAbout = ABOUT
) -> dict[FindingKind, Finding]:
    soundfile.write(path, sound, TONE_RATE)
    text = etude.file(".json").data.decode()
    reply = give_feedback(
        GiveFeedback(path, etude=text, about=about.text, headphones=about.headphones)
    )
    kinds = TIMING | {FindingKind.NOT_JUDGED}
    return {f.kind: f for f in reply.feedback.findings if f.kind in kinds}


# --- told of a take --------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize(("device_s", "late_ms"), [(0.03, 60.0), (0.31, 0.0), (0.31, -60.0)])
def test_with_chirps_only_the_players_own_lateness_counts(
    etude: EtudeReply, tmp_path: Path, device_s: float, late_ms: float
) -> None:
    sound = take_in_room(etude, device_s=device_s, late_s=late_ms / 1000)
    timing = findings(etude, tmp_path / "take.wav", sound)
    if late_ms == 0:
        assert timing == {}
    else:
        assert list(timing) == [FindingKind.OFFSET]
        assert timing[FindingKind.OFFSET].amount == pytest.approx(late_ms, abs=12)


@pytest.mark.slow
def test_with_headphones_it_is_said_that_lateness_is_not_judged_and_drift_is(
    etude: EtudeReply, tmp_path: Path
) -> None:
    sound = without_chirps(take_in_room(etude, device_s=0.22, late_s=0.06, faster=0.02))
    about = replace(ABOUT, headphones=True)
    timing = findings(etude, tmp_path / "take.wav", sound, about)
    assert timing.pop(FindingKind.NOT_JUDGED).reason == (
        "with headphones nothing tells how late the recording is: whether you are early or late "
        "throughout is not judged"
    )
    assert list(timing) == [FindingKind.RUSHING]


@pytest.mark.slow
def test_a_jump_is_told_and_nothing_of_time(etude: EtudeReply, tmp_path: Path) -> None:
    sound = take_in_room(etude, device_s=0.1, late_s=0.06)
    middle, lost = len(sound) // 2, round(0.044 * TONE_RATE)
    jumped = np.concatenate([sound[:middle], sound[middle + lost :]])
    timing = findings(etude, tmp_path / "take.wav", jumped)
    assert timing.pop(FindingKind.NOT_JUDGED).reason == (
        "the recording jumps by 44 ms on its way: whether you are early or late throughout is not "
        "judged, nor how steady"
    )
    assert timing == {}


# --- what is known ---------------------------------------------------------------------------


def delay_of(*delays_s: float | None, **known: Any) -> RoomDelay:
    places = tuple(s if s is None else ChirpPlace(s, 30.0) for s in delays_s)
    return RoomDelay(FIRST_BEAT_S, CHIRPS_S, ChirpDelays(places), **known)


def test_the_page_says_where_to_look(tmp_path: Path) -> None:
    path = tmp_path / "take.wav"
    sound = np.zeros(round(LENGTH_S * TONE_RATE))
    for at_s in CHIRPS_S:
        first = round((at_s + 0.2) * TONE_RATE)
        sound[first : first + len(chirp(TONE_RATE))] = chirp(TONE_RATE)
    soundfile.write(path, sound, TONE_RATE)
    room = room_delay(KeptRecording(Recording(path)), replace(ABOUT, gaps=((TONE_RATE, 441),)))
    assert room.start_s == pytest.approx(FIRST_BEAT_S + 0.2, abs=1e-4)
    assert room.gaps == ((1.0, pytest.approx(0.02)),)
    assert room.has_band


def test_two_chirps_that_agree_tell_where_bar_1_begins() -> None:
    room = delay_of(0.1, 0.1015)
    assert room.start_s == pytest.approx(FIRST_BEAT_S + 0.10075)
    assert (room.jumps, room.reason) == ((), "")


def test_one_chirp_alone_tells_nothing_for_sure() -> None:
    room = delay_of(None, 0.2)
    assert room.start_s is None
    assert room.likely_start_s == FIRST_BEAT_S + 0.2
    assert room.reason.startswith("the chirps about the take are not both heard in it")


def beside(room: RoomDelay, delay_s: float) -> RoomDelay:
    """With a backing that says where its bar 1 is, and is in the take so late."""
    return room.beside(FIRST_BEAT_S + delay_s, KeptRecording(Recording(Path("take.wav"))), None)


def test_a_backing_in_the_take_stands_for_chirps_that_are_not_heard() -> None:
    assert beside(delay_of(None, None), 0.2).reason == ""


def test_a_backing_that_lies_elsewhere_than_the_chirps_is_a_jump() -> None:
    room = beside(delay_of(0.1, 0.1), 0.13)
    assert room.start_s is None
    assert len(room.jumps) == 1
    assert beside(delay_of(0.1, 0.1), 0.102).start_s is not None


def test_samples_that_the_page_missed_are_named_with_the_jump() -> None:
    room = delay_of(0.1, 0.08, gaps=((12.3, 0.02),))
    (jump,) = room.jumps
    assert jump == "the recording jumps by 20 ms on its way (20 ms at 12.3 s were lost)"


def test_samples_that_were_missed_are_a_jump_where_no_chirp_says_otherwise() -> None:
    assert delay_of(None, None, gaps=((12.3, 0.02),)).jumps
    assert not delay_of(0.1, 0.1, gaps=((12.3, 0.02),)).jumps


def notes_at(*onsets_s: float) -> HeardTake:
    notes = tuple(HeardNote(s, s + 0.2, 72, 0.0, -12.0, 0.9, 72.0) for s in onsets_s)
    return HeardTake(notes, LENGTH_S)


def test_what_is_heard_of_the_chirps_is_no_note() -> None:
    heard_take = notes_at(0.52, 0.6, 3.0, 35.62, 36.4)
    left = delay_of(0.1, 0.1).without_chirps(heard_take)
    assert [note.onset_s for note in left.notes] == [3.0, 36.4]
    assert delay_of(None, None).without_chirps(heard_take) is heard_take


# --- where bar 1 begins ----------------------------------------------------------------------

FRAME = TakeFrame(120.0, read_chart_text("| Dm7 | G7 | Cmaj7 | A7 |"))


@pytest.mark.parametrize("rate_ratio", [1.0, 1.0002])
def test_chirps_tell_bar_1_in_seconds_of_the_true_rate(rate_ratio: float) -> None:
    heard_take = replace(notes_at(3.2, 3.7), rate_ratio=rate_ratio)
    start = start_of_form(FRAME, heard_take, None, start_s=None, room=delay_of(0.1, 0.1))
    assert start.source is StartSource.CHIRPS
    assert start.start_s == pytest.approx(3.1 / rate_ratio)


def test_what_the_request_says_comes_first() -> None:
    start = start_of_form(FRAME, notes_at(3.2), None, start_s=2.5, room=delay_of(0.1, 0.1))
    assert (start.source, start.start_s) == (StartSource.REQUEST, 2.5)


@pytest.mark.parametrize(("delays_s", "likely_s"), [((None, None), 3.1), ((0.2, 0.3), 3.2)])
def test_without_a_known_delay_bar_1_is_still_the_rooms(
    delays_s: tuple[float | None, float | None], likely_s: float
) -> None:
    """A note or two say nothing, and no take is left unjudged for that."""
    start = start_of_form(FRAME, notes_at(4.0), None, start_s=None, room=delay_of(*delays_s))
    assert (start.source, start.start_s) == (StartSource.ROOM, pytest.approx(likely_s))
