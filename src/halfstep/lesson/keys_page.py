"""What stands on the sheet of one pattern in all twelve keys?

The line that was written over a chart, moved as it is from key to key by fourths, each time in
the octave that lies in the player's range. Where it fits in none it is written anew over the
moved chart; a key in which that cannot be done is left out and named.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from halfstep.etude.etude_writer import write_etude
from halfstep.etude.offers import Impossible
from halfstep.etude.written_etude import Etude
from halfstep.harmony.analysis import analyse
from halfstep.lesson.titles import key_read, page_manner
from halfstep.meter import Feel
from halfstep.part.etude_score import score_of
from halfstep.part.transposed_part import Part, part_for
from halfstep.part.transposition import interval_of_fifths, moved_to
from halfstep.pitch import UNISON, Interval, octaves_up
from halfstep.progression.key import Key
from halfstep.render.staff_page import StaffBlock, StaffPage
from halfstep.score import Score

KEYS = 12
_OCTAVES = range(-3, 4)


@dataclass(frozen=True, slots=True)
class KeyedLine:
    """The pattern in one key.

    Attributes
    ----------
    key : Key
        As the player reads it.
    concert : Key
    score : Score or None
        None where it cannot be played.
    moved : bool
        False where it had to be written anew.
    """

    key: Key
    concert: Key
    score: Score | None
    moved: bool = True


def keys_page(
    etude: Etude, part: Part, *, title: str, feel: Feel, degrees: bool
) -> tuple[StaffPage, tuple[str, ...]]:
    """The sheet, and what should be said of it.

    Parameters
    ----------
    etude : Etude
        As it is written in the key of its chart.
    part : Part
        How the player reads it.
    title : str
    feel : Feel
        How eighths are played.
    degrees : bool
        Degrees under the notes.
    """
    lines = [
        _keyed_line(etude, part, fourths, feel=feel, degrees=degrees) for fourths in range(KEYS)
    ]
    page = StaffPage(
        title=title,
        reader=part.instrument.label,
        facts=("in twelve keys, by fourths",),
        manner=page_manner(etude.analysis.chart.meter, etude.brief.tempo_bpm, feel),
        blocks=tuple(
            StaffBlock(line.score, key_read(line.key, line.concert)) for line in lines if line.score
        ),
        description=f"{title}, in {', '.join(str(line.key) for line in lines if line.score)}.",
    )
    return page, tuple(_notices(lines, part))


def _notices(lines: Sequence[KeyedLine], part: Part) -> Iterator[str]:
    anew = [str(line.key) for line in lines if line.score and not line.moved]
    lost = [str(line.key) for line in lines if not line.score]
    if anew:
        yield f"moved there, the line leaves the range; written anew in {', '.join(anew)}"
    if lost:
        yield f"no line keeps the rules for {part.instrument.key} in {', '.join(lost)}; left out"


# A key


def _keyed_line(etude: Etude, part: Part, fourths: int, *, feel: Feel, degrees: bool) -> KeyedLine:
    """The pattern so many fourths on, moved if it can be."""
    interval = by_fourths(part.analysis.home, fourths)
    octave = fitting_octave(etude, interval)
    if octave is not None:
        there = _moved_part(part, interval + octave)
        score = score_of(etude, there, title="", feel=feel, degrees=degrees)
        return KeyedLine(there.key, etude.analysis.home + interval, score)
    return _written_anew(etude, part, interval, feel=feel, degrees=degrees)


def by_fourths(home: Key, fourths: int) -> Interval:
    """From a key to one so many fourths on, with six flats or five sharps at most.

    >>> from halfstep.progression.key import parse_key
    >>> home = parse_key("C")
    >>> str(home + by_fourths(home, 7))
    'B major'
    """
    if fourths == 0:
        return UNISON
    return interval_of_fifths((home.fifths - fourths + 6) % 12 - 6 - home.fifths)


def fitting_octave(etude: Etude, interval: Interval) -> Interval | None:
    """The octaves by which a moved line lies in its player's notes; None where there are none.

    Of several those that move it least.
    """
    midis = {note.pitch.midi for note in etude.every_note if note.pitch}
    fitting = [
        octave
        for octave in _OCTAVES
        if all(etude.brief.has(midi + interval.semitones + 12 * octave) for midi in midis)
    ]
    if not fitting:
        return None
    return octaves_up(min(fitting, key=lambda octave: abs(interval.semitones + 12 * octave)))


def _moved_part(part: Part, interval: Interval) -> Part:
    """The part of a player who reads all that much higher."""
    return part_for(part.analysis, part.instrument._replace(rise=part.instrument.rise + interval))


def _written_anew(
    etude: Etude, part: Part, interval: Interval, *, feel: Feel, degrees: bool
) -> KeyedLine:
    """The step over the chart in another key."""
    concert = etude.analysis.home + interval
    chart = moved_to(replace(etude.analysis.chart, key=etude.analysis.home), concert)
    analysis = analyse(chart, level=etude.brief.level)
    there = part_for(analysis, part.instrument)
    try:
        line = write_etude(etude.step, analysis, replace(etude.brief, pinned=()))
    except Impossible:
        return KeyedLine(there.key, concert, None)
    score = score_of(line, there, title="", feel=feel, degrees=degrees)
    return KeyedLine(there.key, concert, score, moved=False)
