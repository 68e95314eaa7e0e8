"""``halfstep feedback --student``: a take is judged, kept, counted once, and planned by."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from app.app_command import Command
from app.test_hear_command import take_file
from halfstep.school.data_folder import VARIABLE, data_folder
from halfstep.school.database import School
from halfstep.school.kept_evidence import evidence_of
from halfstep.school.kept_takes import takes_of

TWO_DOORS = "| Eb7 | Eb7 | Ab7 | Ab7 | Eb7 | Eb7 | Ab7 | Eb7 |"
"""A progression of the course's second unit, as it sounds where an alto reads C."""
OVER_E_FLAT, OVER_A_FLAT = (63, 67, 70, 73), (68, 72, 75, 78)
RIGHT = "EEAAEEAE"
KNOWN = ("--chart", TWO_DOORS, "--tempo", "240", "--start", "0.5", "--student", "Odile")


def arpeggios(bars: str) -> list[tuple[float, float, int]]:
    """A chord in each bar, a quarter a tone, at 240 from half a second on."""
    tones = [tone for bar in bars for tone in (OVER_E_FLAT if bar == "E" else OVER_A_FLAT)]
    return [(0.5 + 0.25 * n, 0.22, tone) for n, tone in enumerate(tones)]


@pytest.fixture
def odile(command: Command, home: Path, monkeypatch: pytest.MonkeyPatch) -> Command:
    """``halfstep`` with Odile kept, who plays alto."""
    monkeypatch.setenv(VARIABLE, str(home / "data"))
    assert command("student", "add", "Odile", "--for", "alto-sax").status == 0
    return command


@pytest.mark.slow
def test_a_take_is_counted_for_its_unit_step_key_and_tempo_and_only_once(
    odile: Command, home: Path
) -> None:
    take = take_file(home / "take.wav", arpeggios(RIGHT), 9.0)
    ran = odile("feedback", take, *KNOWN)
    assert ran.status == 0
    assert "note: kept for Odile: two-dominants, arpeggio, at 240: clean" in ran.err
    other = shutil.copy(home / "take.wav", home / "another name.wav")
    odile("feedback", str(other), *KNOWN)
    with School(data_folder()) as school, school.reading() as connection:
        (evidence,) = evidence_of(connection, "Odile")
        (kept,) = takes_of(connection, "Odile")
    assert (evidence.skill.key, evidence.tempo_bpm, evidence.trouble) == (0, 240, "")
    assert 0.3 < evidence.weight <= 1
    assert json.loads(kept.feedback)["instrument"] == "alto-sax"
    assert (home / "data" / "takes" / kept.file).read_bytes() == (home / "take.wav").read_bytes()


@pytest.mark.slow
def test_what_went_wrong_is_said_in_the_next_plan(odile: Command, home: Path) -> None:
    take = take_file(home / "take.wav", arpeggios("EEEEEEEE"), 9.0)
    assert "at 240: nearly" in odile("feedback", take, *KNOWN).err
    with School(data_folder()) as school, school.reading() as connection:
        (evidence,) = evidence_of(connection, "Odile")
    assert evidence.trouble.endswith(".")
    assert evidence.trouble_bar in {3, 7}
    plan = odile("plan", "--student", "Odile").out
    assert evidence.trouble.rstrip(".") in " ".join(plan.split())
    assert "bars 2 to 5 first, then all 8" in " ".join(plan.split())


@pytest.mark.slow
def test_a_take_over_other_chords_is_kept_and_not_counted(odile: Command, home: Path) -> None:
    take = take_file(home / "take.wav", arpeggios(RIGHT), 9.0)
    odd = ("--chart", "| Eb7 | Emaj7 | Fm6 | Gb7 | A7 | Bbm7b5 | B7 | Db6 |", *KNOWN[2:])
    ran = odile("feedback", take, *odd)
    assert ran.status == 0
    assert "kept for Odile; " in ran.err
    assert "takes kept: 1, plans: 0, played: 0" in odile("student", "show", "Odile").out


def test_nothing_is_kept_of_an_unknown_student_or_a_take_that_cannot_be_heard(
    odile: Command, home: Path
) -> None:
    take = take_file(home / "take.wav", arpeggios(RIGHT), 9.0)
    unknown = odile("feedback", take, *KNOWN[:-1], "Bram")
    assert (unknown.status, unknown.err.count("\n")) == (2, 1)
    assert "--student Bram: there is no such student" in unknown.err
    (home / "no.wav").write_bytes(b"no sound")
    assert odile("feedback", "no.wav", *KNOWN).status == 2
    assert "takes kept: 0" in odile("student", "show", "Odile").out


@pytest.mark.slow
def test_a_feedback_file_counts_like_its_recording_and_only_once(
    odile: Command, home: Path
) -> None:
    take = take_file(home / "take.wav", arpeggios(RIGHT), 9.0)
    data = odile("feedback", take, *KNOWN[:-2], "--for", "alto-sax", "--json").out
    (home / "monday.json").write_text(data, "utf-8")
    for _ in range(2):
        fed = odile("played", "monday.json")
        assert fed.out == "kept: two-dominants, arpeggio, at 240: clean\n"
    odile("feedback", take, *KNOWN)
    assert "takes kept: 1, plans: 0, played: 1" in odile("student", "show", "Odile").out


@pytest.mark.parametrize(
    ("content", "line"),
    [
        ("{}", "monday.json: give feedback on a take that Halfstep stored as .json"),
        (None, "monday.json: cannot read it: No such file or directory"),
    ],
)
def test_what_is_no_feedback_is_one_line(
    odile: Command, home: Path, content: str | None, line: str
) -> None:
    if content:
        (home / "monday.json").write_text(content)
    ran = odile("played", "monday.json")
    assert (ran.status, ran.err) == (2, f"halfstep: {line}\n")
    assert "WORD is missing; say clean, nearly or not-yet" in odile("played", "1").err
