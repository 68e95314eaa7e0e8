"""``halfstep sounds``: what plays, what else there is, what is refused."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from halfstep.app.terminal.command_line import main
from halfstep.render import known_banks
from halfstep.render.known_banks import BANK_VARIABLE, NOT_STATED, SHIPPED_BANK, licence_in


@pytest.fixture
def system(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder where this system keeps its banks."""
    monkeypatch.setattr(known_banks, "BANK_FOLDERS", (tmp_path, tmp_path / "none"))
    return tmp_path


def shown(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    assert main(["sounds", *arguments]) == 0
    return capsys.readouterr().out


def test_the_own_bank_plays_though_the_system_has_another(
    system: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    other = shutil.copy(SHIPPED_BANK, system / "better.sf3")
    (system / "broken.sf2").write_text("no bank")
    (system / "readme.txt").touch()
    lines = shown(capsys).splitlines()
    counted = "(14 instruments, 2 drum kits; licence: MIT)"
    assert lines[0] == f"plays: the program's own bank {counted}"
    assert "Standard kit, Brush kit" in "\n".join(lines)
    assert f"  {other} {counted}" in lines
    assert f"  {system / 'broken.sf2'} is no sound bank in the SoundFont 2 format" in "\n".join(
        lines
    )
    assert "readme" not in "\n".join(lines)


def test_a_bank_that_is_asked_for_plays(
    system: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    other = shutil.copy(SHIPPED_BANK, system / "better.sf3")
    assert shown(capsys, "--bank", str(other)).startswith(f"plays: {other} (")
    monkeypatch.setenv(BANK_VARIABLE, str(other))
    assert shown(capsys).startswith(f"plays: {other} (")


@pytest.mark.parametrize(
    ("content", "message"), [(None, "there is no sound bank at"), ("text", "is no sound bank")]
)
def test_a_bank_that_cannot_play_is_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], content: str | None, message: str
) -> None:
    if content:
        (tmp_path / "a.sf2").write_text(content)
    assert main(["sounds", "--bank", str(tmp_path / "a.sf2")]) == 2
    error = capsys.readouterr().err
    assert message in error
    assert error.count("\n") == 1


@pytest.mark.parametrize(
    ("notice", "licence"),
    [
        ("Licence: MIT, see file", "MIT"),
        ("Permission is hereby granted, free of charge, to any person", "MIT"),
        ("License: GPL-2+", "GPL"),
        ("under the GNU Lesser General Public License", "LGPL"),
        ("This work is CC-BY-SA 3.0", "CC BY"),
        ("CC0 1.0 Universal", "CC0"),
        ("Copyright 1999 by nobody; committed to tape", ""),
    ],
)
def test_a_licence_is_known_by_its_words(notice: str, licence: str) -> None:
    """Words that the licences' own texts and the usual notices hold (from memory)."""
    assert licence_in(notice) == licence


def test_the_package_of_a_file_states_its_licence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Debian lists a package's files in one folder and keeps its notice in another."""
    (tmp_path / "some-bank.list").write_text("/.\n/usr/share/sounds/sf2/some.sf2\n")
    (tmp_path / "some-bank").mkdir()
    (tmp_path / "some-bank" / "copyright").write_text("License: GPL-2")
    monkeypatch.setattr(known_banks, "_PACKAGE_FILES", tmp_path)
    monkeypatch.setattr(known_banks, "_PACKAGE_NOTICES", tmp_path)
    assert known_banks.known_bank(tmp_path / "some.sf2").licence == "GPL"
    assert known_banks.known_bank(tmp_path / "other.sf2").licence == NOT_STATED


@pytest.mark.slow
def test_a_backing_is_played_by_the_bank_that_is_named(tmp_path: Path) -> None:
    """The own bank under another name sounds the same; a file that is none is refused before."""
    other, chart = shutil.copy(SHIPPED_BANK, tmp_path / "other.sf3"), "| Am7 D7 |"
    words = ("backing", chart, "--choruses", "1", "--format", "wav", "--out")
    assert main([*words, str(tmp_path / "own")]) == 0
    assert main([*words, str(tmp_path / "named"), "--bank", str(other)]) == 0
    (own,), (named,) = (sorted((tmp_path / name).iterdir()) for name in ("own", "named"))
    assert own.read_bytes() == named.read_bytes()
    (tmp_path / "none.sf2").write_text("text")
    assert main([*words, str(tmp_path / "not"), "--bank", str(tmp_path / "none.sf2")]) == 2
    assert not (tmp_path / "not").exists()
