"""``lesson --midi-band``: the band beside each line, for who opens the MIDI of a step.

Read by mido. Channels and programs are those of General MIDI (from memory): drums on the
tenth channel; a piano and an acoustic bass, electric ones where eighths are straight.
"""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import pytest

from app.app_command import Command
from midi_tracks import Track, midi_tracks

CHART = "tempo: 96\n| Dm7 | G7 | Cmaj7 | Em7b5 A7 |"
QUARTER = 480


def band_of(home: Path) -> dict[str, list[tuple[Fraction, int]]]:
    """Where in the chorus each player of the lesson's band strikes what, in even beats."""
    data = json.loads((home / "lesson" / "lesson.json").read_text("utf-8"))
    return {
        part["name"]: [
            (Fraction(note["start"]), note["midi"])
            for note in part["notes"]
            if Fraction(note["start"]) < Fraction(data["chart"]["beats"])
        ]
        for part in data["backing"]["parts"]
    }


def tick(beat: Fraction, long_share: Fraction) -> int:
    """A beat in ticks, the first of two eighths lasting that share of it."""
    whole, rest = divmod(beat, 1)
    at = 2 * rest * long_share if rest <= Fraction(1, 2) else 1 - 2 * (1 - rest) * (1 - long_share)
    return round((whole + at) * QUARTER)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("feel", "long_share", "programs"), [("swing", "2/3", (0, 32)), ("straight", "1/2", (4, 33))]
)
def test_the_band_stands_beside_every_line_and_swings_with_it(
    quick: Command, home: Path, feel: str, long_share: str, programs: tuple[int, int]
) -> None:
    """At 96 the ratio is 2 to 1, as in the sound; the band is the one of the lesson."""
    options = ("--for", "alto-sax,trombone", "--steps", "3,5", "--feel", feel)
    assert quick(CHART, *options, "--midi-band").status == 0
    band = band_of(home)
    files = sorted((home / "lesson").glob("*.mid"))
    assert len(files) == 4
    for path in files:
        tracks = midi_tracks(path)
        assert list(tracks) == ["line", "chords", "bass", "drums"]
        assert [track.channels for track in tracks.values()] == [{0}, {1}, {2}, {9}]
        assert [track.programs for track in tracks.values()][1:] == [*([n] for n in programs), []]
        for name, notes in band.items():
            assert struck(tracks[name]) == sorted(
                (tick(start, Fraction(long_share)), midi) for start, midi in notes if start >= 0
            )
        off_beats = {start % QUARTER for start in tracks["line"].starts} - {0}
        assert off_beats <= {QUARTER * Fraction(long_share)}


def struck(track: Track) -> list[tuple[int, int]]:
    return sorted(zip(track.starts, track.notes, strict=True))


@pytest.mark.slow
def test_without_asking_the_line_stands_alone(quick: Command, home: Path) -> None:
    assert quick(CHART, "--for", "alto-sax", "--steps", "3").status == 0
    assert list(midi_tracks(home / "lesson" / "step-3-alto-sax.mid")) == ["line"]
