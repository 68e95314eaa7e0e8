"""What does a sheet lose on its way through a file? What comes back is held against it.

A writer is asked nothing about itself: its text is read again, and every difference is
named with the bars it stands in. What reads back the same was not lost.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from halfstep.errors import ReadError
from halfstep.progression.sheet import LeadSheet, SheetNote, WrittenBar

_MOST_BARS_NAMED = 8
_OF_SHEET: dict[str, Callable[[LeadSheet], object]] = {
    "the title as it is": lambda sheet: sheet.title,
    "the key": lambda sheet: sheet.key,
    "the tempo": lambda sheet: sheet.tempo_bpm,
    "the feel": lambda sheet: sheet.feel,
    "the style": lambda sheet: sheet.style,
}
_OF_BARS: dict[str, Callable[[WrittenBar], object]] = {
    "the metre": lambda bar: (bar.meter.count, bar.meter.unit),
    "how the beats are grouped": lambda bar: bar.meter.grouping,
    "the length": lambda bar: bar.beats or bar.meter.bar_beats,
    "that it need not be whole": lambda bar: bar.short and bar.irregular,
    "its number": lambda bar: bar.number,
    "the section as it is": lambda bar: bar.section,
    "the key": lambda bar: bar.key,
    "the chords": lambda bar: [chord.symbol for chord in bar.chords],
    "the scales that are set": lambda bar: [chord.scale for chord in bar.chords],
    "the places of chords": lambda bar: [chord.at for chord in bar.chords],
    "repeats and how often": lambda bar: (bar.marks.forward, bar.marks.backward),
    "endings": lambda bar: (
        bar.marks.ending,
        bar.marks.ending_stops or bool(bar.marks.backward),
    ),
    "jumps and their signs": lambda bar: bar.marks._replace(
        forward=False, backward=0, ending=(), ending_stops=False
    ),
}


def what_is_lost(sheet: LeadSheet, back: Callable[[], LeadSheet]) -> tuple[str, ...]:
    """What a sheet has that is missing or another where it is read back, in words.

    Parameters
    ----------
    sheet : LeadSheet
    back : callable
        Writes the sheet and reads it again.
    """
    try:
        return tuple(_unlike(sheet, back()))
    except ReadError as error:
        return (f"a chart that reads back: {error.message}",)


def _unlike(sheet: LeadSheet, back: LeadSheet) -> Iterator[str]:
    yield from (words for words, of in _OF_SHEET.items() if of(sheet) != of(back))
    bars = sheet.bars
    if len(bars) == len(back.bars) + 1 and (bars[0].number == "0" or bars[0].short):
        yield "the pickup"
        bars = bars[1:]
    if len(bars) != len(back.bars):
        yield f"the bars: {len(bars)} come back as {len(back.bars)}"
        return
    pairs = list(zip(bars, back.bars, strict=True))
    for words, of in _OF_BARS.items():
        yield from _named(words, [one for one, two in pairs if of(one) != of(two)])
    if sheet.has_melody and not back.has_melody:
        yield "the melody"
        return
    other = [one for one, two in pairs if _joined(one.notes) != _joined(two.notes)]
    yield from _named("the melody", other)
    cut = [one for one, two in pairs if one.notes != two.notes and one not in other]
    yield from _named("a note held over a chord, but as tied notes", cut)


def _named(words: str, bars: list[WrittenBar]) -> Iterator[str]:
    """The words with the bars they are true of; nothing where there are none."""
    if bars:
        numbers = ", ".join(bar.number for bar in bars[:_MOST_BARS_NAMED])
        more = len(bars) - _MOST_BARS_NAMED
        and_more = f" and {more} more" if more > 0 else ""
        yield f"{words}: bar{'s' * (len(bars) > 1)} {numbers}{and_more}"


def _joined(notes: tuple[SheetNote, ...]) -> list[SheetNote]:
    """The notes as they sound: tied ones are one."""
    joined: list[SheetNote] = []
    for note in notes:
        last = joined[-1] if joined else None
        if last and last.tied and last.pitch == note.pitch and last.at + last.beats == note.at:
            joined[-1] = last._replace(beats=last.beats + note.beats, tied=note.tied)
        else:
            joined.append(note)
    return joined
