"""Which style does the band play? The one typed, the chart's, or the plain one of a feel."""

from __future__ import annotations

from pathlib import Path

import pytest

import halfstep
from app.app_command import Command
from halfstep.backing import STYLES, Style
from halfstep.errors import BriefError, ReadError
from halfstep.meter import Feel
from halfstep.services.make_lesson import MakeLesson, lesson_brief

BARS = "| Dm7 | G7 | Cmaj7 | A7 |"
OTHER = {Feel.SWING: "straight", Feel.STRAIGHT: "swing"}
styles = pytest.mark.parametrize("style", STYLES, ids=lambda style: style.name)


def asked(chart: str = BARS, **fields: str) -> LessonBriefStyle:
    brief = lesson_brief(MakeLesson(chart, Path("unused"), **fields))  # type: ignore[arg-type]
    return brief.band_style.name, brief.eighths


LessonBriefStyle = tuple[str, Feel]


@styles
def test_every_style_is_taken_from_the_request_and_from_the_chart(style: Style) -> None:
    assert asked(style=style.name) == (style.name, style.feel)
    assert asked(style=style.name.upper()) == (style.name, style.feel)
    assert asked(f"style: {style.name}\n{BARS}") == (style.name, style.feel)


@styles
def test_a_style_goes_before_that_of_the_chart(style: Style) -> None:
    assert asked(f"style: swing\n{BARS}", style=style.name) == (style.name, style.feel)


@pytest.mark.parametrize("feel", Feel)
def test_a_feel_alone_picks_its_plain_style_whatever_the_chart_says(feel: Feel) -> None:
    for header in ("", *(f"style: {style.name}\n" for style in STYLES)):
        assert asked(header + BARS, feel=str(feel)) == (str(feel), feel)


@styles
def test_a_feel_that_contradicts_the_style_is_refused_in_one_line(style: Style) -> None:
    wrong = OTHER[style.feel]
    with pytest.raises(BriefError, match=f"feel .*{style.name} has the feel {style.feel}"):
        asked(style=style.name, feel=wrong)
    with pytest.raises(ReadError, match=f"feel is {wrong}, but the style {style.name}"):
        asked(f"style: {style.name}\nfeel: {wrong}\n{BARS}")
    assert asked(style=style.name, feel=str(style.feel)) == (style.name, style.feel)


def test_a_style_that_there_is_not_is_refused_with_the_one_that_was_meant() -> None:
    with pytest.raises(BriefError, match="style 'swign'; did you mean swing"):
        asked(style="swign")
    with pytest.raises(ReadError, match="'swign' is no style; did you mean swing"):
        halfstep.read_chart(f"style: swign\n{BARS}")
    with pytest.raises(ReadError, match="is no style; write the name of one"):
        halfstep.read_chart(f"style: ?!\n{BARS}")


def test_a_chart_keeps_its_style_as_text_and_data() -> None:
    reply = halfstep.read_chart(f"style: swing\n{BARS}")
    for notation in ("text", "json"):
        text = reply.written(notation).text
        again = halfstep.read_chart(text) if notation == "text" else None
        assert '"style": "swing"' in text or (again and again.sheet.style == "swing")
    assert "the style" in " ".join(reply.written("abc").losses)


def test_the_styles_are_listed(command: Command) -> None:
    ran = command("lesson", "--style", "list")
    assert [line.split()[0] for line in ran.out.splitlines()] == [s.name for s in STYLES]


def test_the_option_is_named_where_it_is_wrong(command: Command) -> None:
    ran = command("lesson", BARS, "--style", "swing", "--feel", "straight")
    assert (ran.status, ran.out) == (2, "")
    assert ran.err.startswith("halfstep: --feel 'straight': the style swing has the feel swing")
