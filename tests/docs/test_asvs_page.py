"""Does the page go through the whole list, and is there a test where it says so?

The numbers and their levels are those of the OWASP Application Security Verification Standard
5.0.0, sections in order, a level for each of their requirements; of its files of that release one
has 2 for V17.2.8 and another 3, and with 3 its own sum of 253 comes out.
"""

from __future__ import annotations

import ast
import re
from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PAGE = (ROOT / "docs" / "asvs.md").read_text("utf-8")
LEVELS = """
V1.1 22  V1.2 1111122223  V1.3 112222222223  V1.4 222  V1.5 123
V2.1 122  V2.2 112  V2.3 12223  V2.4 23
V3.1 3  V3.2 113  V3.3 12223  V3.4 11222233  V3.5 11122333  V3.6 3  V3.7 22333
V4.1 12233  V4.2 23333  V4.3 22  V4.4 1222
V5.1 2  V5.2 112333  V5.3 113  V5.4 222
V6.1 122  V6.2 111111112222  V6.3 11223333  V6.4 112233  V6.5 22222333  V6.6 2223  V6.7 33
V6.8 2222
V7.1 222  V7.2 1111  V7.3 22  V7.4 11222  V7.5 223  V7.6 22
V8.1 1233  V8.2 1123  V8.3 133  V8.4 23
V9.1 111  V9.2 1222
V10.1 22  V10.2 223  V10.3 22223  V10.4 1111122222233333  V10.5 22222  V10.6 22  V10.7 222
V11.1 2233  V11.2 22233  V11.3 11233  V11.4 1222  V11.5 23  V11.6 23  V11.7 33
V12.1 12233  V12.2 11  V12.3 22223
V13.1 2333  V13.2 222223  V13.3 2233  V13.4 1222233
V14.1 22  V14.2 12223333  V14.3 122
V15.1 12233  V15.2 12233  V15.3 1222222  V15.4 3333
V16.1 2  V16.2 22222  V16.3 2222  V16.4 222  V16.5 2223
V17.1 23  V17.2 22223333  V17.3 22
"""
KINDS = ("Held", "Read", "None here", "Not met")


def published() -> dict[str, int]:
    """The level of each number."""
    words = LEVELS.split()
    return {
        f"{section}.{place}": int(level)
        for section, levels in zip(words[::2], words[1::2], strict=True)
        for place, level in enumerate(levels, 1)
    }


def rows() -> list[tuple[str, str, str]]:
    """Numbers, what is asked, and what is here."""
    cells = [line.strip("| ").split(" | ") for line in PAGE.splitlines() if line.startswith("| V")]
    assert {len(row) for row in cells} == {3}
    return [(number, asked, here) for number, asked, here in cells]


def numbers(cell: str) -> Iterator[str]:
    """``V9.1.1-V9.1.3`` as three."""
    first, _, last = cell.partition("-")
    section, _, begin = first.rpartition(".")
    end = last.rpartition(".")[2] or begin
    yield from (f"{section}.{place}" for place in range(int(begin), int(end) + 1))


ANSWERS = {number: here for cell, _, here in rows() for number in numbers(cell)}


def kind_of(here: str) -> str:
    return here.partition(":")[0]


@cache
def names_in(path: Path) -> frozenset[str]:
    tree = ast.parse(path.read_text("utf-8"))
    return frozenset(each.name for each in tree.body if isinstance(each, ast.FunctionDef))


def test_the_list_has_as_many_things_at_each_level_as_it_says() -> None:
    """70 at the first level, 253 up to the second: the standard's own sums."""
    count = Counter(published().values())
    assert (count[1], count[1] + count[2], sum(count.values())) == (70, 253, 345)


def test_each_number_up_to_the_second_level_stands_once_and_files_up_to_the_third() -> None:
    asked = [n for n, level in published().items() if level < 3 or n.startswith("V5.")]
    assert list(ANSWERS) == asked
    assert sum(len(list(numbers(cell))) for cell, *_ in rows()) == len(asked) == 257


def test_each_line_says_what_is_asked_and_how_it_stands() -> None:
    for number, asked, here in rows():
        assert asked.strip(), number
        assert kind_of(here) in KINDS, number
        assert kind_of(here) == "None here" or len(here.partition(": ")[2]) > 5, number


@pytest.mark.parametrize("number", [n for n, here in ANSWERS.items() if kind_of(here) == "Held"])
def test_a_test_that_is_named_is_there(number: str) -> None:
    named = re.findall(r"`([\w/]+\.py)::(test_\w+)`", ANSWERS[number])
    assert named
    for path, name in named:
        assert name in names_in(ROOT / "tests" / path)


def test_the_sums_on_the_page_are_those_of_its_lines() -> None:
    count = Counter(map(kind_of, ANSWERS.values()))
    said = re.search(r"<!-- counts -->(.*?)<!-- /counts -->", PAGE, re.DOTALL)
    assert said
    words = ("held", "read", "none here", "not met")
    assert said[1].strip() == ", ".join(
        f"{count[kind]} {word}" for kind, word in zip(KINDS, words, strict=True)
    )
