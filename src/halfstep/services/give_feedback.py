"""What is there to say of a take? It is heard, laid over what was meant, and judged."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from halfstep.course.course_folder import our_course
from halfstep.errors import BriefError
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.step import Step
from halfstep.etude.steps import find_step
from halfstep.etude.teachers_line import EXAMPLE
from halfstep.feedback.doubts import Doubt, doubts_of_hearing
from halfstep.feedback.form_places import FormPlaces, form_places
from halfstep.feedback.judge import Feedback, judge
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.take_clock import clocked_notes
from halfstep.harmony.analysis import analyse
from halfstep.level import Level
from halfstep.listen.known_errors import known_errors
from halfstep.meter import Feel
from halfstep.part.transposed_part import part_for
from halfstep.services.feedback_reply import FeedbackReply
from halfstep.services.hear_take import HearTake, Listening, listen
from halfstep.services.known_backing import KnownBacking
from halfstep.services.lesson_lines import LessonLine
from halfstep.services.request_fields import (
    ChartSource,
    Progress,
    level_of,
    no_progress,
    paper_of,
)
from halfstep.services.room_delay import NOT_JUDGED, RoomDelay
from halfstep.services.take_evidence import take_evidence
from halfstep.services.take_frame import TakeFrame
from halfstep.services.take_start import UNCLEAR_START, StartSource

if TYPE_CHECKING:
    pass

LONGEST_WORDS = 2500
"""Letters of a teacher's own words that fit on a page."""
_BLANK_LINE = re.compile(r"\n\s*\n")


@dataclass(frozen=True, slots=True)
class GiveFeedback:
    """A request to judge a recording.

    Attributes
    ----------
    take : Path
        One instrument alone: WAV, FLAC, MP3, M4A, OGG.
    chart : str, Path, LeadSheet or None
        What was played over; None takes the lesson's, or the etude's.
    backing : Path or None
        The backing it was played to; None looks for that of the lesson, or beside the take.
    tempo_bpm : float or None
        Pulses a minute; None takes the backing's, the lesson's, the chart's or the etude's.
    etude : Path, str or None
        The etude that was played, as data, in a file or as text; without it or a step the take is
        improvised.
    own_line : bool
        Over the chords of the etude a line of the player's own was played.
    lesson : Path or None
        The ``lesson.json`` that the take belongs to, or its folder.
    step : str or None
        The name or number of the step of that lesson that was played.
    instrument : str or None
        Who plays; None takes the etude's player, or concert pitch.
    level : str or None
        None takes the etude's, or intermediate.
    start_s : float or None
        Where in the recording bar 1 begins; None finds it, where that can be done.
    headphones : bool
        No backing is in the take.
    words : Path or None
        A text of the teacher's own words, which stand on the student's page in place of ours.
    paper : str
        ``a4`` or ``letter``.
    called : str or None
        What the take is called; None for the name of its file.
    about : str
        What the practice room knows of the take, as data; empty for one made elsewhere.
    band : str
        The etude whose band sounded in the room, as data, where it is another one than `etude`.
    early : Path or None
        The folder of what was heard of it while it was recorded, as `early_hearing` writes it.
    """

    take: Path
    chart: ChartSource | None = None
    backing: Path | None = None
    tempo_bpm: float | None = None
    etude: Path | str | None = None
    own_line: bool = False
    lesson: Path | None = None
    step: str | None = None
    instrument: str | None = None
    level: str | None = None
    start_s: float | None = None
    headphones: bool = False
    words: Path | None = None
    paper: str = "a4"
    called: str | None = None
    about: str = ""
    band: str = ""
    early: Path | None = None

    @property
    def hearing(self) -> HearTake:
        """The request to hear the take."""
        return HearTake(
            self.take,
            backing=self.backing,
            instrument=self.instrument,
            tempo_bpm=self.tempo_bpm,
            lesson=self.lesson,
            step=self.step,
            etude=self.etude,
            own_line=self.own_line,
            chart=self.chart,
            start_s=self.start_s,
            headphones=self.headphones,
            called=self.called,
            about=self.about,
            band=self.band,
            early=self.early,
        )


def give_feedback(request: GiveFeedback, *, progress: Progress = no_progress) -> FeedbackReply:
    """Judge a recording.

    Raises
    ------
    TakeError
        When there is no such file, or it cannot be heard.
    ReadError
        When the chart cannot be read.
    BriefError
        When too little is known to judge it by, or what is known does not go together.
    """
    level = None if request.level is None else level_of(request.level)
    paper = paper_of(request.paper)
    words = () if request.words is None else _paragraphs(request.words)
    listening = listen(request.hearing, demand=_demand_known, progress=progress)
    feedback = judge(_judged_take(listening, level))
    line = listening.frame.line
    step = _step_of(line) if line else None
    return FeedbackReply(
        feedback,
        listening.written,
        tuple(_notices(listening, feedback)),
        step,
        words,
        paper,
        take_evidence(feedback, step, our_course(), request.take, listening.frame.whole),
    )


def _step_of(line: LessonLine) -> Step | None:
    """The step that a line is; None for a teacher's own."""
    return None if line.step == EXAMPLE.name else find_step(line.step)


def _paragraphs(path: Path) -> tuple[str, ...]:
    """The paragraphs of a text.

    Raises
    ------
    BriefError
        When it cannot be read, or is too long for a page.
    """
    try:
        text = path.read_text("utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "it is no text in UTF-8"
        raise BriefError(f"`words` {path}: {reason}") from None
    if len(text) > LONGEST_WORDS:
        raise BriefError(
            f"`words` {path}: longer than a page; write {LONGEST_WORDS} letters or less"
        )
    paragraphs = (" ".join(paragraph.split()) for paragraph in _BLANK_LINE.split(text))
    return tuple(filter(None, paragraphs))


def _notices(listening: Listening, feedback: Feedback) -> Iterator[str]:
    """What should be said besides: of the take what stands in no finding, and of its frame."""
    reasons = {finding.reason for finding in feedback.findings}
    texts = (notice.text for notice in listening.written.take.notices)
    yield from (text for text in (*texts, *listening.notices) if text not in reasons)


def _demand_known(frame: TakeFrame, backing: KnownBacking | None) -> None:
    """Refuse what no take can be held against.

    Raises
    ------
    BriefError
    """
    if frame.chart is None:
        raise BriefError(
            "no chords are known to judge the take by; give `chart`, `etude`, or the `lesson` "
            "that it belongs to"
        )
    if all(chord.symbol.silent for bar in frame.chart.bars for chord in bar.chords):
        raise BriefError("`chart`: it has no chords")
    if backing is not None and frame.rising and frame.quarters_a_minute is not None:
        rising = replace(frame, quarters_a_minute=None).tempo_words
        name = backing.path.name
        raise BriefError(f"`backing` {name} rises from {rising}; leave `tempo_bpm` out")
    if not frame.is_timed and backing is not None:
        silent = f"`backing` {backing.path.name} does not say its own"
        raise BriefError(f"no tempo is known: {silent}; give `tempo_bpm`")
    if not frame.is_timed:
        raise BriefError("no tempo is known; give `tempo_bpm`, or the `backing` it was played to")


def _judged_take(listening: Listening, level: Level | None) -> JudgedTake:
    """The take under the chords of its chart."""
    frame, written = listening.frame, listening.written
    assert frame.chart is not None
    line = frame.line
    level = level or (Level(line.level) if line else Level.INTERMEDIATE)
    analysis = analyse(frame.chart, level=level)
    form, feel = form_places(analysis), frame.feel or Feel.SWING
    clock = listening.clock
    written_notes = _over_form(line.written, form) if line else ()
    return JudgedTake(
        notes=clocked_notes(written.take.notes, clock, form=form, feel=feel),
        end=clock.beats(written.take.length_s),
        clock=clock,
        part=part_for(analysis, written.player),
        form=form,
        level=level,
        feel=feel,
        line=tuple(note for note in written_notes if note.onset < form.beats),
        ending=tuple(note for note in written_notes if note.onset >= form.beats),
        ghosts=line.ghosts if line else frozenset(),
        errors=known_errors(written.player.key),
        doubts=tuple(_doubts(listening)),
    )


def _over_form(line: Sequence[EtudeNote], form: FormPlaces) -> tuple[EtudeNote, ...]:
    """A line that was stored, its notes over chords that the form has."""
    chords = range(len(form.chord_starts))
    return tuple(
        note if note.chord in chords else note._replace(chord=form.chord_at(float(note.onset)))
        for note in line
    )


def _doubts(listening: Listening) -> Iterator[Doubt]:
    """What stands against judging the take."""
    yield from doubts_of_hearing(listening.written.take)
    yield from (Doubt(text, is_total=False) for text in listening.corrections)
    if not listening.written.take.notes:
        return
    if listening.room is not None:
        yield from _doubts_of_room(listening.room)
    if listening.start.source is StartSource.NOTHING:
        yield Doubt(listening.start.notice or UNCLEAR_START)
    elif listening.start.source is StartSource.FILE:
        yield Doubt("the backing does not say where its bar 1 is; say it with `start_s`")


def _doubts_of_room(room: RoomDelay) -> Iterator[Doubt]:
    """What stands against judging time in a take of the practice room."""
    for jump in room.jumps:
        yield Doubt(f"{jump}: {NOT_JUDGED}, nor how steady", is_total=False)
    if room.reason and not room.jumps:
        yield Doubt(room.reason, is_total=False, lessens=False)
