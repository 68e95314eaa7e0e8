"""What stands on the pages of a take that was judged, and on its picture."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from halfstep.etude.written_etude import Etude
from halfstep.feedback.finding_signs import marked_staff, sign_shape, sign_word, signed
from halfstep.feedback.findings import FindingKind
from halfstep.feedback.heard_changes import HeardChange
from halfstep.feedback.judge import Feedback
from halfstep.feedback.next_things import NextThing
from halfstep.feedback.strengths import strength
from halfstep.feedback.take_staff import TakeStaff
from halfstep.harmony.chord_arrivals import ChangeVerdict
from halfstep.lesson.pages import CARE, line_legend
from halfstep.lesson.student_words import strength_words, thing_words
from halfstep.lesson.teacher_digest import DigestRow, TeacherDigest, teacher_digest
from halfstep.part.facts import manner_fact
from halfstep.part.places import bar_number
from halfstep.render.feedback_paper import (
    FeedbackPaper,
    PaperRow,
    PaperStrip,
    PaperThing,
    StripCell,
)
from halfstep.render.staff_page import StaffBlock, StaffPage
from halfstep.score import Score, SignShape

SIGN_MEANINGS = {
    SignShape.FULL: "the new chord is heard in time",
    SignShape.HALF: "it is heard, but late or early",
    SignShape.EMPTY: "it is not heard",
    SignShape.FRAMED: "something to mend",
    SignShape.DOTTED: "craft, or a plain fact",
}
"""What each shape on the staff means."""
WORD_MEANINGS = {
    FindingKind.OLD_NOTE_KEPT: "the old note → what it becomes",
    FindingKind.CHANGED: "what was played → what is written",
    FindingKind.RESTART: "each chord begun again from its root",
    FindingKind.APPROACH: "leads into a note from beside it",
    FindingKind.ENCLOSURE: "a note above and one below, before their goal",
    FindingKind.ANTICIPATION: "the new chord ahead of the band",
    FindingKind.BLUE_NOTE: "a note of the blues",
    FindingKind.FORM_SLIP: "in another bar than the band",
    FindingKind.OCTAVE: "in another octave than written",
    FindingKind.TRANSPOSITION: "read for another instrument",
    FindingKind.OFFSET: "most notes are behind or ahead of the beat",
    FindingKind.UNEVEN: "some notes early, some late",
    FindingKind.RUSHING: "the beat gets faster",
    FindingKind.DRAGGING: "the beat gets slower",
    FindingKind.STRAIGHT: "even eighths where the band swings",
    FindingKind.SWUNG: "swung eighths where the band plays even ones",
    FindingKind.SHARP: "too high",
    FindingKind.FLAT: "too low",
    FindingKind.MISSED: "a written note is missing",
    FindingKind.ADDED: "a note that is not written",
    FindingKind.LATE_NOTE: "one note late",
    FindingKind.LONG_PHRASE: "a long phrase begins",
    FindingKind.NO_REST: "hardly a rest in all of it",
    FindingKind.FEW_RHYTHMS: "nearly one rhythm in all of it",
    FindingKind.NARROW_RANGE: "all notes lie close together",
    FindingKind.REPEATED_FIGURE: "one idea comes again and again",
}
"""What a word on the staff says at length; squares are explained by their shape."""
TEACHER_LINES = ("Tone", "Story", "Interplay")
LEVELS = ("not yet", "now and then", "mostly", "all through")
TEACHER_NOTE = (
    "This is not a grade. The program hears notes and time; it does not hear tone, story or "
    "interplay. Where you hear it otherwise, you are right: your own words can stand on the "
    "student's page instead of these."
)
_STRIP_SIGNS = {
    ChangeVerdict.ON_TIME: SignShape.FULL,
    ChangeVerdict.LATE: SignShape.HALF,
    ChangeVerdict.EARLY: SignShape.HALF,
    ChangeVerdict.MISSED: SignShape.EMPTY,
    ChangeVerdict.NOTHING_DIFFERS: "=",
    ChangeVerdict.NOT_JUDGED: "?",
}
_STRIP_WORDS = {ChangeVerdict.LATE: " late", ChangeVerdict.EARLY: " early"}
STRIP_LEGEND = (
    "By bar: full square: heard in time; half filled: late or early; empty: missed; "
    "=: no note of the two scales differs; ?: not judged."
)


@dataclass(frozen=True, slots=True)
class PlayedNext:
    """A thing to do next with its etude as music.

    Attributes
    ----------
    thing : NextThing
    etude : str
        What is played: the step, and its bars.
    manner : str
    files : str
        Where it is to be heard.
    line : Etude
    score : Score
        The same on the player's staff.
    """

    thing: NextThing
    etude: str
    manner: str
    files: str
    line: Etude
    score: Score


def feedback_paper(
    feedback: Feedback,
    nexts: Sequence[PlayedNext],
    *,
    title: str,
    clearness: str = "",
    words: Sequence[str] = (),
) -> FeedbackPaper:
    """The pages of a take.

    Parameters
    ----------
    feedback : Feedback
    nexts : sequence of PlayedNext
    title : str
        Of the take.
    clearness : str
        How clearly the line tells its chords, in words.
    words : sequence of str
        The teacher's own, in the place of ours.
    """
    staff, digest = marked_staff(feedback, title=title), teacher_digest(feedback)
    return FeedbackPaper(
        title=feedback.take.chart.title or title,
        player=feedback.take.part.instrument.label,
        facts=" · ".join(_facts(feedback, title)),
        words=tuple(words),
        strength=strength_words(strength(feedback), feedback),
        things=tuple(_thing(item, feedback) for item in nexts),
        etude_legend=line_legend([item.line for item in nexts]),
        care=CARE,
        take_title="What you played",
        take=staff.score if feedback.take.notes else None,
        legend=tuple(_legend(feedback)),
        notes=(*_word_meanings(feedback, 99), *_notes(staff)),
        changes=f"{digest.changes} {clearness}".strip(),
        strip_legend=STRIP_LEGEND,
        passes=tuple(_passes(feedback)),
        mend=_rows(digest.mend),
        craft=_rows(digest.craft),
        doubts=digest.doubts,
        not_judged=digest.not_judged,
        teacher_lines=TEACHER_LINES,
        levels=LEVELS,
        teacher_note=TEACHER_NOTE,
    )


def feedback_picture(feedback: Feedback, *, title: str) -> StaffPage:
    """The take with its signs, as a picture."""
    staff = marked_staff(feedback, title=title)
    meanings = (f"{shape}: {text}" for shape, text in _legend(feedback))
    digest = teacher_digest(feedback)
    return StaffPage(
        title=feedback.take.chart.title or title,
        reader=feedback.take.part.instrument.label,
        facts=(title,),
        manner=take_manner(feedback),
        blocks=(StaffBlock(staff.score),),
        description=_in_words(digest),
        notes=(*_in_lines(meanings, 3), *_word_meanings(feedback, 3), *_notes(staff)),
        is_cut=True,
    )


def _in_lines(texts: Iterable[str], count: int) -> Iterator[str]:
    """Texts, so many to a line."""
    rows = list(texts)
    yield from (" · ".join(rows[n : n + count]) for n in range(0, len(rows), count))


def _word_meanings(feedback: Feedback, count: int) -> Iterator[str]:
    """What the words on the staff say, so many to a line."""
    words: dict[str, None] = {}
    for finding in signed(feedback.findings):
        if finding.kind in WORD_MEANINGS:
            word = "" if finding.note and finding.instead else f"{sign_word(finding)}: "
            words[f"{word}{WORD_MEANINGS[finding.kind]}"] = None
    yield from _in_lines(words, count)


def _in_words(digest: TeacherDigest) -> str:
    rows = (f"{row.title}: {'; '.join(row.places)}" for row in (*digest.mend, *digest.craft))
    return ". ".join((digest.changes.rstrip("."), *rows)) + "."


def _facts(feedback: Feedback, title: str) -> Iterator[str]:
    take = feedback.take
    yield title
    yield f"reads {take.part.key}"
    yield take_manner(feedback)
    passes = max((change.place.chorus for change in feedback.changes), default=1)
    yield f"{passes} time{'s' * (passes != 1)} through"


def take_manner(feedback: Feedback) -> str:
    """Tempo and feel of a take."""
    take = feedback.take
    pulses = 60 / take.clock.quarter_s / float(take.chart.meter.pulse_beats)
    return manner_fact(take.chart.meter, tempo_bpm=round(pulses, 1), manner=str(take.feel))


def _thing(item: PlayedNext, feedback: Feedback) -> PaperThing:
    words = thing_words(item.thing, feedback)
    return PaperThing(
        title=words.title,
        happened=words.happened,
        advice=words.advice,
        etude=item.etude,
        manner=item.manner,
        files=item.files,
        score=item.score,
    )


def _legend(feedback: Feedback) -> Iterator[tuple[SignShape, str]]:
    """The shapes that stand on the staff."""
    shapes = {sign_shape(finding) for finding in signed(feedback.findings)}
    yield from ((shape, text) for shape, text in SIGN_MEANINGS.items() if shape in shapes)


def _notes(staff: TakeStaff) -> Iterator[str]:
    yield "Notes stand where they were meant; swing and being late are not written."
    if staff.lost:
        some = "one note stands" if staff.lost == 1 else f"{staff.lost} notes stand"
        yield f"Too close to another to be written, {some} in the data alone."


def _passes(feedback: Feedback) -> Iterator[PaperStrip]:
    """The changes of each pass."""
    for chorus, changes in groupby(feedback.changes, key=lambda change: change.place.chorus):
        yield PaperStrip(f"pass {chorus}", tuple(_cell(feedback, change) for change in changes))


def _cell(feedback: Feedback, change: HeardChange) -> StripCell:
    bar = bar_number(feedback.take.chart.form[change.place.bar - 1])
    chord = feedback.take.part.symbol(change.chord)
    return StripCell(
        f"{bar} {chord}{_STRIP_WORDS.get(change.verdict, '')}", _STRIP_SIGNS[change.verdict]
    )


def _rows(rows: Sequence[DigestRow]) -> tuple[PaperRow, ...]:
    return tuple(PaperRow(row.title, row.places, row.sureness) for row in rows)
