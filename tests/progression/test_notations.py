"""The table of notations: complete, told apart by it, and quick to load."""

from __future__ import annotations

import inspect
import subprocess
import sys

import pytest

from halfstep.progression import load
from halfstep.progression.notations import (
    NOTATIONS,
    Notation,
    notation_of_suffix,
    notation_of_text,
    notation_words,
)
from halfstep.progression.notations.text_reader import read_sheet_text

READ = [notation for notation in NOTATIONS if notation.read]
WRITTEN = [notation for notation in NOTATIONS if notation.write]


def function_behind(lazy: object) -> object:
    """The function that a place in the table stands for."""
    module, name = lazy.args  # type: ignore[attr-defined]
    return getattr(__import__(f"halfstep.progression.notations.{module}", fromlist=[name]), name)


def test_names_and_suffixes_belong_to_one_notation_each() -> None:
    names = [notation.name for notation in NOTATIONS]
    suffixes = [suffix for notation in NOTATIONS for suffix in notation.suffixes]
    assert len(set(names)) == len(names)
    assert len(set(suffixes)) == len(suffixes)
    assert all(suffix == suffix.lower() and suffix[0] == "." for suffix in suffixes)


@pytest.mark.parametrize("notation", READ, ids=lambda notation: notation.name)
def test_a_reader_takes_the_settings_that_its_line_lists(notation: Notation) -> None:
    parameters = inspect.signature(function_behind(notation.read)).parameters  # type: ignore[arg-type]
    assert {"source", *notation.settings} <= set(parameters)
    assert set(notation.settings) <= set(inspect.signature(load.load_sheet_file).parameters)


@pytest.mark.parametrize("notation", WRITTEN, ids=lambda notation: notation.name)
def test_what_is_written_is_read_by_the_same_notation(notation: Notation) -> None:
    sheet = read_sheet_text("key: F\n|: Dm7 | G7 . . C7 :|")
    assert notation.write
    assert notation.read
    assert notation.losses
    text = notation.write(sheet)
    assert [bar.chords for bar in notation.read(text).bars] == [bar.chords for bar in sheet.bars]
    assert notation.losses(sheet) == ()
    assert notation_of_text(text).name == "text"  # marks are for what has no end of its own


@pytest.mark.parametrize("place", [".abc", ".ABC", ".Abc"])
def test_the_end_of_a_name_counts_in_any_letters(place: str) -> None:
    notation = notation_of_suffix(place)
    assert notation
    assert notation.name == "abc"


@pytest.mark.parametrize("place", ["", ".", ".doc", "abc"])
def test_an_unknown_end_is_of_no_notation(place: str) -> None:
    assert notation_of_suffix(place) is None


def test_words_name_all_that_have_files() -> None:
    assert notation_words(NOTATIONS[:1]) == "our plain text (.txt)"
    words = notation_words(NOTATIONS)
    assert all(suffix in words for notation in NOTATIONS for suffix in notation.suffixes)
    assert "grid" not in words


def test_naming_the_notations_loads_none_of_them() -> None:
    code = (
        "import sys\nfrom halfstep.progression.notations import NOTATIONS, notation_words\n"
        "notation_words(NOTATIONS)\nprint(*sorted(sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    inside = [name for name in done.stdout.split() if name.startswith("halfstep.")]
    assert [name for name in inside if "progression" in name] == [
        "halfstep.progression",
        "halfstep.progression.notations",
    ]
