"""``halfstep lesson --line``: what a teacher may give it, and what it answers."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.app_command import Command

STAIRS = "| Dm7 | G7 | Cmaj7 | A7 |"


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (["--line", "none.abc"], "no such file: none.abc; give a line in MusicXML"),
        (["--line", "none" * 100], "or a recording"),
        (["--line", "take.wav"], "--line take.wav: no tempo is known; give it with --tempo, or"),
        (["--line", "take.wav", "--line-start", "x"], "--line-start 'x': give the second"),
        (["--line", "take.wav", "--line-start=-1e9"], "--line-start -1e+09: give the second"),
        (["--line-start", "3"], "--line-start: there is no --line whose beginning"),
    ],
)
def test_what_is_no_line_is_refused_in_one_line_by_the_names_of_the_options(
    options: list[str], message: str, command: Command, home: Path
) -> None:
    (home / "take.wav").write_bytes(b"RIFF")
    ran = command("lesson", STAIRS, *options)
    assert ran.status
    assert message in ran.err
    assert ran.err.count("\n") == 1
    assert not (home / "lesson").exists()


@pytest.mark.slow
def test_the_example_stands_beside_the_steps_in_every_kind_of_file(
    command: Command, home: Path
) -> None:
    (home / "line.abc").write_text('X:1\nT:Up\nM:4/4\nL:1/8\nK:C\n"Dm7"DFAc AFDF|\n', "utf-8")
    ran = command(
        *("lesson", STAIRS, "--line", "line.abc", "--steps", "1", "--for", "flute,trombone"),
        *("--format", "wav", "--stems"),
    )
    assert (ran.status, ran.err) == (0, "")
    assert "note: the line has 1 bar, the chart 4 bars" in ran.out
    names = {path.name for path in (home / "lesson").iterdir()}
    for player in ("flute", "trombone"):
        for stem in (f"example-{player}", f"step-1-{player}"):
            assert {f"{stem}.musicxml", f"{stem}.mid", f"{stem}.wav"} <= names
        assert f"line-example-{player}.wav" in names
