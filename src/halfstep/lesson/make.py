"""A lesson worked out: analysis, band, and every step for every player. No files yet."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from halfstep.backing import BandEnding, band_ending, make_backing
from halfstep.backing.performance import band_performance, line_performance
from halfstep.errors import BriefError
from halfstep.etude.ending_choice import none_added
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_writer import octaves_apart, write_etude
from halfstep.etude.offers import Impossible
from halfstep.etude.run_notices import hurried_crossings, missing_tones
from halfstep.etude.teachers_line import exercise_of
from halfstep.etude.written_etude import Etude, ExerciseLine
from halfstep.harmony.analysis import Analysis, analyse
from halfstep.instruments import Instrument
from halfstep.lesson.brief import LessonBrief, Player
from halfstep.lesson.lead_in import LeadIn, lead_in
from halfstep.lesson.manner import articulation_played
from halfstep.lesson.played_line import parted, played_line
from halfstep.lesson.sections import Section, sections
from halfstep.level import Level
from halfstep.meter import Clock, Feel, clock_for, swing_ratio
from halfstep.part.transposed_part import Part, part_for
from halfstep.played import PlayedPart
from halfstep.progression.chart import Chart

LONGEST_CHORUS_S = 900.0
BLOCK = 4
"""Choruses of the band that differ before they come again."""
LONGEST_BLOCK_S = 600.0
"""A block that would last longer has fewer choruses."""

Progress = Callable[[str], None]
"""Told the name of each piece of work as it is done."""


@dataclass(frozen=True, slots=True)
class PlayerLesson:
    """What one player gets.

    Attributes
    ----------
    player : Player
    part : Part
    etudes : tuple of Etude
        In the order of the steps.
    example : ExerciseLine or None
        The teacher's own line.
    """

    player: Player
    part: Part
    etudes: tuple[Etude, ...]
    example: ExerciseLine | None = None

    @property
    def lines(self) -> tuple[ExerciseLine, ...]:
        """All that is played, in order."""
        return (self.example, *self.etudes) if self.example else self.etudes

    @property
    def instrument(self) -> Instrument:
        """What is played."""
        return self.player.instrument


@dataclass(frozen=True, slots=True)
class Lesson:
    """Everything a lesson holds.

    Attributes
    ----------
    brief : LessonBrief
    analysis : Analysis
    players : tuple of PlayerLesson
    band : tuple of PlayedPart
        Drums, bass and chords, a block of choruses.
    block : int
        How many these are.
    lead_in : LeadIn
        What precedes it.
    clock : Clock
    ending : BandEnding or None
        What the band plays behind the last chorus; None where no step has an ending.
    """

    brief: LessonBrief
    analysis: Analysis
    players: tuple[PlayerLesson, ...]
    band: tuple[PlayedPart, ...]
    block: int
    lead_in: LeadIn
    clock: Clock
    ending: BandEnding | None = None

    @property
    def performed_band(self) -> tuple[PlayedPart, ...]:
        """The band as it sounds: each player in a time of his own."""
        return self._performed(self.band)

    @property
    def performed_intro(self) -> tuple[PlayedPart, ...]:
        """What the band plays before the first chorus, as it sounds."""
        return self._performed(self.lead_in.intro)

    @property
    def performed_ending(self) -> tuple[PlayedPart, ...]:
        """What the band plays behind the last chorus, as it sounds; no parts where nothing."""
        return self._performed(self.ending.parts) if self.ending else ()

    def _performed(self, parts: tuple[PlayedPart, ...]) -> tuple[PlayedPart, ...]:
        if self.brief.exact_time:
            return parts
        return band_performance(
            parts,
            style=self.brief.band_style,
            clock=self.clock,
            meter=self.brief.chart.meter,
            seed=self.brief.seed,
        )

    def performed_line(self, etude: ExerciseLine) -> PlayedPart:
        """A line as it sounds over the band."""
        line = played_line(etude)
        if self.brief.exact_time:
            return parted(line)
        return line_performance(
            line,
            style=self.brief.band_style,
            clock=self.clock,
            meter=self.brief.chart.meter,
            seed=self.brief.seed,
        )

    def band_under(self, etude: ExerciseLine) -> tuple[PlayedPart, ...]:
        """The first chorus of the band, with the ending that the step has."""
        chorus = first_chorus(self.band, self.brief.chart.beats)
        return tuple(map(self.ending.after, chorus)) if self.ending and etude.ending else chorus

    @property
    def notices(self) -> tuple[str, ...]:
        """What was not certain about the reading of the chart."""
        chart = self.analysis.chart
        of_symbols = (
            notice for bar in chart.bars for chord in bar.chords for notice in chord.symbol.notices
        )
        together = (
            f"{', '.join(player.key for player in section.octaves)} have the same lines, in octaves"
            for _, section in self._sections()
            if len(section.octaves) > 1
        )
        return tuple(
            dict.fromkeys(
                (
                    *chart.notices,
                    *of_symbols,
                    *self._of_line(),
                    *self._no_ending(),
                    *together,
                    *self._alone(),
                )
            )
        )

    def _of_line(self) -> Iterator[str]:
        """How well the teacher's line spells the changes, and what was done to it."""
        line = self.brief.line
        if line is None:
            return
        yield f"your line: {line.measure}"
        yield from line.notices
        for lesson in self.players:
            for notice in lesson.example.notices if lesson.example else ():
                yield f"your line: {lesson.player.label}: {notice.text}"

    def _no_ending(self) -> Iterator[str]:
        """Why the chart gives no endings where they are asked for."""
        notice = none_added(self.analysis) if self.brief.ending else None
        if notice:
            yield notice.sentence(lambda chord: self.analysis.chords[chord].span.symbol)

    def _sections(self) -> Iterator[tuple[Level, Section]]:
        """Who may share lines, level by level."""
        for level, instruments in _by_level(_together(self.brief.players)).items():
            for section in sections(instruments, level):
                yield level, section

    def _alone(self) -> Iterator[str]:
        """Where a player of a section has a line that the others do not share."""
        of = {
            (lesson.instrument, lesson.player.level): lesson
            for lesson in self.players
            if lesson.player.known is None
        }
        for level, section in self._sections():
            keys = [(instrument, level) for instrument in section.octaves]
            together = [of[key] for key in keys if key in of]
            yield from _lines_alone(together[1:], together[0])


def make_lesson(brief: LessonBrief, *, progress: Progress = lambda _: None) -> Lesson:
    """Work out a lesson.

    Raises
    ------
    ReadError
        When the chart has no chords.
    BriefError
        When a step cannot be written for an instrument.
    """
    lesson_clock(brief)  # an endless chorus is refused before the work
    analysis = analyse(brief.chart, level=brief.level)
    progress("harmony")
    players = tuple(_player_lessons(brief, analysis, progress))
    lesson = lesson_with(brief, analysis, players)
    progress("band")
    return lesson


def _by_level(players: Iterable[Player]) -> dict[Level, list[Instrument]]:
    """The instruments at each level, each once."""
    instruments: dict[Level, list[Instrument]] = {}
    for player in players:
        at_level = instruments.setdefault(player.level, [])
        if player.instrument not in at_level:
            at_level.append(player.instrument)
    return instruments


def _player_lessons(
    brief: LessonBrief, analysis: Analysis, progress: Progress
) -> Iterator[PlayerLesson]:
    """Everybody's lines; players of one level may share them, but for who knows few notes."""
    lines: dict[tuple[Instrument, Level], tuple[Etude, ...]] = {}
    analyses = {brief.level: analysis}
    for player in brief.players:
        analyses.setdefault(player.level, analyse(brief.chart, level=player.level))
    for level, instruments in _by_level(_together(brief.players)).items():
        for section in sections(instruments, level):
            written = _lines(section, level, brief, analyses[level])
            lines |= {(instrument, level): etudes for instrument, etudes in written.items()}
    for player in brief.players:
        part = part_for(analyses[player.level], player.instrument)
        if player.known is None:
            etudes = lines[player.instrument, player.level]
        else:
            etudes = _lines_of_few(player, brief, analyses[player.level])
        yield PlayerLesson(player, part, etudes, _example(brief, player, analyses[player.level]))
        progress(f"lines for {player.instrument.key}")


def _together(players: Iterable[Player]) -> list[Player]:
    """Those who may share lines: each plays all notes of the level."""
    return [player for player in players if player.known is None]


def _lines_of_few(player: Player, brief: LessonBrief, analysis: Analysis) -> tuple[Etude, ...]:
    """The etudes of a player who knows few notes."""
    alone = Section(player.instrument, (0, 127), {player.instrument: 0})
    return _lines(alone, player.level, brief, analysis, player.known)[player.instrument]


def _example(brief: LessonBrief, player: Player, analysis: Analysis) -> ExerciseLine | None:
    """The teacher's line as a player reads it; None where there is none."""
    if brief.line is None:
        return None
    asked = Brief(
        player.instrument, player.level, brief.pulses_a_minute, brief.seed, feel=brief.eighths
    )
    return exercise_of(brief.line, analysis, asked)


def lesson_with(
    brief: LessonBrief, analysis: Analysis, players: Sequence[PlayerLesson], *, most: int = BLOCK
) -> Lesson:
    """A lesson of lines that are written already, with its band.

    Parameters
    ----------
    brief : LessonBrief
    analysis : Analysis
    players : sequence of PlayerLesson
    most : int
        How many choruses of the band are written, unless they would last too long.

    Raises
    ------
    BriefError
        When a chorus would last too long.
    """
    clock = lesson_clock(brief)
    block = block_choruses(clock.seconds(brief.chart.beats), most=min(most, brief.choruses or most))
    whole_band = make_backing(
        brief.chart,
        style=brief.band_style,
        seed=brief.seed,
        choruses=block,
        tempo_bpm=brief.pulses_a_minute,
    )
    band = tuple(part for part in whole_band if part.name not in brief.without)
    endings = (etude.ending for player in players for etude in player.etudes if etude.ending)
    ending = next(
        (band_ending(band, end.bar, end.start, style=brief.band_style) for end in endings), None
    )
    before = lead_in(
        brief.chart,
        style=brief.band_style,
        tempo_bpm=brief.pulses_a_minute,
        seed=brief.seed,
        bars=brief.count_in_bars,
        intro_bars=brief.intro_bars,
        band=whole_band,
    )
    return Lesson(brief, analysis, tuple(players), band, block, before, clock, ending)


def block_choruses(chorus_s: float, *, most: int = BLOCK) -> int:
    """How many choruses of so many seconds differ before they come again."""
    return max(1, min(most, int(LONGEST_BLOCK_S / chorus_s)))


def piece_clock(chart: Chart, feel: Feel, tempo_bpm: float) -> Clock:
    """The clock of a chart at a tempo in pulses a minute."""
    swing = swing_ratio(tempo_bpm) if feel is Feel.SWING else 1.0
    return clock_for(chart.meter, tempo_bpm, swing=swing)


def first_chorus(parts: Iterable[PlayedPart], beats: Fraction) -> tuple[PlayedPart, ...]:
    """Parts with their notes of the first chorus, which has so many beats."""
    return tuple(
        replace(part, notes=tuple(note for note in part.notes if note.onset < beats))
        for part in parts
    )


def lesson_clock(brief: LessonBrief) -> Clock:
    """The lesson's clock.

    Raises
    ------
    BriefError
        When a chorus would last longer than `LONGEST_CHORUS_S`.
    """
    clock = piece_clock(brief.chart, brief.eighths, brief.pulses_a_minute)
    chorus_s = clock.seconds(brief.chart.beats)
    if chorus_s > LONGEST_CHORUS_S:
        raise BriefError(
            f"one chorus would last {chorus_s / 60:.0f} minutes and a lesson holds "
            f"{LONGEST_CHORUS_S / 60:.0f}; use fewer bars or a faster tempo"
        )
    return clock


def _lines(
    section: Section,
    level: Level,
    brief: LessonBrief,
    analysis: Analysis,
    known: frozenset[int] | None = None,
) -> dict[Instrument, tuple[Etude, ...]]:
    """The etudes of players who read the same lines, octaves apart."""
    lead = Brief(
        section.leader,
        level,
        brief.pulses_a_minute,
        brief.seed,
        section.limits,
        known,
        feel=brief.eighths,
        ending=brief.ending,
        articulation=articulation_played(brief.style, plain=brief.plain),
    )
    try:
        written = [write_etude(step, analysis, lead) for step in brief.steps]
    except Impossible as refused:
        raise BriefError(refused.sentence(part_for(analysis, section.leader))) from None
    return {
        instrument: tuple(
            _line_for(etude, replace(lead, instrument=instrument, limits=(0, 127)), octaves)
            for etude in written
        )
        for instrument, octaves in section.octaves.items()
    }


def _line_for(shared: Etude, brief: Brief, octaves: int) -> Etude:
    """The shared line at a player's octave, or one of the player's own where that keeps more.

    Chords are written for each player alone.
    """
    if shared.step.in_chords:
        return write_etude(shared.step, shared.analysis, brief)
    moved = octaves_apart(shared, shared.step.brief_for(brief), octaves)
    if not _losses(moved):
        return moved
    try:
        alone = write_etude(shared.step, shared.analysis, brief)
    except Impossible:
        return moved
    return alone if _losses(alone) < _losses(moved) else moved


def _losses(etude: Etude) -> int:
    """What a shared range takes from a line: tones of the first arpeggio, and easy crossings."""
    crossings = len(hurried_crossings(etude.notes, etude.brief))
    if etude.step.name != "arpeggio":
        return crossings
    return crossings + len(missing_tones(etude.analysis, etude.notes))


def _lines_alone(players: Sequence[PlayerLesson], leader: PlayerLesson) -> Iterator[str]:
    """Which players of a section have lines of their own, and in which steps."""
    for player in players:
        pairs = zip(player.etudes, leader.etudes, strict=True)
        steps = [
            etude.step.short_name
            for etude, other in pairs
            if not etude.step.in_chords and _classes(etude) != _classes(other)
        ]
        if steps:
            yield (
                f"{player.instrument.key} has a line of its own in step {', '.join(steps)}: in a "
                "range for all it would lose tones of the chords or cross the break quickly"
            )


def _classes(etude: Etude) -> list[tuple[Fraction, int | None]]:
    """Onsets and pitch classes: the same for lines that are octaves apart."""
    return [(note.onset, note.pitch.midi % 12 if note.pitch else None) for note in etude.notes]
