"""Nothing typed as a chart ends in a fault: a lesson is made, or one line says why not."""

from __future__ import annotations

import contextlib
import io
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.app_command import without_sound_and_pages
from halfstep.app.terminal.command_line import main
from halfstep.instruments import INSTRUMENTS
from strategies import ROOTS, chart_texts, odd_symbol_texts, symbol_texts

SIGNS = ("N.C.", "%", ".", "/", "|:", ":|", "||", "B##m7b5", "Abb", "F°7", "Ｃ", "E𝄫7")
HEADERS = (
    *("key: F", "key: Ebm", "key: C#", "key: Abm", "meter: 3/4", "meter: 5/4", "meter: 6/8"),
    *("meter: 7/8", "meter: 1/16", "meter: 2/2", "tempo: 40", "tempo: 300", "feel: straight"),
)
KEYS = ("C", "F#", "Gb", "C#", "Cb", "Am", "D#m", "Ebm", "A#m", "Abm")


@pytest.fixture(scope="module", autouse=True)
def without_what_takes_long() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.delenv("HALFSTEP_DEBUG", raising=False)
        without_sound_and_pages(patch)
        yield


def typed_charts() -> st.SearchStrategy[str]:
    """Good charts, charts with a few odd signs, and any text."""
    sign = st.one_of(st.sampled_from(SIGNS), st.text(max_size=5))
    word = st.one_of(symbol_texts(), odd_symbol_texts(), sign)
    odd = st.lists(word, max_size=9).map(" ".join)
    good = st.lists(symbol_texts(), max_size=8).map(" ".join)
    bars = st.lists(st.one_of(good, good, good, odd), min_size=1, max_size=6).map(" | ".join)
    title = st.text(max_size=9).map("title: {}".format)
    headers = st.lists(st.one_of(st.sampled_from(HEADERS), title), max_size=3)
    headed = st.builds(lambda lines, text: "\n".join([*lines, text]), headers, bars)
    return st.one_of(headed, chart_texts(), st.text(max_size=40))


def options() -> st.SearchStrategy[list[str]]:
    """Options that make sense, in any company."""
    return st.fixed_dictionaries(
        {"--steps": st.sampled_from("123456")},
        optional={
            "--for": st.sampled_from(list(INSTRUMENTS)),
            "--key": st.sampled_from(KEYS),
            "--level": st.sampled_from(["beginner", "advanced"]),
            "--tempo": st.sampled_from(["40", "300"]),
            "--seed": st.integers(0, 99).map(str),
        },
    ).map(lambda chosen: [f"{option}={value}" for option, value in chosen.items()])


def assert_met_or_refused(chart: str, more: list[str]) -> None:
    """Status 0 and files, or status 2, one line and nothing left behind."""
    said, complaint = io.StringIO(), io.StringIO()
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "out"
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(complaint):
            status = main(["lesson", *more, f"--out={out}", "--", chart])
        left = {path.name for path in Path(folder).iterdir()}
    assert status in {0, 2}, complaint.getvalue()
    assert complaint.getvalue().count("\n") == (0 if status == 0 else 1)
    assert left == ({"out"} if status == 0 else set())


@pytest.mark.slow
@settings(max_examples=25, suppress_health_check=[HealthCheck.too_slow])
@given(typed_charts(), options())
def test_any_chart_is_met_or_refused(chart: str, more: list[str]) -> None:
    assert_met_or_refused(chart, more)


@pytest.mark.slow
@settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(typed_charts(), options())
def test_many_charts_are_met_or_refused(chart: str, more: list[str]) -> None:
    assert_met_or_refused(chart, more)


@pytest.mark.sampled
@pytest.mark.parametrize("root", ROOTS)
@pytest.mark.parametrize("key", ["C#", "Cb", "Am"])
def test_every_root_is_met_in_the_outermost_keys(root: str, key: str) -> None:
    chart = f"key: {key}\n| {root}7 {root}m7b5 | {root}dim7 {root}maj7#11 |"
    assert_met_or_refused(chart, ["--steps=4", "--for=alto-sax"])


FOUND = {
    "a lone half of a character in a title": ("title: \udcff\n| C |", ["--steps=1"]),
    "a control character in a title": ("title: a\x07\n| C |", ["--steps=1"]),
    "steps of thousands of digits": ("| C |", ["--steps=" + "9" * 5000]),
    "a chart in seven sharps asked for in C": ("key: C#\n| C#7 |", ["--steps=1", "--key=C"]),
    "sixteen chords in a bar": ("| " + "Dm7 G7 " * 8 + "|", ["--steps=2"]),
    "three and eight chords in a bar": (
        "key: Ebm\n| Bb7sus4 Bmaj7 B7#9 | Abmaj9 Fm7/Eb Bmaj7 E#7alt Abm7 C#6 Eb7/C C#dim7/G |",
        ["--steps=2"],
    ),
    "a chart in seven flats asked for in C": ("key: Cb\n| Cb7 |", ["--steps=1", "--key=C"]),
}
"""What ended in a fault once."""


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize("name", FOUND)
def test_what_failed_once_is_met_or_refused(name: str) -> None:
    assert_met_or_refused(*FOUND[name])
