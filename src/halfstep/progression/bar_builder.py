"""How do bars come together while a page is read? One after the other, with what waits for them.

All readers build their sheets here: a section, a repeat sign or an ending that stands before
a bar waits for it, marks that stand after a bar go back to it, and what is not certain
becomes a notice.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from halfstep.errors import ReadError
from halfstep.progression.form import MAX_BARS
from halfstep.progression.sheet import (
    LeadSheet,
    Marks,
    SheetNote,
    WrittenBar,
    keys_where_they_change,
)

if TYPE_CHECKING:
    from fractions import Fraction

    from halfstep.meter import Feel, Meter
    from halfstep.progression.chart import ChordAt
    from halfstep.progression.key import Key

_NO_SIGNS: Mapping[str, bool] = {}


class BarBuilder:
    """The bars of a page so far, what waits for the next one, and notices.

    Attributes
    ----------
    bars : list of WrittenBar
    notices : list of str
    section : str
        The name of the section that begins with the next bar.
    forward : bool
        A repeat begins with the next bar.
    ending : tuple of int
        The passes of the ending that begins with the next bar.

    Parameters
    ----------
    noun : str
        What the page is called where it is too long: chart, song, tune.
    limit : int
        Bars at most.
    """

    def __init__(self, noun: str = "chart", limit: int = MAX_BARS) -> None:
        self.bars: list[WrittenBar] = []
        self.notices: list[str] = []
        self.section = ""
        self.forward = False
        self.ending: tuple[int, ...] = ()
        self._noun = noun
        self._limit = limit
        self._in_ending = False

    def add(
        self,
        meter: Meter,
        chords: Iterable[ChordAt] = (),
        *,
        beats: Fraction | None = None,
        number: str = "",
        notes: Iterable[SheetNote] = (),
        key: Key | None = None,
        irregular: bool = False,
        signs: Mapping[str, bool] = _NO_SIGNS,
        marks: Marks | None = None,
    ) -> WrittenBar:
        """One more bar, with what waits for it.

        Parameters
        ----------
        meter : Meter
        chords : iterable of ChordAt
        beats : Fraction, optional
            What its notes fill; without it the bar is whole.
        number : str, optional
            As written; without it the bar is numbered by its place.
        notes : iterable of SheetNote
        key : Key or None
            The key the bar is in; None where the one before goes on.
        irregular : bool
        signs : mapping of str to bool
            Fields of `Marks` besides those that wait.
        marks : Marks, optional
            All marks of the bar, in the place of those that wait.

        Raises
        ------
        ReadError
            When there are as many bars as may be.
        """
        self.check_room()
        bar = WrittenBar(
            number or str(len(self.bars) + 1),
            meter,
            meter.bar_beats if beats is None else beats,
            tuple(chords),
            marks or Marks(forward=self.forward, ending=self.ending, **signs),
            irregular,
            self.section,
            tuple(notes),
            key,
        )
        self.bars.append(bar)
        self._note_ending(bar.marks)
        self.section, self.forward, self.ending = "", False, ()
        return bar

    def check_room(self) -> None:
        """Refuse one more bar where there are as many as may be.

        Raises
        ------
        ReadError
        """
        if len(self.bars) >= self._limit:
            raise ReadError(f"more than {self._limit} bars; make the {self._noun} shorter")

    def mark_last(self, **marks: bool | int) -> None:
        """Change marks of the last bar."""
        changed = self.bars[-1].marks._replace(**marks)  # type: ignore[arg-type]
        self.bars[-1] = self.bars[-1]._replace(marks=changed)
        self._note_ending(changed)

    def begin_ending(self, passes: tuple[int, ...]) -> None:
        """The next bar begins an ending; one that is open stops."""
        self.stop_ending()
        self.ending = passes

    def stop_ending(self) -> None:
        """The last bar stops the ending that is open, if one is."""
        if self._in_ending:
            self.mark_last(ending_stops=True)

    def _note_ending(self, marks: Marks) -> None:
        """An ending is open until a bar stops it or goes back."""
        if marks.ending_stops or marks.backward:
            self._in_ending = False
        elif marks.ending:
            self._in_ending = True

    def sheet(
        self,
        title: str,
        *,
        key: Key | None = None,
        tempo_bpm: float | None = None,
        feel: Feel | None = None,
        style: str = "",
    ) -> LeadSheet:
        """The page as it was read; each key stands where it begins, each notice once.

        A short first bar numbered 0 is a pickup, and need not be whole whatever is said.
        """
        bars = tuple(keys_where_they_change(self.bars, key))
        if bars and bars[0].number == "0" and bars[0].short:
            bars = (bars[0]._replace(irregular=True), *bars[1:])
        notices = tuple(dict.fromkeys(self.notices))
        return LeadSheet(title, bars, key, tempo_bpm, feel, notices, style)
