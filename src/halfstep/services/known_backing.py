"""What is known of a backing: where its bar 1 is, in which tempo, over which chords?

A file of the program says so itself, also after it was turned into another format, since
most converters keep a comment. One that lost it is known by its sound, where the file that it was
made from still lies in the lesson's folder.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from halfstep.errors import HalfstepError, TakeError
from halfstep.lesson.brief import BACKING
from halfstep.listen.first_reading import first_reading
from halfstep.listen.sound_print import SoundPrint, read_sound_print
from halfstep.meter import Feel
from halfstep.progression.bars_data import read_played_chart
from halfstep.progression.chart import Chart
from halfstep.render.sound_facts import SoundFacts, loop_start_s, sound_facts
from halfstep.render.sound_file import SOUND_FORMATS


@dataclass(frozen=True, slots=True)
class KnownBacking:
    """A backing, and what is known of it.

    Attributes
    ----------
    path : Path
    start_s : float or None
        Where in the file bar 1 begins; None where it does not say.
    chart : Chart or None
        What it was made for.
    quarters_a_minute : float or None
        None where it is not known, or rises.
    feel : Feel or None
    rising : tuple of float
        Where it rises, the tempo of each chorus in quarter notes a minute; else empty.
    sound_print : SoundPrint or None
        By which a take is known that does not hold it.
    """

    path: Path
    start_s: float | None = None
    chart: Chart | None = None
    quarters_a_minute: float | None = None
    feel: Feel | None = None
    rising: tuple[float, ...] = ()
    sound_print: SoundPrint | None = None


def known_backing(path: Path, folders: Sequence[Path]) -> KnownBacking:
    """What is known of a backing.

    Parameters
    ----------
    path : Path
    folders : sequence of Path
        Where the file may lie that it was made from.
    """
    backing = _by_its_own_word(path)
    if backing.start_s is not None:
        return backing
    return next(_by_its_sound(path, folders), backing)


def _by_its_own_word(path: Path) -> KnownBacking:
    try:
        start_s, facts = loop_start_s(path), sound_facts(path)
    except OSError:  # the ear says what is wrong with it
        return KnownBacking(path)
    return KnownBacking(path, start_s) if facts is None else _of_facts(path, start_s, facts)


def _of_facts(path: Path, start_s: float | None, facts: SoundFacts) -> KnownBacking:
    rising = tuple(_rising_tempi(facts))
    return KnownBacking(
        path,
        start_s,
        _chart_of_facts(facts),
        None if rising else facts.quarters_a_minute,
        Feel(facts.feel) if facts.feel in set(Feel) else None,
        rising,
        read_sound_print(facts.sound_print),
    )


def _rising_tempi(facts: SoundFacts) -> Iterator[float]:
    """Quarter notes a minute in each chorus of a backing that rises."""
    pulses = facts.tempi_bpm
    if len(pulses) > 1 and min(pulses) > 0:
        yield from (facts.quarters_a_minute * pulse / pulses[0] for pulse in pulses)


def _chart_of_facts(facts: SoundFacts) -> Chart | None:
    if facts.chart is None:
        return None
    try:
        return replace(read_played_chart(facts.chart), title=facts.title)
    except (HalfstepError, KeyError, TypeError, ValueError, ZeroDivisionError):
        return None


def _by_its_sound(path: Path, folders: Sequence[Path]) -> Iterator[KnownBacking]:
    """What backings of the program say that have the same sound."""
    for other in backings_in(folders, stems=(*dict.fromkeys((path.stem, BACKING)),)):
        if other.samefile(path):
            continue
        backing = _by_its_own_word(other)
        try:
            accompaniment = first_reading(path, other, backing.sound_print).accompaniment
        except TakeError:
            return
        if accompaniment and backing.start_s is not None and not accompaniment.place.modulo_s:
            start_s = accompaniment.place.delay_s + backing.start_s
            yield replace(backing, path=path, start_s=start_s, sound_print=None)


def backings_in(folders: Sequence[Path], stems: Sequence[str] = (BACKING,)) -> Iterator[Path]:
    """The backings in folders that the program wrote, which the end of their count-in tells."""
    names = [f"{stem}{form.suffix}" for stem in stems for form in SOUND_FORMATS.values()]
    return (path for folder in folders for name in names if _is_ours(path := folder / name))


def _is_ours(path: Path) -> bool:
    try:
        return path.is_file() and loop_start_s(path) is not None
    except OSError:  # not ours to read
        return False
