"""What stands on the page of a take: the notes on the player's own staff, and facts about them.

Under a note stand its cents from the player's own tuning where the ear notices them, and a
question mark where the note is doubtful.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from halfstep.listen.heard_take import HeardNote
from halfstep.part.take_part import WrittenTake
from halfstep.part.take_score import written_score
from halfstep.render.staff_page import StaffBlock, StaffPage

DOUBTFUL = 0.7
"""Notes of less certainty are to be listened to again."""
_CENTS = 15
"""From here on a note is heard as out of tune (common practice, no source)."""


def take_page(written: WrittenTake, tempo_bpm: float, notices: Sequence[str]) -> StaffPage:
    """The take on a staff.

    Parameters
    ----------
    written : WrittenTake
    tempo_bpm : float
        Quarter notes a minute.
    notices : sequence of str
        What makes the take hard to hear.
    """
    score, left_out = written_score(written, tempo_bpm, text=text_under)
    _, count, *facts = take_facts(written)
    return StaffPage(
        title=written.title,
        reader=written.player.label,
        facts=(count,),
        manner=f"♩ = {tempo_bpm:g}",
        blocks=(StaffBlock(score),),
        description=_in_words(written),
        notes=(
            *([" · ".join(facts)] if facts else []),
            _legend(written),
            *(f"note: {notice.partition(';')[0]}" for notice in (*notices, *left_out)),
        ),
    )


def text_under(note: HeardNote) -> str:
    """What stands under a note of a take.

    >>> text_under(HeardNote(0, 1, 60, -22.4, -20, 0.5, 59.8))
    '−22?'
    """
    cents = signed(note.cents, "+d") if abs(note.cents) >= _CENTS else ""
    return cents + "?" * (note.certainty < DOUBTFUL)


def _backing_text(delay_s: float, modulo_s: float | None) -> str:
    """Where the backing lies.

    >>> _backing_text(0.12, None), _backing_text(12.5, None), _backing_text(-4.2, 8.0)
    ('backing 120 ms late', 'backing 12.50 s late', 'begins 4.20 s into the backing, or 8.00 s on')
    """
    if delay_s <= -1:
        place = f"begins {-delay_s:.2f} s into the backing"
    else:
        late = f"{1000 * delay_s:.0f} ms" if delay_s < 1 else f"{delay_s:.2f} s"
        place = f"backing {late} late"
    return place if modulo_s is None else f"{place}, or {modulo_s:.2f} s on"


def _legend(written: WrittenTake) -> str:
    start = "the first note" if written.form_s is None else "the form, after the count-in"
    return (
        "under a note: cents sharp or flat where it is heard, ? where the note is doubtful; "
        f"rounded to sixteenths, bar 1 begins with {start}"
    )


def _in_words(written: WrittenTake) -> str:
    names = (
        f"{clock_text(written.take.file_s(note.onset_s), 2)} {pitch}"
        for note, pitch in zip(written.take.notes, written.pitches(), strict=True)
    )
    return f"The notes that were heard: {'; '.join(names)}."


def clock_text(time_s: float, digits: int = 0) -> str:
    """A time as minutes and seconds.

    >>> clock_text(75), clock_text(75.26, 1)
    ('1:15', '1:15.3')
    """
    whole = round(time_s * 10**digits)
    minutes, rest = divmod(whole, 60 * 10**digits)
    width = 3 + digits if digits else 2
    return f"{minutes}:{rest / 10**digits:0{width}.{digits}f}"


def signed(figure: float, form: str = "d") -> str:
    """A whole number with a true minus sign."""
    return f"{round(figure):{form}}".replace("-", "−")


def take_facts(written: WrittenTake) -> Iterator[str]:
    """Who plays, how many notes, from where to where, tuning, and the backing."""
    take = written.take
    transposes = written.player.rise.semitones != 0
    yield f"{written.player.label}{', written pitch' if transposes else ''}"
    pitches = written.pitches()
    yield f"{len(pitches)} note{'s' * (len(pitches) != 1)} in {clock_text(take.length_s)}"
    if pitches:
        low, high = (end(pitches, key=lambda pitch: pitch.midi) for end in (min, max))
        yield f"{low} to {high}"
        hz = 440 * 2 ** (take.tuning_cents / 1200)
        yield f"tuned {signed(take.tuning_cents, '+d')} cents (A = {hz:.1f} Hz)"
    if take.delay_s is not None:
        yield _backing_text(take.delay_s, take.delay_modulo_s)
    if take.leak_db is not None:
        yield f"leaks in at {signed(take.leak_db)} dB"
