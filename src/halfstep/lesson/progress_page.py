"""What stands on the page of a student's way, in words and numbers."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import date

from halfstep.course.skill import Skill
from halfstep.course.skill_map import Standing
from halfstep.course.unit import Course, CourseUnit
from halfstep.course.written_keys import KEYS, written_key
from halfstep.etude.steps import find_step
from halfstep.lesson.course_page import STANDING_MARKS
from halfstep.practice.progress import Progress
from halfstep.practice.syllabus import Syllabus
from halfstep.render.progress_picture import (
    KeyWedge,
    ProgressPicture,
    TempoRow,
    TimeBar,
    TimePoint,
    UnitRow,
)

MOST_TEMPI, MOST_UNITS, MOST_DISCS = 6, 12, 40
_KNOWN = {Standing.KNOWN, Standing.DUE}


def progress_picture(
    progress: Progress, syllabus: Syllabus, course: Course, *, reader: str
) -> ProgressPicture:
    """The page of a student's way."""
    tempi = tuple(_tempi(progress, syllabus, course))
    units = tuple(_units(progress, syllabus, course))
    points = tuple(TimePoint(_day(count.day), count.met, count.known) for count in progress.counts)
    bars = tuple(TimeBar(_day(week.monday), week.minutes) for week in progress.weeks)
    wedges = tuple(_wedges(progress, syllabus))
    more = len(units) - MOST_UNITS
    return ProgressPicture(
        title=f"The way so far: {reader}",
        facts=f"{_day(progress.day)} · {_known_words(progress, syllabus)}",
        points=points,
        bars=bars,
        wedges=wedges,
        tempi=tempi,
        units=units[-MOST_UNITS:],
        legend=tuple((STANDING_MARKS[standing], str(standing)) for standing in Standing),
        more=f"{more} units before these have no room here" if more > 0 else "",
        description=" ".join(_sentences(points, bars, wedges, tempi, units)),
    )


def _day(day: date) -> str:
    return f"{day.day} {day:%B %Y}"


def _known_words(progress: Progress, syllabus: Syllabus) -> str:
    known = sum(standing in _KNOWN for standing in progress.standings.values())
    return f"{known} skills known, {len(progress.standings)} met, {len(syllabus.rows)} in all"


def _wedges(progress: Progress, syllabus: Syllabus) -> Iterator[KeyWedge]:
    skills = Counter(row.skill.key for row in syllabus.rows)
    met = Counter(skill.key for skill in progress.standings)
    known = Counter(skill.key for skill, word in progress.standings.items() if word in _KNOWN)
    for key in KEYS:
        name = str(written_key(key).tonic)
        yield KeyWedge(name, key % 12, skills[key], met[key], known[key])


def _tempi(progress: Progress, syllabus: Syllabus, course: Course) -> Iterator[TempoRow]:
    """Of what was played last, the latest first."""
    latest = sorted(progress.tracks.items(), key=lambda item: item[1].last.at, reverse=True)
    for skill, track in latest[:MOST_TEMPI]:
        row = syllabus.rows[syllabus.places[skill]]
        yield TempoRow(
            _skill_words(skill, course), row.start_bpm, round(track.rung.tempo_bpm), row.goal_bpm
        )


def _skill_words(skill: Skill, course: Course) -> str:
    unit = course.unit(skill.unit)
    assert unit is not None
    step = find_step(skill.step).title.lower()
    return f"{unit.title}: {step}, {_key_name(skill, unit)}"


def _key_name(skill: Skill, unit: CourseUnit) -> str:
    return str(written_key(skill.key, is_minor=unit.is_minor))


def _units(progress: Progress, syllabus: Syllabus, course: Course) -> Iterator[UnitRow]:
    begun = {skill.unit for skill in progress.standings}
    for unit in course.units:
        if unit.name not in begun:
            continue
        skills = [row.skill for row in syllabus.rows if row.skill.unit == unit.name]
        words = [progress.standings.get(skill, Standing.NOT_MET) for skill in skills]
        known = sum(word in _KNOWN for word in words)
        yield UnitRow(
            unit.title,
            tuple(STANDING_MARKS[word] for word in words)[:MOST_DISCS],
            f"{known} of {len(skills)} known",
        )


def _sentences(
    points: tuple[TimePoint, ...],
    bars: tuple[TimeBar, ...],
    wedges: tuple[KeyWedge, ...],
    tempi: tuple[TempoRow, ...],
    units: tuple[UnitRow, ...],
) -> Iterator[str]:
    """The page in words, for those who cannot see it."""
    yield "Skills over time:"
    yield "; ".join(f"{p.label}: {p.met} met, {p.known} known" for p in points) + "."
    yield "Minutes a week, from Monday:"
    yield "; ".join(f"{bar.label}: {bar.minutes:.0f}" for bar in bars) + "."
    yield "Keys:"
    yield "; ".join(f"{w.label}: {w.known} of {w.skills} known" for w in wedges if w.skills) + "."
    for row in tempi:
        yield f"{row.label}: at {row.now_bpm:.0f}, from {row.start_bpm:.0f} to {row.goal_bpm:.0f}."
    for unit in units:
        yield f"{unit.label}: {unit.words}."
