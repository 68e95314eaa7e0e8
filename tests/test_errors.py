"""One error tree, one line for each fault."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.errors import BriefError, HalfstepError, MissingExtra, ReadError, TakeError


@pytest.mark.parametrize("kind", [ReadError, BriefError, TakeError, MissingExtra])
def test_every_error_is_a_halfstep_error(kind: type[HalfstepError]) -> None:
    with pytest.raises(HalfstepError, match="what would be right"):
        raise kind("what would be right")


@pytest.mark.parametrize(
    ("error", "line"),
    [
        (ReadError("no chord"), "no chord"),
        (ReadError("no chord", source="a.txt"), "a.txt: no chord"),
        (ReadError("no chord", line=2), "line 2: no chord"),
        (ReadError("no chord", column=7), "column 7: no chord"),
        (
            ReadError("no chord", source="a.txt", line=2, column=7),
            "a.txt, line 2, column 7: no chord",
        ),
    ],
)
def test_a_read_error_says_as_much_of_the_place_as_it_knows(error: ReadError, line: str) -> None:
    assert str(error) == line


def test_placing_an_error_adds_the_column_of_the_word_to_that_in_the_word() -> None:
    placed = ReadError("no chord", column=3).at(source="a.txt", line=2, column=10)
    assert (placed.source, placed.line, placed.column) == ("a.txt", 2, 13)
    assert placed.message == "no chord"


def test_placing_an_error_again_keeps_what_is_not_said_anew() -> None:
    first = ReadError("no chord", source="a.txt", line=2, column=3)
    assert str(first.at()) == str(first)


def test_an_error_without_a_column_gets_none_by_being_placed() -> None:
    assert ReadError("no chord").at(source="a.txt", line=1, column=5).column is None


@given(st.integers(1, 500), st.integers(1, 500), st.integers(0, 500))
def test_placing_leaves_the_first_error_as_it_was(line: int, column: int, shift: int) -> None:
    error = ReadError("no chord", column=column)
    error.at(line=line, column=shift)
    assert (error.line, error.column) == (None, column)
