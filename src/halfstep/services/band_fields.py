"""How do the fields that tell the band become values? Style, choruses, keys, who is left out.

Errors name the field between grave accents, as `halfstep.errors` says.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from halfstep.errors import BriefError, ReadError, did_you_mean
from halfstep.progression.chart import Chart
from halfstep.progression.key import Key, parse_key
from halfstep.services.request_fields import choice_of, feel_of

if TYPE_CHECKING:
    from pathlib import Path

    from halfstep.backing import Style

CYCLE = "cycle"
"""What is written for all keys."""
MOST_CHORUSES = 200


def choruses_typed(text: str) -> int:
    """A number of choruses as a form or a command line gives it.

    Raises
    ------
    BriefError
    """
    if not (text.isascii() and text.isdecimal() and len(text) < 9):
        raise BriefError(_choruses_wanted(repr(text)))
    return int(text)


def demand_choruses(choruses: int | None) -> None:
    """Refuse a number of choruses that no file has.

    Raises
    ------
    BriefError
    """
    if choruses is not None and not 1 <= choruses <= MOST_CHORUSES:
        raise BriefError(_choruses_wanted(str(choruses)))


def _choruses_wanted(shown: str) -> str:
    return f"`choruses` {shown}: give a number from 1 to {MOST_CHORUSES}"


def named_bank(bank: Path | None) -> Path | None:
    """A sound bank that is asked for, looked into before any work is done.

    Raises
    ------
    ReadError
        When it is not there, or is none.
    """
    if bank is None:
        return None
    from halfstep.render.known_banks import find_bank
    from halfstep.render.soundbank import opened_bank

    return opened_bank(find_bank(bank)).path


def style_of(style: str | None, feel: str | None, chart: Chart) -> Style | None:
    """The style of the band: the one asked for, the plain one of a feel, or the chart's.

    Returns
    -------
    Style or None
        None where only the chart's feel is known, or nothing.

    Raises
    ------
    BriefError
        When there is no such style, or it has another feel than the one asked for.
    ReadError
        When the chart names no style that there is, or contradicts itself.
    """
    if style is None and feel is None and not chart.style:
        return None  # and no style is loaded
    eighths = feel_of(feel)
    if style is not None:
        chosen = style_named(style)
        if eighths and eighths is not chosen.feel:
            raise BriefError(f"`feel` {feel!r}: {_feel_words(chosen)}; leave one of them out")
        return chosen
    if eighths:
        return None
    styles = _styles()
    if chart.style not in styles:
        meant = did_you_mean(chart.style, styles)
        names = ", ".join(styles)
        raise ReadError(f"{chart.style!r} is no style{meant or ':'} choose from {names}")
    chosen = styles[chart.style]
    if chart.feel and chart.feel is not chosen.feel:
        raise ReadError(f"the chart's feel is {chart.feel}, but {_feel_words(chosen)}")
    return chosen


def style_named(name: str) -> Style:
    """The style of that name.

    Raises
    ------
    BriefError
    """
    styles = _styles()
    return styles[choice_of("style", "-".join(name.split()), styles)]


def _styles() -> dict[str, Style]:
    from halfstep.backing import STYLES

    return {known.name: known for known in STYLES}


def _feel_words(style: Style) -> str:
    return f"the style {style.name} has the feel {style.feel}"


def keys_of(text: str | None, chart: Chart) -> tuple[Key, ...]:
    """The keys that are asked for, each once; none for None.

    Raises
    ------
    ReadError
        When one is no key.
    """
    if text is None:
        return ()
    if is_cycle(text):
        from halfstep.lesson.backing_brief import key_cycle

        return key_cycle(chart)
    return tuple(dict.fromkeys(parse_key(word) for word in text.split(",")))


def is_cycle(text: str) -> bool:
    """Whether all keys are asked for."""
    return text.strip().lower() == CYCLE


def demand_ladder(tempi: Sequence[float], *, rising: bool) -> None:
    """Refuse a rise of one tempo.

    Raises
    ------
    BriefError
    """
    if rising and len(tempi) == 1:
        raise BriefError("`rising` needs several tempi, such as `tempi` 80..160+5")


def left_out(text: str) -> frozenset[str]:
    """Who is left out.

    Raises
    ------
    BriefError
        When there is no such part, or nobody would be left.
    """
    from halfstep.lesson.backing_brief import PARTS

    words = (word.strip() for word in text.split(","))
    names = frozenset(choice_of("without", word, PARTS) for word in words if word)
    if names == set(PARTS):
        raise BriefError(f"`without` {text!r} leaves nobody; leave out two at most")
    return names


def count_in_of(bars: int | None) -> int | None:
    """How many bars count in; None leaves it to the tempo.

    Raises
    ------
    BriefError
    """
    if bars not in {None, 1, 2}:
        raise BriefError(f"`count_in_bars` {bars}: give 1 or 2")
    return bars


def intro_of(bars: int) -> int:
    """How many bars of the band lead in.

    Raises
    ------
    BriefError
    """
    from halfstep.backing.band_intro import INTRO_BARS

    if bars not in INTRO_BARS:
        raise BriefError(f"`intro_bars` {bars}: give 2 or 4, or leave it out")
    return bars


def bars_typed(field: str, text: str) -> int:
    """A small number of bars as a form or a command line gives it.

    Raises
    ------
    BriefError
    """
    if not (text.isascii() and text.isdecimal() and len(text) < 4):
        raise BriefError(f"`{field}` {text!r}: give a number of bars")
    return int(text)
