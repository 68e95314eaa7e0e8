"""``halfstep chart``: the grid, the conversions and the data."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from app.app_command import Command

FORM = "title: Room Twelve\nkey: F\n|: Gm7 C7 | Fmaj7 | Dm7 | 1. Gm7 C7 :| 2. Fmaj7 || Bbm6 |\n"


def test_a_chart_alone_is_shown_as_a_grid_with_its_order(command: Command) -> None:
    """Title, facts, bars with repeats, the play order."""
    shown = command("chart", FORM)
    assert shown.status == 0
    lines = shown.out.splitlines()
    assert lines[0] == "Room Twelve"
    assert lines[1].startswith("F major · 4/4")
    assert "|: Gm7  C7" in lines[2]
    assert "played: 1-4, 1-3 (second time), 5-6 (9 bars)" in shown.out


def test_readings_that_are_not_certain_are_said(command: Command) -> None:
    assert "note: C7+" in command("chart", "| C7+ | F |").out


def test_data_has_bars_order_and_every_symbol(command: Command) -> None:
    """Bar, beat, as typed, as printed, root, tones by degree, bass, length, notices."""
    data = json.loads(command("chart", "| C-7 Cdim7/Eb | N.C. |", "--as", "json").out)
    assert data["play_order"] == [1, 2]
    first, second, third = data["symbols"]
    assert (first["typed"], first["printed"], first["beat"]) == ("C-7", "Cm7", 1)
    assert second["tones"] == ["C", "Eb", "Gb", "Bbb"]
    assert second["degrees"] == ["1", "b3", "b5", "bb7"]
    assert (second["bar"], second["beat"], second["bass"]) == (1, 3, "Eb")
    assert (second["beats"], third["root"], third["tones"]) == (2, None, [])


@pytest.mark.parametrize("form", ["text", "musicxml", "abc", "chordpro"])
def test_a_conversion_reads_back_with_the_same_chords(
    command: Command, home: Path, form: str
) -> None:
    """The home folder gets the file; what it holds plays the same chords."""
    suffix = {"text": ".txt", "musicxml": ".musicxml", "abc": ".abc", "chordpro": ".cho"}[form]
    chart = "| Gm7 C7 | Fmaj7 | Am7b5 D7b9 | Gm6 |"
    name = str(home / f"sheet{suffix}")
    assert command("chart", chart, "--as", form, "--out", name).status == 0
    wanted = json.loads(command("chart", chart, "--as", "json").out)["symbols"]
    found = json.loads(command("chart", name, "--as", "json").out)["symbols"]
    assert [each["printed"] for each in found] == [each["printed"] for each in wanted]
    assert [each["beats"] for each in found] == [each["beats"] for each in wanted]


def test_a_chart_moves_to_a_key_and_to_an_instrument(command: Command) -> None:
    """Concert F to concert E♭, which an alto reads in C."""
    moved = json.loads(command("chart", FORM, "--to", "Eb", "--as", "json").out)
    assert (moved["key"], moved["symbols"][0]["printed"]) == ("Eb", "Fm7")
    alto = command("chart", FORM, "--to", "Eb", "--for", "alto-sax", "--as", "json")
    assert json.loads(alto.out)["key"] == "C"


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["| C | F |", "--as", "pdf"], "choose from text, musicxml, abc, chordpro, json"),
        (["| C | F |", "--to", "H"], "is no key"),
        (["| C | F |", "--for", "kazoo"], "no instrument is called 'kazoo'"),
        (["| C | F |", "--out", "sheet.doc"], "say --as"),
        (["no-such-file.abc"], "no such file"),
    ],
)
def test_bad_requests_get_one_line(command: Command, arguments: list[str], words: str) -> None:
    ran = command("chart", *arguments)
    assert ran.status == 2
    assert len(ran.err.splitlines()) == 1
    assert words in ran.err
