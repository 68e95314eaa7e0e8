"""A page as plain text: the other half of `halfstep.progression.notations.text_reader`.

What the text cannot hold is changed as little as can be, and `text_losses` tells what.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction

from halfstep.errors import ReadError
from halfstep.meter import FASTEST_BPM, SLOWEST_BPM, Meter, parse_meter
from halfstep.pitch import UNISON
from halfstep.progression.chart import ChordAt
from halfstep.progression.key import Key
from halfstep.progression.notations.text_reader import MAX_CHORDS_IN_BAR, read_sheet_text
from halfstep.progression.notations.text_signs import SIGNS_AT_START, WIDE_LINE, number_words
from halfstep.progression.shares import places_of, shares_of_bar, steps_of_bar
from halfstep.progression.sheet import LeadSheet, Marks, WrittenBar
from halfstep.progression.symbol import ChordSymbol, parse_symbol
from halfstep.progression.title import UNTITLED, one_line


def write_sheet_text(sheet: LeadSheet) -> str:
    r"""The page as plain text, which reads back to it but for its `text_losses`.

    Examples
    --------
    >>> print(write_sheet_text(read_sheet_text("key: F\n|: F7 | Bb7 . . F7 :|")), end="")
    key: F
    meter: 4/4
    <BLANKLINE>
    |: F7 | Bb7 . . F7 :|
    """
    return _SheetWriter(sheet).text()


def text_losses(sheet: LeadSheet) -> tuple[str, ...]:
    """What `write_sheet_text` cannot hold of this page, or changes; empty when nothing."""
    writer = _SheetWriter(sheet)
    text = writer.text()
    losses = list(writer.losses)
    try:
        losses += _unlike(sheet, read_sheet_text(text))
    except ReadError as error:
        losses.append(f"the text does not read back: {error.message}")
    return tuple(dict.fromkeys(losses))


def _unlike(sheet: LeadSheet, back: LeadSheet) -> list[str]:
    """Where marks and numbers are not what they were."""
    pairs = list(zip(sheet.bars, back.bars, strict=False))
    losses = [
        f"bar {one.number}: its signs are simplified"
        for one, two in pairs
        if one.marks != two.marks
    ]
    if any(one.number != two.number for one, two in pairs):
        losses.append("the bars are numbered anew")
    return losses


class _SheetWriter:
    """Writes a page and collects what is lost."""

    def __init__(self, sheet: LeadSheet) -> None:
        self.sheet = sheet
        self.losses: list[str] = []
        self.meter = Meter()
        self._in_ending = False
        self._last_number = 0

    def text(self) -> str:
        """Header, a blank line, and the bars four a line; a section begins a new line."""
        if self.sheet.has_melody:
            self.losses.append("the melody is left out: plain text holds chords only")
        lines = [*self._header(), ""]
        line: list[str] = []
        for place, bar in enumerate(self.sheet.bars):
            section = self._section(bar)
            if line and (section or len(line) == _BARS_IN_LINE):
                lines.append(" ".join(line))
                line = []
            lines += [f"[{section}]"] if section else []
            line.append(self._bar(place, starts_line=not line))
        return "\n".join([*lines, " ".join(line), ""])

    # the header

    def _header(self) -> list[str]:
        sheet = self.sheet
        title = one_line(sheet.title).replace(WIDE_LINE, "|").lstrip("| ")  # no bar line
        self._note_loss(title == sheet.title or not sheet.title, f"the title becomes {title!r}")
        self.meter = self._writable(sheet.bars[0].meter) if sheet.bars else Meter()
        stated = {
            "title": "" if title == UNTITLED else title,
            "key": self._key(sheet.key),
            "meter": meter_text(self.meter),
            "tempo": self._tempo(),
            "feel": str(sheet.feel or ""),
            "style": sheet.style,
        }
        return [f"{name}: {value}" for name, value in stated.items() if value]

    def _key(self, key: Key | None) -> str:
        if key is None:
            return ""
        plain = key.moved(UNISON)
        self._note_loss(plain == key, f"the key of {key} is written as {plain}")
        return plain.ascii

    def _tempo(self) -> str:
        tempo_bpm = self.sheet.tempo_bpm
        if tempo_bpm is None:
            return ""
        if not SLOWEST_BPM <= round(tempo_bpm, 3) <= FASTEST_BPM:
            self._note_loss(False, f"the tempo of {tempo_bpm:g} is left out")
            return ""
        text = f"{tempo_bpm:.3f}".rstrip("0").rstrip(".")
        self._note_loss(float(text) == tempo_bpm, f"the tempo of {tempo_bpm} is written as {text}")
        return text

    def _writable(self, meter: Meter) -> Meter:
        """The metre, or the nearest that the text can state."""
        for near in (meter, replace(meter, grouping=())):
            if _reads_back(near):
                self._note_loss(near == meter, f"the grouping of {meter} is left out")
                return near
        sixteenths = -(-16 * meter.count // meter.unit)
        near = Meter(max(1, min(32, sixteenths)), 16)
        self._note_loss(False, f"the metre {meter} is written as {near}")
        return near

    def _note_loss(self, kept: bool, loss: str) -> None:
        if not kept:
            self.losses.append(loss)

    # one bar

    def _section(self, bar: WrittenBar) -> str:
        section = one_line(bar.section.translate(_NOT_IN_SECTION))
        self._note_loss(section == bar.section, f"the section {bar.section!r} becomes {section!r}")
        return section

    def _bar(self, place: int, *, starts_line: bool) -> str:
        """The bar with the bar line after it, and the one before where that is not written."""
        bars = self.sheet.bars
        bar, marks = bars[place], bars[place].marks
        after = bars[place + 1] if place + 1 < len(bars) else None
        parts = [("|:" if marks.forward else "|")] if starts_line or marks.forward else []
        meter = self._writable(bar.meter)
        word = self._length_word(place, meter)
        beats = bar.beats if word else meter.bar_beats
        parts += ["".join(f"{number}." for number in marks.ending)] if marks.ending else []
        parts += [f"{{{meter_text(meter)}}}"] if meter != self.meter else []
        self.meter = meter
        parts += [f"{{key {self._key(bar.key)}}}"] if bar.key else []
        parts += [f"{{{word} {_beats_text(beats)}}}"] if word else []
        parts += self._stated_number(bar, is_pickup=word == "pickup")
        signs = SIGNS_AT_START.items()
        parts += [f"{{{name}}}" for name, field in signs if getattr(marks, field)]
        parts += self._chords(bar, beats)
        parts += [f"{{{word}}}" for word in marks_in_words(marks, self.sheet)]
        return " ".join([*parts, self._bar_line(marks, after)])

    def _length_word(self, place: int, meter: Meter) -> str:
        """What says that the bar is not whole; empty for one that is."""
        bar = self.sheet.bars[place]
        changed = replace(bar.meter, grouping=()) != replace(meter, grouping=())
        if changed or bar.beats in {0, meter.bar_beats}:
            return ""
        if place == 0 and bar.short and bar.number == "0":
            return "pickup"
        return "part" if bar.short and bar.irregular else "lasts"

    def _stated_number(self, bar: WrittenBar, *, is_pickup: bool) -> list[str]:
        """The number of the bar where it is not the one that follows."""
        following = "0" if is_pickup else str(self._last_number + 1)
        words = f"bar {bar.number}"
        states = bar.number != following and bool(number_words().fullmatch(words))
        number = bar.number if states else following
        self._last_number = int(number) if number.isdecimal() else self._last_number
        return [f"{{{words}}}"] if states else []

    def _bar_line(self, marks: Marks, after: WrittenBar | None) -> str:
        self._in_ending = self._in_ending or bool(marks.ending)
        stops = self._in_ending and (marks.ending_stops or marks.backward > 1)
        self._in_ending = self._in_ending and not stops
        if marks.backward > 1:
            return ":|" if marks.backward == 2 else f":|x{min(marks.backward, 99)}"
        if after is None:
            return "|]"
        return "||" if stops else "|"

    # chords

    def _chords(self, bar: WrittenBar, beats: Fraction) -> list[str]:
        texts = [self._symbol(chord, bar) for chord in bar.chords]
        places = [max(chord.at, Fraction(0)) for chord in bar.chords]
        late = all(chord.at >= 0 for chord in bar.chords)
        self._note_loss(late, f"bar {bar.number}: a chord before the bar is moved to its start")
        words = words_of_bar(texts, places, self.meter, beats)
        return list(_placed(texts, places)) if words is None else words

    def _symbol(self, chord: ChordAt, bar: WrittenBar) -> str:
        text = chord.symbol.ascii
        self._note_loss(_is_read_as(text, chord.symbol), f"bar {bar.number}: {text} is simplified")
        return f"{text} {{scale {chord.scale}}}" if chord.scale else text


_BARS_IN_LINE = 4
_NOT_IN_SECTION = str.maketrans({"[": "(", "]": ")", "{": "(", "}": ")", "|": "/", WIDE_LINE: "/"})


def marks_in_words(marks: Marks, sheet: LeadSheet) -> list[str]:
    """What stands at the end of a bar: ``fine``, ``D.C. al coda`` and the like."""
    words = ["to coda"] if marks.to_coda else []
    words += ["fine"] if marks.fine else []
    if not (marks.da_capo or marks.dal_segno):
        return words
    goal = _jump_goal(sheet)
    words += [f"D.C.{goal}"] if marks.da_capo else []
    return words + ([f"D.S.{goal}"] if marks.dal_segno else [])


def _jump_goal(sheet: LeadSheet) -> str:
    """Where the music goes on to after a jump."""
    if any(bar.marks.to_coda for bar in sheet.bars):
        return " al coda"
    return " al fine" if any(bar.marks.fine for bar in sheet.bars) else ""


def words_of_bar(
    texts: Sequence[str], places: Sequence[Fraction], meter: Meter, beats: Fraction
) -> list[str] | None:
    """Chords that share a bar evenly as they are, others with a dot where one is held.

    Parameters
    ----------
    texts : sequence of str
    places : sequence of Fraction
        Beats from the start of the bar, one for each text.
    meter : Meter
    beats : Fraction
        Length of the bar.

    Returns
    -------
    list of str or None
        None where a chord stands off the pulses and their divisions.
    """
    fits = 1 <= len(texts) <= MAX_CHORDS_IN_BAR
    shares, even = shares_of_bar(meter, len(texts), beats=beats) if fits else ((), False)
    shared = fits and places_of(shares) == tuple(places)
    if shared and even:
        return list(texts)
    for step in steps_of_bar(meter, beats):
        if all(at % step == 0 and 0 <= at < beats for at in places) and _apart(places):
            placed = {int(at / step): text for at, text in zip(places, texts, strict=True)}
            return [placed.get(slot, ".") for slot in range(int(beats / step))]
    return list(texts) if shared else None


def _placed(texts: Sequence[str], places: Sequence[Fraction]) -> Iterator[str]:
    """Chords with the places that they have off the pulses."""
    for text, at in zip(texts, places, strict=True):
        first = at == 0 and text is texts[0]
        yield text if first else f"{text} {{beat {beat_text(at)}}}"


def beat_text(at: Fraction) -> str:
    """A place in quarter notes counted from 1: ``2.5`` or ``2+1/3``.

    >>> beat_text(Fraction(3, 2)), beat_text(Fraction(4, 3))
    ('2.5', '2+1/3')
    """
    whole, part = divmod(at + 1, 1)
    plain = f"{float(part):g}"
    if len(plain) <= len("0.125") and Fraction(plain) == part:
        return f"{whole}{plain[1:]}"
    return f"{whole}+{part}"


def _apart(places: Sequence[Fraction]) -> bool:
    return len(set(places)) == len(places)


def meter_text(meter: Meter) -> str:
    """A metre with the grouping that is stated: ``7/4 2+2+3``."""
    grouping = "+".join(map(str, meter.grouping))
    return f"{meter} {grouping}".rstrip()


def _reads_back(meter: Meter) -> bool:
    try:
        return parse_meter(meter_text(meter)) == meter
    except ReadError:
        return False


def _is_read_as(text: str, symbol: ChordSymbol) -> bool:
    try:
        return parse_symbol(text) == symbol
    except ReadError:
        return False


def _beats_text(beats: Fraction) -> str:
    plain = f"{float(beats):g}"
    return plain if Fraction(plain) == beats else str(beats)
