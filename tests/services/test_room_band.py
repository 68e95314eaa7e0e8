"""The band of a take, made again: what the page played, and what is known by it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from halfstep.data.about_json import TakeAbout
from halfstep.feedback.findings import FindingKind
from halfstep.listen import network
from halfstep.listen.spectra import RATE
from halfstep.render.sampler import FRAME_RATE
from halfstep.render.stretch import LEAD
from halfstep.services.early_hearing import EarlyHearing, GrowingRecording
from halfstep.services.etude_reply import EtudeReply
from halfstep.services.give_feedback import GiveFeedback, give_feedback
from halfstep.services.known_backing import KnownBacking
from halfstep.services.room_band import BAND_FOLDER, ask_early_band, asked_band, room_band
from halfstep.services.room_piece import RoomWish, room_piece
from halfstep.services.room_sound import RoomSound, StretchWish
from halfstep.services.write_etude import WriteEtude, write_one_etude
from tone_takes import TONE_RATE, line_in_tones

CHART = "tempo: 120\nfeel: straight\n| Dm7 | G7 | Cmaj7 | A7 | Fmaj7 | Bm7b5 E7 | Am7 | D7 |"
BAR_S, BARS = 2.0, 8
COUNT_IN_S = 2.0
BEGUN_AT, FIRST_BEAT_S = 3.0, 6.0
ABOUT = TakeAbout(
    piece="/room/days/2031-03-05/items/1",
    parts=("drums", "bass"),
    choruses=2,
    sample_rate=TONE_RATE,
    begun_at=BEGUN_AT,
    first_beat_at=BEGUN_AT + FIRST_BEAT_S,
    last_beat_at=BEGUN_AT + FIRST_BEAT_S + 2 * BARS * BAR_S,
)


@pytest.fixture(scope="module")
def etude() -> EtudeReply:
    return write_one_etude(WriteEtude(CHART, "scale", instrument="flute", ending=False))


def text_of(etude: EtudeReply) -> str:
    return etude.file(".json").data.decode()


def band_of(etude: EtudeReply, folder: Path, about: TakeAbout = ABOUT) -> tuple[Any, KnownBacking]:
    """The band's sound, and what is known of it."""
    known = room_band(text_of(etude), about, folder)
    assert known is not None
    sound, rate = soundfile.read(known.path)
    assert rate == FRAME_RATE
    return sound, known


def over_loudspeaker(sound: Any, band: Any, begins_s: float, *, under_db: float) -> Any:
    """A take with its band so far under it, whose file begins at a second of the take."""
    places = (np.arange(len(sound)) / TONE_RATE - begins_s) * FRAME_RATE
    under = np.interp(places, np.arange(len(band)), band, left=0.0, right=0.0)
    loud = np.sqrt(np.mean(sound**2) / np.mean(under**2))
    return sound + 10 ** (-under_db / 20) * loud * under


def loudness(sound: Any, begin_s: float, end_s: float) -> float:
    piece = sound[round(begin_s * FRAME_RATE) : round(end_s * FRAME_RATE)]
    return float(np.sqrt(np.mean(np.square(piece))))


@pytest.mark.slow
def test_it_is_what_the_page_plays_beat_for_beat(etude: EtudeReply, tmp_path: Path) -> None:
    """The last stretch of the second chorus, as the page asks for it, lies under the whole."""
    sound, known = band_of(etude, tmp_path)
    assert known.start_s is not None
    assert known.start_s == pytest.approx(LEAD / FRAME_RATE + COUNT_IN_S)
    room = RoomSound(room_piece(etude, RoomWish()))
    last = room.stretches[-1]
    wishes = [StretchWish(part, 2, last.first, last.last) for part in ABOUT.parts]
    second = slice(LEAD + FRAME_RATE, LEAD + 2 * FRAME_RATE)
    sounds = map(room.samples, wishes)
    parts = [samples[second] for samples in sounds if samples is not None]
    alone = np.sum(parts, axis=0).mean(axis=1)
    begins_s = known.start_s + (BARS + last.first - 1) * BAR_S
    first = round(begins_s * FRAME_RATE) - LEAD
    assert len(parts) == len(ABOUT.parts)
    assert np.corrcoef(sound[first:][second], alone)[0, 1] > 0.98


@pytest.mark.slow
def test_bars_that_went_round_come_again(etude: EtudeReply, tmp_path: Path) -> None:
    """Two bars of the bass alone: what sounds in a round sounds in the next one of its block."""
    length_s = 4 * 2 * 2 * BAR_S
    about = replace(
        ABOUT, loop=(3, 4), parts=("bass",), last_beat_at=ABOUT.first_beat_at + length_s
    )
    sound, known = band_of(etude, tmp_path, about)
    assert known.start_s is not None
    rounds = [known.start_s + number * 2 * BAR_S + 0.5 for number in (0, 4)]
    pieces = [sound[round(at * FRAME_RATE) :][: 3 * FRAME_RATE] for at in rounds]
    assert np.corrcoef(*pieces)[0, 1] > 0.98


@pytest.mark.slow
def test_a_band_that_was_stopped_ends_there(etude: EtudeReply, tmp_path: Path) -> None:
    sound, known = band_of(etude, tmp_path, replace(ABOUT, last_beat_at=BEGUN_AT + 9.0))
    assert known.start_s is not None
    assert len(sound) == pytest.approx((known.start_s + 3.0) * FRAME_RATE, abs=2)
    assert loudness(sound, known.start_s, known.start_s + 3.0) > 0.003


@pytest.mark.parametrize(
    "about",
    [
        replace(ABOUT, headphones=True),
        replace(ABOUT, parts=()),
        replace(ABOUT, last_beat_at=ABOUT.first_beat_at),
        replace(ABOUT, last_beat_at=ABOUT.first_beat_at + 1e6),
        replace(ABOUT, tempo_bpm=1e6),
        replace(ABOUT, key="H#"),
    ],
    ids=["headphones", "nothing on", "never began", "for days", "no tempo", "no key"],
)
def test_where_no_band_can_be_in_the_take_none_is_made(
    etude: EtudeReply, tmp_path: Path, about: TakeAbout
) -> None:
    assert room_band(text_of(etude), about, tmp_path) is None
    assert not list(tmp_path.iterdir())


def test_another_etude_is_none(tmp_path: Path) -> None:
    assert room_band("{}", ABOUT, tmp_path) is None


@pytest.mark.slow
def test_without_chirps_the_band_in_the_take_tells_the_delay(
    etude: EtudeReply, tmp_path: Path
) -> None:
    """A player 60 ms late, and all of it 140 ms late in the recording, the band 15 dB under."""
    device_s, late_s = 0.14, 0.06
    begin_s = FIRST_BEAT_S + device_s
    sound = line_in_tones(etude, lambda beat: begin_s + late_s + beat * BAR_S / 4, choruses=1)
    about = replace(ABOUT, choruses=1, last_beat_at=ABOUT.first_beat_at + BARS * BAR_S)
    band, known = band_of(etude, tmp_path, about)
    assert known.start_s is not None
    path = tmp_path / "take.wav"
    heard = over_loudspeaker(sound, band, begin_s - known.start_s, under_db=15)
    soundfile.write(path, heard, TONE_RATE)
    request = GiveFeedback(path, etude=text_of(etude), about=about.text)
    reply = give_feedback(request)
    findings = {finding.kind: finding for finding in reply.feedback.findings if finding.fault}
    assert findings[FindingKind.OFFSET].amount == pytest.approx(1000 * late_s, abs=12)
    assert FindingKind.NOT_JUDGED not in {finding.kind for finding in reply.feedback.findings}
    assert not [line for line in reply.notices if "band.wav" in line]


@pytest.mark.slow
def test_what_was_made_while_the_take_grew_is_taken_and_what_is_gone_is_made(
    etude: EtudeReply, tmp_path: Path
) -> None:
    """A stretch that was kept is laid as it is; without it the band is the same."""
    about = replace(ABOUT, parts=("bass",), last_beat_at=ABOUT.first_beat_at + 5.0)
    sound, _ = band_of(etude, tmp_path, about)
    early = tmp_path / "early"
    ask_early_band(early, text_of(etude), about)
    band = asked_band(early)
    assert band is not None
    heard = np.concatenate([*band.blocks()])
    assert len(heard) / RATE == pytest.approx(2 * BARS * BAR_S + COUNT_IN_S + LEAD / FRAME_RATE)
    kept = [path for path in (early / BAND_FOLDER).iterdir() if path.name != "asked.json"]
    assert len(kept) > 2
    for path in kept:
        path.write_bytes(bytes(path.stat().st_size))
    silent = room_band(text_of(etude), about, tmp_path, early)
    assert silent is not None
    assert not soundfile.read(silent.path)[0].any()
    for path in kept:
        path.unlink()
    whole = room_band(text_of(etude), about, tmp_path, early)
    assert whole is not None
    assert np.array_equal(soundfile.read(whole.path)[0], sound)


def test_nothing_is_asked_for_where_nothing_comes_out_of_a_loudspeaker(
    etude: EtudeReply, tmp_path: Path
) -> None:
    ask_early_band(tmp_path / "early", text_of(etude), replace(ABOUT, headphones=True))
    assert asked_band(tmp_path / "early") is None
    assert not list(tmp_path.iterdir())


@pytest.mark.slow
def test_a_take_over_a_loudspeaker_is_told_the_same_with_what_was_heard_while_it_grew(
    etude: EtudeReply, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The band is found in its first 21 seconds; of the whole the network sees the end alone."""
    shown: list[slice] = []
    estimated = network._View.estimated

    def counted(view: network._View, pairs: slice) -> object:
        shown.append(pairs)
        return estimated(view, pairs)

    monkeypatch.setattr(network._View, "estimated", counted)
    band, known = band_of(etude, tmp_path)
    assert known.start_s is not None
    begin_s = FIRST_BEAT_S + 0.1
    sound = line_in_tones(etude, lambda beat: begin_s + beat * BAR_S / 4, choruses=2)
    heard = over_loudspeaker(sound, band, begin_s - known.start_s, under_db=9)
    path, early = tmp_path / "take.wav", tmp_path / "early"
    samples = np.int16(30_000 * heard / np.abs(heard).max())
    soundfile.write(path, samples, TONE_RATE)
    ask_early_band(early, text_of(etude), replace(ABOUT, first_beat_at=0.0, last_beat_at=0.0))
    growing = tmp_path / "growing.pcm"
    growing.write_bytes(b"")
    hearing = EarlyHearing(GrowingRecording(growing, TONE_RATE, "flute", early))
    for first in range(0, len(samples), 2 * TONE_RATE):
        with growing.open("ab") as file:
            file.write(samples[first : first + 2 * TONE_RATE].tobytes())
        while hearing.hear_on():
            pass
    request = GiveFeedback(path, etude=text_of(etude), about=ABOUT.text)
    shown.clear()
    alone, shown_alone = give_feedback(request), len(shown)
    shown.clear()
    after = give_feedback(replace(request, early=early))
    assert (after.feedback, after.written) == (alone.feedback, alone.written)
    assert len(shown) <= 2 < shown_alone / 2
