"""How does a backing become a file? The band of a piece, its time, its sound.

A backing is some choruses that differ, repeated. One that rises is laid out whole, each
chorus at a tempo of its own.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

from halfstep.backing import (
    BandEnding,
    band_ending,
    click_part,
    drone_part,
    make_backing,
)
from halfstep.backing.performance import band_performance
from halfstep.errors import BriefError
from halfstep.etude.ending_choice import bar_at_home, none_added
from halfstep.harmony.analysis import analyse
from halfstep.lesson.backing_brief import BackingBrief, BackingPiece
from halfstep.lesson.lead_in import LeadIn, lead_in
from halfstep.lesson.make import BLOCK, block_choruses, first_chorus, piece_clock
from halfstep.lesson.sound import chords_of, choruses_lasting, with_print
from halfstep.meter import Clock, Feel
from halfstep.played import PlayedNote, PlayedPart
from halfstep.progression.bars_data import played_chart_data
from halfstep.render.mixdown import BandSound, band_sound
from halfstep.render.sampler import FRAME_RATE
from halfstep.render.sound_facts import SoundFacts
from halfstep.render.sound_file import write_sound

LONGEST_S = 2 * 3600.0
"""The longest file, in seconds."""


@dataclass(frozen=True, slots=True)
class RisingClock(Clock):
    """A clock that takes another tempo with every chorus.

    Attributes
    ----------
    clocks : tuple of Clock
        One a chorus; the first counts in, the last goes on behind its chorus.
    beats : Fraction
        Of a chorus.
    """

    clocks: tuple[Clock, ...] = ()
    beats: Fraction = Fraction(0)

    def seconds(self, beat: Fraction | float) -> float:
        """When ``beat`` sounds, in seconds after beat 0."""
        chorus = min(max(0, int(beat // self.beats)), len(self.clocks) - 1)
        before_s = sum(clock.seconds(self.beats) for clock in self.clocks[:chorus])
        return before_s + self.clocks[chorus].seconds(beat - chorus * self.beats)


def backing_clock(brief: BackingBrief, piece: BackingPiece) -> Clock:
    """When the beats of a piece sound."""
    clocks = tuple(piece_clock(piece.chart, brief.style.feel, tempo) for tempo in piece.tempi)
    if len(clocks) == 1:
        return clocks[0]
    return RisingClock(
        clocks[0].beats_per_minute, clocks[0].swing, clocks, Fraction(piece.chart.beats)
    )


def choruses_of(brief: BackingBrief, piece: BackingPiece) -> int:
    """How many choruses a file has.

    Raises
    ------
    BriefError
        When it would be longer than `LONGEST_S`.
    """
    clock, beats = backing_clock(brief, piece), piece.chart.beats
    if len(piece.tempi) > 1:
        choruses = len(piece.tempi)
    else:
        chorus_s = clock.seconds(beats)
        choruses = brief.choruses or choruses_lasting(block_choruses(chorus_s), chorus_s)
    length_s = clock.seconds(choruses * beats)
    if length_s > LONGEST_S:
        raise BriefError(
            f"`choruses` {choruses} would last {length_s / 60:.0f} minutes; a file holds "
            f"{LONGEST_S / 60:.0f}"
        )
    return choruses


def backing_parts(brief: BackingBrief, piece: BackingPiece, choruses: int) -> Iterator[PlayedPart]:
    """Who plays in a piece, each in a time of his own, for some choruses that differ."""
    chart = piece.chart
    if brief.click or brief.drone:
        yield from _band_s_place(brief, piece, choruses)
        return
    parts = [
        part
        for part in make_backing(
            chart, style=brief.style, seed=brief.seed, choruses=choruses, tempo_bpm=piece.tempi[0]
        )
        if part.name not in brief.without
    ]
    if len(piece.tempi) == 1:
        yield from _performed(parts, brief, piece)
    else:
        yield from (_risen(part, brief, piece) for part in parts)


def _band_s_place(brief: BackingBrief, piece: BackingPiece, choruses: int) -> Iterator[PlayedPart]:
    """A click, a drone, or both."""
    if brief.click:
        yield click_part(piece.chart, choruses, tempo_bpm=max(piece.tempi))
    if brief.drone:
        yield drone_part(piece.chart, choruses, at_home=brief.drone == "home")


def _performed(
    parts: Sequence[PlayedPart], brief: BackingBrief, piece: BackingPiece
) -> tuple[PlayedPart, ...]:
    """Parts in the time of the first tempo, those of the band that is asked for."""
    parts = tuple(part for part in parts if part.name not in brief.without)
    if brief.exact_time:
        return parts
    return band_performance(
        parts,
        style=brief.style,
        clock=piece_clock(piece.chart, brief.style.feel, piece.tempi[0]),
        meter=piece.chart.meter,
        seed=brief.seed,
    )


def _risen(part: PlayedPart, brief: BackingBrief, piece: BackingPiece) -> PlayedPart:
    """A part whose every chorus is played in the time of its tempo."""
    if brief.exact_time:
        return part
    notes: list[PlayedNote] = []
    beats = piece.chart.beats
    for chorus, tempo_bpm in enumerate(piece.tempi):
        start = chorus * beats
        stretch = [n for n in part.notes if start <= n.onset < start + beats]
        (performed,) = band_performance(
            [replace(part, notes=tuple(_later(stretch, -start)))],
            style=brief.style,
            clock=piece_clock(piece.chart, brief.style.feel, tempo_bpm),
            meter=piece.chart.meter,
            seed=brief.seed + chorus,
        )
        notes += _later(performed.notes, start)
    return replace(part, notes=tuple(notes))


def _later(notes: Sequence[PlayedNote], beats: Fraction) -> Iterator[PlayedNote]:
    return (replace(note, onset=note.onset + beats) for note in notes)


def backing_sound(brief: BackingBrief, piece: BackingPiece) -> BandSound:
    """A piece as sound.

    Raises
    ------
    BriefError
        When it would be too long.
    """
    return _led_in_sound(brief, piece)[1]


def _led_in_sound(brief: BackingBrief, piece: BackingPiece) -> tuple[LeadIn, BandSound]:
    choruses = choruses_of(brief, piece)
    rising = len(piece.tempi) > 1
    chart = piece.chart
    clock = backing_clock(brief, piece)
    block = choruses
    if not rising:
        block = block_choruses(clock.seconds(chart.beats), most=min(BLOCK, choruses))
    parts = tuple(backing_parts(brief, piece, block))
    ending = _ending(brief, piece, parts)
    before = _lead_in(brief, piece, parts)
    return before, band_sound(
        parts,
        count_in=before.clicks,
        clock=clock,
        count_in_beats=before.beats,
        beats=chart.beats,
        block=block,
        choruses=choruses,
        intro=_performed(before.intro, brief, piece),
        ending=ending.parts if ending else (),
        ending_beats=ending.beats if ending else Fraction(0),
        stems=False,
        bank=brief.bank,
    )


def _lead_in(brief: BackingBrief, piece: BackingPiece, parts: Sequence[PlayedPart]) -> LeadIn:
    return lead_in(
        piece.chart,
        style=brief.style,
        tempo_bpm=piece.tempi[0],
        seed=brief.seed,
        bars=brief.count_in_bars,
        intro_bars=0 if brief.click or brief.drone else brief.intro_bars,
        band=parts,
    )


def _ending(
    brief: BackingBrief, piece: BackingPiece, parts: Sequence[PlayedPart]
) -> BandEnding | None:
    """What is played behind the last chorus; None where nothing is, or the form is at home."""
    if not brief.ending or brief.click or brief.drone:
        return None
    analysis = analyse(piece.chart)
    if none_added(analysis):
        return None
    chorus = first_chorus(parts, piece.chart.beats)
    return band_ending(chorus, bar_at_home(analysis), piece.chart.beats, style=brief.style)


def write_backing(brief: BackingBrief, piece: BackingPiece, path: Path) -> tuple[str, ...]:
    """Write one file in the format that its name ends in.

    Returns
    -------
    tuple of str
        Notices.

    Raises
    ------
    BriefError
        When it would be too long.
    """
    before, sound = _led_in_sound(brief, piece)
    samples = sound.tiled(sound.mix_once)
    write_sound(path, samples, with_print(_facts(brief, piece, sound, before), samples))
    return sound.notices


def _facts(
    brief: BackingBrief, piece: BackingPiece, sound: BandSound, before: LeadIn
) -> SoundFacts:
    chart = piece.chart
    return SoundFacts(
        title=chart.title,
        part="band",
        loop_frames=sound.loop,
        frame_rate=FRAME_RATE,
        choruses=sound.choruses,
        count_in_beats=str(before.beats),
        chords=chords_of(chart),
        meter=str(chart.meter),
        tempo_bpm=piece.tempi[0],
        quarters_a_minute=sound.plan.clock.beats_per_minute,
        swing_ratio=round(sound.plan.clock.swing, 3),
        style=brief.style.name,
        feel=str(brief.style.feel if chart.meter.swings else Feel.STRAIGHT),
        chart=played_chart_data(chart),
        tempi_bpm=piece.tempi if len(piece.tempi) > 1 else (),
    )
