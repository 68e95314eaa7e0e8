"""What stands on the page of a lead sheet, in the reader's written pitch?

The tune's own melody where the sheet has one; otherwise a slash for each beat under the
chord symbols. A melody moves by whole octaves where it would leave the reader's range.
"""

from __future__ import annotations

from dataclasses import replace

from halfstep.instruments import Instrument
from halfstep.lesson.titles import key_read, page_manner
from halfstep.level import Level
from halfstep.part.sheet_score import score_of_sheet
from halfstep.part.written_music import home_key_of
from halfstep.pitch import Interval, octaves_up
from halfstep.progression.sheet import LeadSheet
from halfstep.render.staff_page import StaffBlock, StaffPage
from halfstep.score import Score


def lead_page(sheet: LeadSheet, player: Instrument, *, interval: Interval) -> StaffPage:
    """The lead sheet of a chart.

    Parameters
    ----------
    sheet : LeadSheet
        In written pitch.
    player : Instrument
    interval : Interval
        From concert up to written.
    """
    sheet = within_range(sheet, player)
    score = score_of_sheet(sheet, player, interval=interval)
    return StaffPage(
        title=sheet.title,
        reader=player.label,
        facts=(key_fact(sheet, interval),),
        manner=page_manner(sheet.bars[0].meter, sheet.tempo_bpm, sheet.feel),
        blocks=(StaffBlock(_as_read(score, melody=sheet.has_melody)),),
        description=_in_words(sheet),
    )


def within_range(sheet: LeadSheet, player: Instrument) -> LeadSheet:
    """The melody in the octave that leaves the player's range least."""
    compass = player.compass(Level.INTERMEDIATE)
    midis = [note.pitch.midi for bar in sheet.bars for note in bar.notes]

    def outside(octaves: int) -> tuple[int, int]:
        moved = [midi + 12 * octaves for midi in midis]
        low, high = compass.low.midi, compass.high.midi
        return sum(max(low - midi, midi - high, 0) for midi in moved), abs(octaves)

    octaves = min(range(-3, 4), key=outside) if midis else 0
    return _by_octaves(sheet, octaves) if octaves else sheet


def _by_octaves(sheet: LeadSheet, octaves: int) -> LeadSheet:
    interval = octaves_up(octaves)
    bars = (
        bar._replace(notes=tuple(n._replace(pitch=n.pitch + interval) for n in bar.notes))
        for bar in sheet.bars
    )
    return replace(sheet, bars=tuple(bars))


def key_fact(sheet: LeadSheet, interval: Interval) -> str:
    """The written key, and the concert key where it is another."""
    written = home_key_of(sheet)
    return key_read(written, written + -interval)


def _as_read(score: Score, *, melody: bool) -> Score:
    """The score with slashes where it has no melody."""
    bars = (replace(bar, slashes=not melody) for bar in score.bars)
    return replace(score, bars=tuple(bars))


def _in_words(sheet: LeadSheet) -> str:
    """The chords of each bar, for those who cannot see the page."""
    bars = (
        f"{bar.number}: {' '.join(str(chord.symbol) for chord in bar.chords) or 'holds'}"
        for bar in sheet.bars
    )
    return f"{sheet.title}, bar by bar. {'; '.join(bars)}."
