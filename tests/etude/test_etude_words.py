"""Numbers, degrees and lists in a sentence."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.etude.etude_words import (
    LISTED,
    bars_in_words,
    capital,
    degree_word,
    joined_by_and,
    listing,
    texts_in_bars,
)
from halfstep.pitch import parse_degrees


@pytest.mark.parametrize(
    ("degree", "word"),
    [
        ("1", "root"), ("9", "ninth"), ("b9", "flat ninth"), ("#9", "sharp ninth"),
        ("3", "third"), ("b3", "third"), ("#11", "sharp fourth"), ("b5", "flat fifth"),
        ("#5", "sharp fifth"), ("b13", "flat sixth"), ("13", "sixth"), ("b7", "seventh"),
        ("7", "seventh"), ("bb7", "seventh"), ("2", "ninth"),
    ],
)  # fmt: skip
def test_players_call_thirds_and_sevenths_without_a_sign(degree: str, word: str) -> None:
    assert degree_word(parse_degrees(degree)[0]) == word


@pytest.mark.parametrize(
    ("numbers", "words"),
    [
        ([3], "bar 3"), ([3, 3], "bar 3"), ([1, 2], "bars 1–2"), ([2, 1], "bars 1–2"),
        ([1, 3], "bars 1 and 3"), ([1, 3, 4, 7], "bars 1, 3–4 and 7"), ([0, 1], "bars 0–1"),
        (range(1, 13), "bars 1–12"),
    ],
)  # fmt: skip
def test_bars_are_listed_as_people_say_them(numbers: list[int], words: str) -> None:
    assert bars_in_words(numbers) == words


def read(words: str) -> set[int]:
    """The numbers that a reader takes from the words."""
    numbers: set[int] = set()
    for low, high in re.findall(r"(\d+)(?:–(\d+))?", words):
        numbers |= set(range(int(low), int(high or low) + 1))
    return numbers


@settings(max_examples=60)
@given(st.sets(st.integers(1, 40), min_size=1, max_size=25))
def test_a_reader_finds_every_bar_and_no_other(numbers: set[int]) -> None:
    """A long list breaks off with dots, and says nothing wrong before them."""
    words = bars_in_words(numbers)
    spans = len([n for n in numbers if n - 1 not in numbers])
    assert read(words) == numbers if spans <= LISTED else read(words) < numbers
    assert words.endswith("…") is (spans > LISTED)
    assert words.startswith("bar ") is (len(numbers) == 1)


@pytest.mark.parametrize(
    ("items", "text"),
    [([], ""), (["a"], "a"), (["a", "b"], "a and b"), (["a", "b", "c"], "a, b and c")],
)
def test_the_last_of_a_list_comes_after_an_and(items: list[str], text: str) -> None:
    assert joined_by_and(items) == text
    assert listing(items) == text


def test_items_that_hold_an_and_are_parted_by_semicolons() -> None:
    assert listing(["a and b", "c"]) == "a and b; c"
    assert listing(["land", "sand"]) == "land and sand"  # only the word itself counts


def test_texts_of_the_same_bars_stand_together() -> None:
    placed = [("F", 1), ("D", 1), ("F", 4), ("D", 4), ("A", 2)]
    assert texts_in_bars(placed) == ["F and D in bars 1 and 4", "A in bar 2"]
    assert texts_in_bars([]) == []


@pytest.mark.parametrize(("text", "larger"), [("", ""), ("a b", "A b"), ("éa", "Éa"), ("B", "B")])
def test_a_sentence_begins_large_and_goes_on_as_it_is(text: str, larger: str) -> None:
    assert capital(text) == larger
    assert capital("the A♭7 and F♯m") == "The A♭7 and F♯m"
