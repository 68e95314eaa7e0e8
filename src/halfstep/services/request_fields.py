"""How do the fields of a request become values? Each judged in one place, for every face.

Errors name the field between grave accents, as `halfstep.errors` says.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, TypeVar, Union

from halfstep.errors import BriefError, ReadError, did_you_mean
from halfstep.instruments import Instrument, find_instrument
from halfstep.level import Level
from halfstep.meter import FASTEST_BPM, SLOWEST_BPM, Feel
from halfstep.part.written_music import in_concert
from halfstep.progression.chart import Chart
from halfstep.progression.form import MAX_BARS, MOST_BARS_GIVEN, played
from halfstep.progression.load import load_sheet_file, typed_sheet
from halfstep.progression.quality import Reading
from halfstep.progression.reading import parse_reading
from halfstep.progression.sheet import LeadSheet
from halfstep.progression.symbol import in_words

if TYPE_CHECKING:
    from pathlib import Path

    from halfstep.render.typesetting import PaperName

ChartSource = Union[str, "Path", LeadSheet]
"""Chords as text, a file of any notation that is read, or a sheet that was read already."""

PAPERS = ("a4", "letter")

Progress = Callable[[float, str], None]
"""Told the share of the work that is done, 0 to 1, and what was done last."""

FileMade = Callable[[str, bytes], None]
"""Given the name of a file and what is in it, as soon as it is made."""

Word = TypeVar("Word", Level, Feel)


def no_progress(_share: float, _work: str) -> None:
    """Tell nobody."""


def nobody_asks(_name: str, _content: bytes) -> None:
    """Show nobody."""


def sheet_of(chart: ChartSource, *, reading: str | None, tune: int | None) -> LeadSheet:
    """The lead sheet that a request is about.

    Raises
    ------
    ReadError
        When it cannot be read as a chart.
    BriefError
        When the reading cannot be read.
    """
    if isinstance(chart, LeadSheet):
        return chart
    settled = reading_of(reading)
    if isinstance(chart, str):
        return typed_sheet(chart, reading=settled, tune=tune)
    if not chart.exists():
        raise ReadError(f"no such file: {chart}; give a chart file")
    if chart.suffix.lower() == ".json":
        return _stored_sheet(chart)
    return in_concert(load_sheet_file(chart, reading=settled, tune=tune))


def _stored_sheet(path: Path) -> LeadSheet:
    """A chart that was written as our own data."""
    from halfstep.data.chart_json import read_chart_data

    try:
        return read_chart_data(path)
    except ReadError as error:
        raise error.at(source=path.name) from None


def chart_of(source: ChartSource, sheet: LeadSheet) -> Chart:
    """The sheet of a request as it is played.

    Raises
    ------
    ReadError
        When that is longer than what is typed may be; a sheet given as a value may be longer.
    """
    return played(sheet, limit=MOST_BARS_GIVEN if isinstance(source, LeadSheet) else MAX_BARS)


def placed_in(chart: ChartSource, error: ReadError) -> ReadError:
    """An error about a chart, with the name of its file."""
    return error if isinstance(chart, str | LeadSheet) else error.at(source=chart.name)


def reading_of(reading: str | None) -> Reading:
    """What doubtful signs mean: ``C2=Csus2, C7+=Cmaj7``.

    Raises
    ------
    BriefError
    """
    try:
        return parse_reading(reading or "")
    except ReadError as error:
        raise BriefError(f"`reading`: {error.message}") from None


def player_of(instrument: str | None) -> Instrument:
    """Who plays; concert pitch where nobody is named.

    Raises
    ------
    BriefError
    """
    return find_instrument("concert" if instrument is None else instrument)


def level_of(level: str) -> Level:
    """The level of that name.

    Raises
    ------
    BriefError
    """
    return _word("level", level, Level)


def feel_of(feel: str | None) -> Feel | None:
    """The feel of that name; None for None.

    Raises
    ------
    BriefError
    """
    return None if feel is None else _word("feel", feel, Feel)


def _word(field: str, text: str, words: type[Word]) -> Word:
    return words(choice_of(field, text, map(str, words)))


def paper_of(paper: str) -> PaperName:
    """The sheet of that name.

    Raises
    ------
    BriefError
    """
    return "letter" if choice_of("paper", paper, PAPERS) == "letter" else "a4"


def choice_of(field: str, text: str, known: Iterable[str]) -> str:
    """One of the known words, in small letters.

    Raises
    ------
    BriefError
    """
    known = tuple(known)
    if text.lower() not in known:
        meant = did_you_mean(text, known)
        raise BriefError(f"`{field}` {text!r}{meant or ':'} choose from {', '.join(known)}")
    return text.lower()


def tempo_typed(text: str) -> float:
    """A tempo as a form or a command line gives it, in pulses a minute.

    Raises
    ------
    BriefError
    """
    return _number(text, _tempo_wanted(repr(text)))


def demand_tempo(tempo_bpm: float | None) -> None:
    """Refuse a tempo that no lesson is made for.

    Raises
    ------
    BriefError
    """
    if tempo_bpm is not None and not SLOWEST_BPM <= tempo_bpm <= FASTEST_BPM:
        raise BriefError(_tempo_wanted(f"{tempo_bpm:g}"))


def _tempo_wanted(shown: str) -> str:
    return f"`tempo_bpm` {shown}: give pulses a minute from {SLOWEST_BPM} to {FASTEST_BPM}"


SHORTEST_MINUTES, LONGEST_MINUTES = 10, 180
"""Of a day's practice."""


def minutes_typed(text: str) -> float:
    """A day's practice as a form or a command line gives it.

    Raises
    ------
    BriefError
    """
    return _number(text, _minutes_wanted(repr(text)))


def demand_minutes(minutes: float) -> None:
    """Refuse what is no day's practice.

    Raises
    ------
    BriefError
    """
    if not SHORTEST_MINUTES <= minutes <= LONGEST_MINUTES:
        raise BriefError(_minutes_wanted(f"{minutes:g}"))


def _minutes_wanted(shown: str) -> str:
    return f"`minutes` {shown}: give {SHORTEST_MINUTES} to {LONGEST_MINUTES} minutes a day"


def seconds_typed(text: str, field: str = "start_s") -> float:
    """A place in a recording as a form or a command line gives it.

    Raises
    ------
    BriefError
    """
    return _number(text, f"`{field}` {text!r}: give the second at which bar 1 begins")


def talk_typed(text: str) -> float:
    """Seconds kept for talking, as a command line gives them.

    Raises
    ------
    BriefError
    """
    return _number(text, f"`talk_s` {text!r}: give seconds, such as 30")


def _number(text: str, wanted: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise BriefError(wanted) from None


_MOST_START_S = 36_000.0


def demand_start(start_s: float | None, field: str = "start_s") -> None:
    """Refuse a beginning that is no place in a recording.

    Raises
    ------
    BriefError
    """
    if start_s is not None and not -_MOST_START_S <= start_s <= _MOST_START_S:
        raise BriefError(f"`{field}` {start_s:g}: give the second at which bar 1 begins")


def bars_of(field: str, text: str | None, chart: Chart) -> frozenset[int]:
    """Bars such as ``3,5-6``, as numbers of the form; none for None.

    Raises
    ------
    BriefError
    """
    count = len(chart.form)
    bars: set[int] = set()
    for span in [] if text is None else text.split(","):
        first, dash, last = (word.strip() for word in span.partition("-"))
        numbers = (first, last if dash else first)
        if not all(word.isascii() and word.isdecimal() and len(word) < 7 for word in numbers):
            raise BriefError(f"`{field}` {text!r}: write bars like 3,5-6")
        low, high = map(int, numbers)
        if not 1 <= low <= high <= count:
            raise BriefError(f"`{field}` {text!r}: the chart has bars 1 to {count}, lower first")
        bars.update(range(low, high + 1))
    return frozenset(bars)


def seed_typed(text: str) -> int:
    """A seed as a form or a command line gives it.

    Raises
    ------
    BriefError
    """
    if not text.isascii() or not text.isdecimal() or len(text) > 18:
        raise BriefError(f"`seed` {text!r}: give a whole number, 0 or more")
    return int(text)


def demand_seed(seed: int) -> None:
    """Refuse a seed below 0.

    Raises
    ------
    BriefError
    """
    if seed < 0:
        raise BriefError(f"`seed` {seed}: give a whole number, 0 or more")


def tune_typed(text: str) -> int:
    """The number of a tune as a form or a command line gives it.

    Raises
    ------
    BriefError
    """
    if not (text.isascii() and text.isdecimal() and len(text) < 9):
        raise BriefError(f"`tune` {text!r}: give the number of a tune in the file")
    return int(text)


def reading_notices(sheet: LeadSheet, chart: Chart) -> tuple[str, ...]:
    """What was not certain: once for each chord, in words, then what the reader says."""
    symbols = [chord.symbol for bar in sheet.bars for chord in bar.chords]
    of_symbols = {
        notice: f" ({in_words(symbol)})" if notice.startswith(f"{symbol.typed}:") else ""
        for symbol in symbols
        for notice in symbol.notices
    }  # a chord that was moved is not the one its notice speaks of
    of_reader = (notice for notice in chart.notices if not notice.endswith(tuple(of_symbols)))
    in_full = (notice + words for notice, words in of_symbols.items())
    return (*in_full, *dict.fromkeys(of_reader))
