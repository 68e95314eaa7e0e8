"""How are lines touched? Shares of slurs, accents and ghost notes, and of short eighths as heard.

Run ``python bench/touch.py [--seeds N]``. Written are choruses and lines of each level in swing,
even eighths and as a ballad, over progressions made up for this bench. Printed: what each level is
given, in hundredths of its notes; of pairs from an off-beat eighth into the beat how many are
slurred, and of notes after a leap how many are tongued; and how eighths sound, beside what was
counted on the solo tables of a jazz research project (MIT licence): clearly short, below .7 of the
way to the next note, are 7.9 % of those on the beat and 19.1 % of those off it, the median .88 and
.86.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import pairwise
from statistics import median

from halfstep.etude.steps import parse_steps
from halfstep.etude.touches import touches
from halfstep.etude.written_etude import Etude
from halfstep.instruments import INSTRUMENTS
from halfstep.lesson.brief import LessonBrief, Player
from halfstep.lesson.make import Lesson, make_lesson
from halfstep.level import Level
from halfstep.meter import EIGHTH, Feel
from halfstep.progression.chart import Chart
from halfstep.score import Mark
from halfstep.services.request_fields import chart_of, sheet_of

CHARTS = (
    "| Dm7 | G7 | Cmaj7 | A7 | Dm7 Bb7 | Am7 D7 | Gm7 C7 | Fmaj7 A7 |",
    "| Bb7 | Eb7 | Bb7 | Fm7 Bb7 | Eb7 | Edim7 | Bb7 | G7 | Cm7 | F7 | Bb7 G7 | Cm7 F7 |",
)
STEPS = "5,6,8,9,10,11,13"
MANNERS = (
    ("swing", Feel.SWING, 140.0),
    ("even", Feel.STRAIGHT, 130.0),
    ("ballad", Feel.SWING, 66.0),
)
MARKS = {
    "slurred on": Mark.SLUR, "accent": Mark.ACCENT, "ghost": Mark.GHOST, "short": Mark.STACCATO,
    "held": Mark.TENUTO, "scoop": Mark.SCOOP, "fall": Mark.FALL,
}  # fmt: skip
SHORT = 0.7
LEAP = 5


def lessons(level: Level, feel: Feel, tempo_bpm: float, seeds: int) -> Iterator[Lesson]:
    """Lessons of the steps that have lines."""
    for text in CHARTS:
        chart: Chart = chart_of(text, sheet_of(text, reading=None, tune=None))
        for seed in range(1, seeds + 1):
            yield make_lesson(
                LessonBrief(
                    chart,
                    (Player(INSTRUMENTS["alto-sax"], level),),
                    parse_steps(STEPS),
                    level,
                    tempo_bpm,
                    feel=feel,
                    seed=seed,
                )
            )


def count(etude: Etude, counts: Counter[str]) -> None:
    """The marks of a line, and how it goes into beats and over leaps."""
    pairs = list(zip(etude.every_note, touches(etude), strict=True))
    for note, touch in pairs:
        counts["notes"] += note.pitch is not None
        for name, mark in MARKS.items():
            counts[name] += mark in touch.marks
    for (one, touch), (other, _) in pairwise(pairs):
        if one.pitch is None or other.pitch is None or one.breath:
            continue
        slurred = Mark.SLUR in touch.marks
        if abs(one.pitch.midi - other.pitch.midi) >= LEAP:
            counts["leaps"] += 1
            counts["leaps tongued"] += not slurred
        elif one.beats == EIGHTH and other.onset % 1 == 0:
            counts["into beats"] += 1
            counts["into beats slurred"] += slurred


def sounding(lesson: Lesson, shares: dict[bool, list[float]]) -> None:
    """The part of the way to the next note that each eighth sounds, on the beat and off it."""
    for etude in lesson.players[0].lines:
        notes = lesson.performed_line(etude).notes
        for note, following in pairwise(notes):
            if note.beats != EIGHTH or following.onset != note.onset + EIGHTH:
                continue
            start_s, next_s = (lesson.clock.seconds(n.onset) + n.late_s for n in (note, following))
            end_s = lesson.clock.seconds(note.onset + note.beats) + note.late_s + note.longer_s
            shares[note.onset % 1 == 0].append((end_s - start_s) / (next_s - start_s))


def told(name: str, counts: Counter[str], shares: dict[bool, list[float]]) -> Sequence[str]:
    """The lines that are printed of a manner and a level."""
    notes = counts["notes"]
    marks = "  ".join(f"{mark} {100 * counts[mark] / notes:.1f}" for mark in MARKS)
    ways = [
        f"{part} {100 * counts[part] / max(1, counts[whole]):.0f} % of {counts[whole]}"
        for part, whole in (("into beats slurred", "into beats"), ("leaps tongued", "leaps"))
    ]
    sounds = [
        f"{where} the beat short {100 * sum(s < SHORT for s in heard) / len(heard):.1f} %, "
        f"median {median(heard):.2f}"
        for where, heard in (("on", shares[True]), ("off", shares[False]))
        if heard
    ]
    return (f"{name}: of {notes} notes, %: {marks}", *(f"    {t}" for t in (*ways, *sounds)))


def main() -> None:
    """Print it."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--seeds", type=int, default=4)
    seeds = parser.parse_args().seeds
    print("counted on solos: short 7.9 % on the beat, 19.1 % off it; medians .88 and .86")
    for manner, feel, tempo_bpm in MANNERS:
        for level in Level:
            counts: Counter[str] = Counter()
            shares: dict[bool, list[float]] = {True: [], False: []}
            for lesson in lessons(level, feel, tempo_bpm, seeds):
                for etude in lesson.players[0].etudes:
                    count(etude, counts)
                sounding(lesson, shares)
            print("\n".join(told(f"{manner}, {level}", counts, shares)))


if __name__ == "__main__":
    main()
