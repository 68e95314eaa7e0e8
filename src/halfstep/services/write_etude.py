"""One step written over a chart for one player."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from halfstep.errors import BriefError
from halfstep.etude.ending_choice import none_added
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.etude_writer import write_etude
from halfstep.etude.offers import EVERY_NOTE, Impossible
from halfstep.etude.step import Step
from halfstep.etude.steps import find_step
from halfstep.etude.written_etude import Etude
from halfstep.harmony.analysis import Analysis, analyse
from halfstep.instruments import Compass, Instrument
from halfstep.lesson.manner import articulation_played, feel_played, tempo_played
from halfstep.level import Level
from halfstep.part.transposed_part import Part, part_for
from halfstep.render.print_setting import print_setting
from halfstep.services.band_fields import named_bank, style_of
from halfstep.services.etude_reply import EtudeReply
from halfstep.services.known_notes import known_pitches, notes_beyond, pitch_of_written
from halfstep.services.request_fields import (
    ChartSource,
    bars_of,
    chart_of,
    demand_seed,
    demand_tempo,
    feel_of,
    level_of,
    player_of,
    reading_notices,
    sheet_of,
)

if TYPE_CHECKING:
    from pathlib import Path


@dataclass(frozen=True, slots=True)
class WriteEtude:
    """A request for one etude.

    Attributes
    ----------
    chart : str, Path or LeadSheet
    step : str
        Its name, or the number of one of the thirteen.
    instrument : str or None
        Who plays it; None for concert pitch.
    level : str
    tempo_bpm : float or None
        Pulses a minute; None takes the chart's, or the level's.
    feel : str or None
        ``swing`` or ``straight``; None takes the chart's, or swing.
    known_notes : str or None
        The only written notes to use: ``G4 A4 Bb4``.
    low, high : str or None
        Written notes that the line stays between.
    seed : int
        Another number writes another line, the same one the same line.
    kept_bars : str or None
        Bars to keep of ``kept_from``: ``3,5-6``.
    kept_from : str, Path or None
        An etude stored as data: its text, or a file of it.
    ending : bool or None
        True ends at home, in a bar that is played the last time only, where the form leads
        back there; None does so for a chorus alone.
    degrees : bool
        Degrees under the notes.
    plain : bool
        No slurs, accents or signs of loudness: how it is tongued is left to its player.
    all_keys : bool
        Sheets of it are in all twelve keys; the line keeps to fewer notes, so that it can be
        moved.
    midi_band : bool
        Chords, bass and drums on tracks of their own in the MIDI.
    bank : Path or None
        A sound bank to play instead of the program's own, where the file is a sound.
    reading : str or None
    tune : int or None
    print_setting : str
        How large, how many bars on a line, on which tint: ``large``, ``9mm 3 bars cream``; empty
        for the usual. See `halfstep.render.print_setting`.
    """

    chart: ChartSource
    step: str
    instrument: str | None = None
    level: str = "intermediate"
    tempo_bpm: float | None = None
    feel: str | None = None
    known_notes: str | None = None
    low: str | None = None
    high: str | None = None
    seed: int = 1
    kept_bars: str | None = None
    kept_from: str | Path | None = None
    ending: bool | None = None
    degrees: bool = False
    plain: bool = False
    all_keys: bool = False
    midi_band: bool = False
    bank: Path | None = None
    reading: str | None = None
    tune: int | None = None
    print_setting: str = ""


class NoEtude(BriefError):
    """An etude cannot be written as it is asked for.

    Attributes
    ----------
    offer : WriteEtude or None
        The nearest request that works; None where none was found.
    """

    def __init__(self, message: str, offer: WriteEtude | None) -> None:
        super().__init__(message)
        self.offer = offer


def write_one_etude(request: WriteEtude) -> EtudeReply:
    """Write one etude.

    Raises
    ------
    ReadError
        When the chart cannot be read.
    NoEtude
        When no line keeps the rules; it may offer a request that works.
    BriefError
        When a field makes no sense.
    """
    level, player = level_of(request.level), player_of(request.instrument)
    step = _step(request)
    demand_tempo(request.tempo_bpm)
    demand_seed(request.seed)
    sheet = sheet_of(request.chart, reading=request.reading, tune=request.tune)
    chart = chart_of(request.chart, sheet)
    feel, style = feel_of(request.feel), style_of(None, request.feel, chart)
    bank = named_bank(request.bank)
    setting = print_setting(request.print_setting)
    analysis = analyse(chart, level=level)
    part = part_for(analysis, player)
    limits, limit_notices = _limits(request, player, level)
    known = None if request.known_notes is None else known_pitches(request.known_notes, player)
    known_notices = notes_beyond(known or (), player, level)
    pinned, kept_notices = _pinned(request, part)
    brief = Brief(
        player,
        level,
        tempo_played(chart, level, request.tempo_bpm),
        request.seed,
        limits,
        known=None if known is None else frozenset(pitch.midi for pitch in known),
        pinned=pinned,
        feel=feel_played(chart, style, feel),
        ending=request.ending,
        articulation=articulation_played(style, plain=request.plain),
    )
    try:
        etude = _written_line(step, analysis, brief, movable=request.all_keys)
    except Impossible as refused:
        raise NoEtude(refused.sentence(part), offered(request, refused, part)) from None
    notices = (
        *reading_notices(sheet, chart),
        *limit_notices,
        *known_notices,
        *kept_notices,
        *_no_ending(request, part),
        *(notice.sentence(part.symbol) for notice in etude.notices),
    )
    return EtudeReply(
        etude,
        part,
        style,
        request.degrees,
        notices,
        request.all_keys,
        request.midi_band,
        bank,
        setting,
    )


_LEAST_RANGE = 12
"""A line that is to be moved has an octave at least, or all its player's notes."""


def _written_line(step: Step, analysis: Analysis, brief: Brief, *, movable: bool) -> Etude:
    """The etude; a movable one in so few notes that it fits in any key, where it can be.

    Raises
    ------
    Impossible
    """
    low, high = brief.concert_low, brief.concert_high
    spare = min(11, high - low - _LEAST_RANGE)
    if not movable or spare <= 0:
        return write_etude(step, analysis, brief)
    narrow = replace(brief, limits=(low + spare // 2, high - (spare + 1) // 2))
    try:
        return replace(write_etude(step, analysis, narrow), brief=brief)
    except Impossible:
        return write_etude(step, analysis, brief)


def offered(request: WriteEtude, refused: Impossible, part: Part) -> WriteEtude | None:
    """The request with what is offered put in; None where nothing is."""
    offer, wanted = refused.offer, refused.wanted
    if offer is None:
        return None
    new, old = offer.brief, wanted.brief
    changed: dict[str, Any] = {}
    if offer.step != wanted.step:
        changed["step"] = offer.step.short_name
    if new.level != old.level:  # the level's own tempo would be another
        changed |= {"level": str(new.level), "tempo_bpm": old.tempo_bpm}
    if new.known is None and old.known is not None:
        changed["known_notes"] = None
    elif new.known != old.known:
        added = (note.ascii for note in refused.new_notes(part))
        changed["known_notes"] = " ".join([request.known_notes or "", *added])
    for field, low, high in zip(("low", "high"), new.limits, old.limits, strict=True):
        if low != high:
            changed[field] = refused.written(low, part).ascii
    return replace(request, **changed)


def _no_ending(request: WriteEtude, part: Part) -> tuple[str, ...]:
    """Why the chart gives no ending where one is asked for."""
    notice = none_added(part.analysis) if request.ending else None
    return (notice.sentence(part.symbol),) if notice else ()


# Fields of this request alone


def _step(request: WriteEtude) -> Step:
    try:
        return find_step(request.step)
    except BriefError as error:
        raise BriefError(f"`step`: {error}") from None


def _limits(
    request: WriteEtude, player: Instrument, level: Level
) -> tuple[tuple[int, int], tuple[str, ...]]:
    """Concert limits as MIDI numbers, and what should be said of them.

    Raises
    ------
    BriefError
        When they leave no note of the player's range.
    """
    if request.low is None and request.high is None:
        return EVERY_NOTE, ()
    compass = player.compass(level)
    whole = Compass(player.concert(compass.low), player.concert(compass.high))
    low = whole.low if request.low is None else pitch_of_written("low", request.low, player)
    high = whole.high if request.high is None else pitch_of_written("high", request.high, player)
    if low.midi > high.midi or low.midi > whole.high.midi or high.midi < whole.low.midi:
        raise BriefError(
            f"`low` {player.written(low)} and `high` {player.written(high)} leave no note; "
            f"{player.key} at level {level} has {compass}"
        )
    notices: tuple[str, ...] = ()
    if low.midi < whole.low.midi or high.midi > whole.high.midi:
        notices = (f"{player.key} at level {level} has {compass}; the line stays inside",)
    lowest = EVERY_NOTE[0] if request.low is None else low.midi
    highest = EVERY_NOTE[1] if request.high is None else high.midi
    return (lowest, highest), notices


def _pinned(request: WriteEtude, part: Part) -> tuple[tuple[EtudeNote, ...], tuple[str, ...]]:
    """The notes of the bars to keep, and what should be said of them."""
    if request.kept_bars is None and request.kept_from is None:
        return (), ()
    if request.kept_bars is None or request.kept_from is None:
        raise BriefError("`kept_bars` and `kept_from` go together: which bars, and of which etude")
    from halfstep.services.stored_bars import kept_notes

    bars = bars_of("kept_bars", request.kept_bars, part.analysis.chart)
    return kept_notes(request.kept_from, bars, part)
