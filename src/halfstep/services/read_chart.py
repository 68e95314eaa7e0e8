"""A chart read, moved to another key or player, and written in another notation."""

from __future__ import annotations

from dataclasses import dataclass

from halfstep.instruments import INSTRUMENTS, Instrument
from halfstep.part.lead_sheet import find_reader, sheet_for
from halfstep.part.transposition import in_key
from halfstep.pitch import UNISON, Interval
from halfstep.progression.chart import Chart
from halfstep.progression.key import parse_key
from halfstep.progression.notations import NOTATIONS
from halfstep.progression.sheet import LeadSheet
from halfstep.services.band_fields import style_of
from halfstep.services.file_content import FileContent
from halfstep.services.request_fields import (
    ChartSource,
    chart_of,
    choice_of,
    reading_notices,
    sheet_of,
)


@dataclass(frozen=True, slots=True)
class ReadChart:
    """A request to read a chart.

    Attributes
    ----------
    chart : str, Path or LeadSheet
        Chords in bars as text, or a file of any notation that is read.
    key : str or None
        Concert key to move it to, such as ``Eb`` or ``F#m``.
    instrument : str or None
        Who reads it: an instrument, or all of a kind as in `READERS`; None leaves it in
        concert pitch.
    reading : str or None
        What doubtful signs mean: ``C2=Csus2, B=Bb``.
    tune : int or None
        Which tune of an ABC file of several.
    """

    chart: ChartSource
    key: str | None = None
    instrument: str | None = None
    reading: str | None = None
    tune: int | None = None


@dataclass(frozen=True, slots=True)
class ChartReply:
    """A chart as it was read.

    Attributes
    ----------
    sheet : LeadSheet
        As written, in the key and the player's pitch that were asked for.
    chart : Chart
        As played.
    player : Instrument
    interval : Interval
        From concert up to the sheet's pitch.
    notices : tuple of str
        What was not certain about the reading.
    """

    sheet: LeadSheet
    chart: Chart
    player: Instrument
    interval: Interval
    notices: tuple[str, ...]

    def written(self, notation: str) -> WrittenChart:
        """The chart in one of `NOTATIONS_WRITTEN`.

        Raises
        ------
        BriefError
        """
        return write_chart(self.sheet, notation, player=self.player, interval=self.interval)

    def words(self) -> tuple[str, ...]:
        """The sheet read aloud: key and metre, then each bar."""
        from halfstep.part.sheet_score import score_of_sheet
        from halfstep.score_words import spoken_score

        return spoken_score(score_of_sheet(self.sheet, self.player, interval=self.interval))

    def picture(self, suffix: str) -> FileContent:
        """The lead sheet as a file that ends in one of `PICTURE_SUFFIXES`."""
        from halfstep.lesson.lead_page import lead_page
        from halfstep.render.staff_page import staff_page_files

        page = lead_page(self.sheet, self.player, interval=self.interval)
        return FileContent(*staff_page_files(page, suffix))

    def _repr_html_(self) -> str:
        from halfstep.services.notebook import chart_html

        return chart_html(self.sheet, self.chart, self.notices)


@dataclass(frozen=True, slots=True)
class WrittenChart:
    """A chart as a text.

    Attributes
    ----------
    text : str
    losses : tuple of str
        What the notation cannot hold of it, in words; empty when nothing.
    """

    text: str
    losses: tuple[str, ...] = ()


def read_chart(request: ReadChart) -> ChartReply:
    """Read a chart.

    Raises
    ------
    ReadError
        When it cannot be read as a chart.
    BriefError
        When there is no such key or instrument.
    """
    sheet = sheet_of(request.chart, reading=request.reading, tune=request.tune)
    if request.key is not None:
        sheet = in_key(sheet, parse_key(request.key))
    player, interval = INSTRUMENTS["concert"], UNISON
    if request.instrument is not None:
        player = find_reader(request.instrument)
        sheet, interval = sheet_for(sheet, player)
    chart = chart_of(request.chart, sheet)
    style_of(None, None, chart)
    return ChartReply(sheet, chart, player, interval, reading_notices(sheet, chart))


NOTATIONS_WRITTEN = (*(n.name for n in NOTATIONS if n.write or n.name == "musicxml"), "json")
"""What a chart can be written in: MusicXML needs a staff, and JSON is our own data."""

PICTURE_SUFFIXES = (".pdf", ".svg", ".png")
"""How the file of a lead sheet may end."""


def suffixes_written() -> dict[str, str]:
    """The notation that each end of a file's name asks for."""
    known = {n.name: n.suffixes for n in NOTATIONS} | {"json": (".json",)}
    return {suffix: name for name in NOTATIONS_WRITTEN for suffix in known[name]}


def write_chart(
    sheet: LeadSheet,
    notation: str,
    *,
    player: Instrument = INSTRUMENTS["concert"],
    interval: Interval = UNISON,
) -> WrittenChart:
    """A sheet in another notation.

    Parameters
    ----------
    sheet : LeadSheet
        In written pitch.
    notation : str
        One of `NOTATIONS_WRITTEN`.
    player : Instrument
    interval : Interval
        From concert up to the sheet's written pitch.

    Raises
    ------
    BriefError
        When there is no such notation.
    """
    name = choice_of("notation", notation, NOTATIONS_WRITTEN)
    if name == "json":
        from halfstep.data.chart_json import chart_data
        from halfstep.data.documents import json_text

        return WrittenChart(json_text(chart_data(sheet)))
    if name == "musicxml":
        from halfstep.part.sheet_score import musicxml_losses, score_of_sheet
        from halfstep.render.musicxml_writer import musicxml_text

        score = score_of_sheet(sheet, player, interval=interval)
        return WrittenChart(musicxml_text(score), musicxml_losses(sheet))
    kind = next(n for n in NOTATIONS if n.name == name)
    assert kind.write
    return WrittenChart(kind.write(sheet), kind.losses(sheet) if kind.losses else ())
