"""What does a teacher who films say and play, and when? Notes to speak from, step by step.

From the analysis of a line come the tones of its chords, what changes between them and what to
listen for; from the times of its film (`halfstep.lesson.film_timeline`) when each of it comes. The
films of several steps stand one behind the other, each after the time that is kept for talking.

Conventions
-----------
- Times are seconds from the beginning of all; names are those that the player reads.
- Changes are told in the first chorus; later ones say what is done in them.

Sources: W3C WebVTT for the cues. What is worth saying of a step: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from halfstep.etude.explanation import explained
from halfstep.lesson.film_scenes import END_WORDS
from halfstep.lesson.film_timeline import FilmChord, FilmLine, FilmTimeline, film_timeline
from halfstep.lesson.film_words import chapters_text, clock, cues_text, film_chapters
from halfstep.part.change_words import told_change
from halfstep.part.transposed_part import Part
from halfstep.render.film_file import FilmChapter
from halfstep.render.order_paper import OrderCuePaper, OrderPaper, OrderStepPaper

MOST_CHANGES = 8
"""Changes that are named before a step is played; the others are met as they come."""
NOT_READ_OUT = (
    "Notes to speak from, in your own words; nothing here is meant to be read out. Times count the "
    "films one behind the other{talk}: where you cut otherwise, what follows moves."
)
TONES, _BETWEEN = "tones", " · "
PLAY_ALONG = "the same once more; whoever watches plays along"


@dataclass(frozen=True, slots=True)
class OrderCue:
    """Something to mind while the film runs.

    Attributes
    ----------
    start_s, end_s : float
    place : str
        ``bar 5``, ``chorus 2``.
    words : str
    """

    start_s: float
    end_s: float
    place: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderStep:
    """A step: what to say before it, and what to mind while it is played.

    Attributes
    ----------
    heading : str
    start_s, film_s, end_s : float
        When the talk begins, when the film, and when that ends.
    notes : tuple of (str, str)
        A word, and what there is to say.
    cues : tuple of OrderCue
    """

    heading: str
    start_s: float
    film_s: float
    end_s: float
    notes: tuple[tuple[str, str], ...]
    cues: tuple[OrderCue, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RunningOrder:
    """All steps in order.

    Attributes
    ----------
    title, facts : str
        The piece; who reads it, at which tempo.
    notes : tuple of (str, str)
        What there is to say of the chords, whatever is played over them.
    steps : tuple of OrderStep
    films : tuple of FilmTimeline
        One for each step.
    talk_s : float
        Kept for talking before each.
    """

    title: str
    facts: str
    notes: tuple[tuple[str, str], ...]
    steps: tuple[OrderStep, ...]
    films: tuple[FilmTimeline, ...]
    talk_s: float

    @property
    def length_s(self) -> float:
        """How long all of it is."""
        return self.steps[-1].end_s


def running_order(lines: Sequence[FilmLine], *, talk_s: float = 0.0) -> RunningOrder:
    """What is said and played of some lines over one chart, in order.

    Parameters
    ----------
    lines : sequence of FilmLine
    talk_s : float
        Kept for talking before each.
    """
    films = tuple(map(film_timeline, lines))
    steps: list[OrderStep] = []
    start_s = 0.0
    for line, film in zip(lines, films, strict=True):
        steps.append(_step(line, film, start_s, talk_s))
        start_s = steps[-1].end_s
    first = films[0]
    facts = " · ".join(filter(None, (first.reader, first.manner)))
    return RunningOrder(
        title=first.title,
        facts=facts,
        notes=tuple(_chord_notes(lines[0].part)),
        steps=tuple(steps),
        films=films,
        talk_s=talk_s,
    )


def _step(line: FilmLine, film: FilmTimeline, start_s: float, talk_s: float) -> OrderStep:
    film_s = start_s + talk_s
    return OrderStep(
        heading=film.heading,
        start_s=start_s,
        film_s=film_s,
        end_s=film_s + film.length_s,
        notes=tuple(_notes(line)),
        cues=tuple(_cues(film, film_s)),
    )


# Before it is played


def _notes(line: FilmLine) -> Iterator[tuple[str, str]]:
    yield "play", line.line.step.task
    if sentences := explained(line.line, line.part):
        yield "listen", " ".join(sentences)


def _chord_notes(part: Part) -> Iterator[tuple[str, str]]:
    if tones := _tones(part):
        yield TONES, tones
    if changes := _changes(part):
        yield "changes", changes


def _tones(part: Part) -> str:
    """The tones of each chord, once each."""
    chords = range(len(part.analysis.chords))
    rows = {str(part.symbol(n)): " ".join(map(str, part.names(n))) for n in chords}
    return _BETWEEN.join(f"{symbol}: {names}" for symbol, names in rows.items() if names)


def _changes(part: Part) -> str:
    """What changes from chord to chord, each pair once."""
    rows: dict[str, str] = {}
    for number in range(1, len(part.analysis.chords)):
        told = told_change(part, number)
        pair = f"{part.symbol(number - 1)} to {part.symbol(number)}"
        if told is not None and part.symbol(number - 1) != part.symbol(number):
            rows.setdefault(pair, told.printed)
    named = [f"{pair}: {moves}" for pair, moves in rows.items()]
    rest = len(named) - MOST_CHANGES
    more = [f"and {rest} more, named as they come"] if rest > 0 else []
    return "; ".join((*named[:MOST_CHANGES], *more))


# While it is played


def _cues(film: FilmTimeline, at_s: float) -> Iterator[OrderCue]:
    """The count-in, what changes in the first chorus, and what later ones are for."""
    if film.clicks:
        counted = " ".join(str(click.count) for click in film.clicks)
        yield OrderCue(at_s + film.sound_s, at_s + film.form_s, "count-in", counted)
    first = film.choruses[0]
    yield from _bar_cues(film, at_s, first.end_s)
    for chorus in film.choruses[1:]:
        tempo = f", ♩ = {chorus.tempo_bpm:g}" if chorus.tempo_bpm != first.tempo_bpm else ""
        times_s = at_s + chorus.start_s, at_s + chorus.end_s
        yield OrderCue(*times_s, f"chorus {chorus.number}", PLAY_ALONG + tempo)


def _bar_cues(film: FilmTimeline, at_s: float, end_s: float) -> Iterator[OrderCue]:
    """Each bar of the first chorus in which something changes."""
    for bar in (bar for bar in film.bars if bar.chorus == 1 and bar.start_s < end_s):
        inside = [chord for chord in film.chords if bar.start_s <= chord.start_s < bar.end_s]
        words = "; ".join(filter(None, map(_chord_words, inside)))
        if words:
            place = bar.label or f"bar {film.score.bars[bar.place].number}"
            yield OrderCue(at_s + bar.start_s, at_s + bar.end_s, place, words)


def _chord_words(chord: FilmChord) -> str:
    """What changes into a chord; nothing where no note goes anywhere."""
    return f"{chord.symbol}: {chord.change.printed}" if chord.change and chord.change.moves else ""


# As a page and as texts


def order_page(order: RunningOrder) -> OrderPaper:
    """The running order as it is printed."""
    talk = f", {order.talk_s:g} seconds of talk before each" if order.talk_s else ""
    return OrderPaper(
        title=f"{order.title}: running order",
        heading=order.title,
        facts=f"{order.facts} · {clock(order.length_s)} in all",
        note=NOT_READ_OUT.format(talk=talk),
        rows=tuple((w, _unbroken(text) if w == TONES else text) for w, text in order.notes),
        steps=tuple(
            OrderStepPaper(
                heading=step.heading,
                times=f"{clock(step.start_s)} to {clock(step.end_s)}",
                rows=step.notes,
                cues=tuple(
                    OrderCuePaper(clock(cue.start_s), cue.place, cue.words) for cue in step.cues
                ),
            )
            for step in order.steps
        ),
        care=END_WORDS,
    )


def _unbroken(text: str) -> str:
    """A text whose lines end between the chords that it lists."""
    return _BETWEEN.join(item.replace(" ", "\u00a0") for item in text.split(_BETWEEN))


def order_cues_text(order: RunningOrder) -> str:
    """What to say and to mind, with its times, as WebVTT."""
    return cues_text(_timed(order))


def _timed(order: RunningOrder) -> Iterator[tuple[float, float, str]]:
    for number, step in enumerate(order.steps):
        begins_s = step.cues[0].start_s if step.cues else step.end_s
        told = step.notes if number else (*order.notes, *step.notes)
        notes = "\n".join(f"{word}: {text}" for word, text in told)
        yield step.start_s, begins_s, f"{step.heading}\n{notes}"
        for cue in step.cues:
            yield cue.start_s, cue.end_s, f"{cue.place}: {cue.words}"


def description_text(order: RunningOrder) -> str:
    """A text to be pasted under a film: what it is, and its chapters with their times."""
    headings = " · ".join(step.heading for step in order.steps)
    chapters = chapters_text(tuple(_chapters(order)))
    return f"{order.title}\n{headings}\n{order.facts}\n\n{chapters}\n{END_WORDS}\n"


def _chapters(order: RunningOrder) -> Iterator[FilmChapter]:
    """A chapter a step; of one step alone those of its film."""
    if len(order.steps) > 1:
        yield from (FilmChapter(s.start_s, s.end_s, s.heading) for s in order.steps)
        return
    (step,), (film,) = order.steps, order.films
    if step.film_s > step.start_s:
        yield FilmChapter(step.start_s, step.film_s, step.heading)
    for chapter in film_chapters(film):
        start_s, end_s = step.film_s + chapter.start_s, step.film_s + chapter.end_s
        yield FilmChapter(start_s, end_s, chapter.title)
