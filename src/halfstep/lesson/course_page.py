"""What stands on the map of a course, in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from halfstep.course.course_skills import CoursePlayer, unit_keys
from halfstep.course.skill_map import Lane, Place, Standing, UnitStanding, unit_rows
from halfstep.course.unit import Course, CourseUnit, Measure, PassMark
from halfstep.course.written_keys import written_key
from halfstep.render.course_map import CourseMap, MapLane, MapUnit, UnitMark

STANDING_MARKS = {
    Standing.NOT_MET: UnitMark.EMPTY,
    Standing.BEGUN: UnitMark.HALF,
    Standing.KNOWN: UnitMark.FULL,
    Standing.DUE: UnitMark.RINGED,
}


def keys_in_words(unit: CourseUnit, player: CoursePlayer) -> str:
    """The keys of a unit in the order that a player meets them: ``C G F``, ``Am Em``.

    >>> from halfstep.course.course_folder import our_course
    >>> from halfstep.instruments import INSTRUMENTS
    >>> keys_in_words(our_course().units[0], CoursePlayer(INSTRUMENTS["alto-sax"]))
    'C G'
    """
    keys = (written_key(key, is_minor=unit.is_minor) for key in unit_keys(unit, player))
    return " ".join(f"{key.tonic}{'m' if key.minor else ''}" for key in keys)


_SHARE_WORDS = {
    Measure.CHANGES_ON_TIME: "of the changes heard on time",
    Measure.NOTES_RIGHT: "of the written notes right",
    Measure.ECHOED_RIGHT: "of an echo given back right",
    Measure.MOTIF_KEPT: "of the bars of a motif carry it on",
}
_COUNT_WORDS = {
    Measure.OLD_NOTES: ("old note kept in a chorus", "old notes kept in a chorus"),
    Measure.FORM_SLIPS: ("slip of the form", "slips of the form"),
    Measure.RESTARTS: ("fresh start in a chorus", "fresh starts in a chorus"),
    Measure.TIME_FAULTS: ("fault of time", "faults of time"),
    Measure.PHRASE_FAULTS: ("fault of phrasing", "faults of phrasing"),
}


def mark_in_words(mark: PassMark) -> str:
    """A mark as a reader sees it.

    >>> mark_in_words(PassMark(Measure.NOTES_RIGHT, at_least=0.85))
    '85 % of the written notes right'
    >>> mark_in_words(PassMark(Measure.FORM_SLIPS, at_most=0))
    'no slips of the form'
    """
    if mark.at_least is not None:
        return f"{100 * mark.at_least:.0f} % {_SHARE_WORDS[mark.measure]}"
    one, several = _COUNT_WORDS[mark.measure]
    most = mark.at_most or 0
    return f"at most {most:g} {one if most == 1 else several}" if most else f"no {several}"


def course_map(
    course: Course,
    player: CoursePlayer,
    standings: Sequence[UnitStanding] = (),
    student: str = "",
) -> CourseMap:
    """The map of a course as one player meets it."""
    by_name = {standing.unit.name: standing for standing in standings}
    numbers = {unit.name: number for number, unit in enumerate(course.units, 1)}
    units = {
        unit.name: _map_unit(unit, numbers, player, by_name.get(unit.name)) for unit in course.units
    }
    return CourseMap(
        title=f"{course.title}: {student}" if student else course.title,
        facts=" · ".join(_facts(course, player, standings)),
        rows=tuple(
            tuple(_map_place(place, units, numbers) for place in row) for row in unit_rows(course)
        ),
        legend=tuple((STANDING_MARKS[word], str(word)) for word in Standing) if standings else (),
        description=" ".join(_sentences(course, numbers, by_name)),
    )


def _map_place(
    place: Place, units: Mapping[str, MapUnit], numbers: Mapping[str, int]
) -> MapUnit | MapLane:
    return MapLane(numbers[place.need]) if isinstance(place, Lane) else units[place]


def _map_unit(
    unit: CourseUnit,
    numbers: Mapping[str, int],
    player: CoursePlayer,
    standing: UnitStanding | None,
) -> MapUnit:
    known = f"{standing.known} of {standing.skills} known" if standing else ""
    return MapUnit(
        number=numbers[unit.name],
        title=unit.title,
        after=tuple(numbers[need] for need in unit.needs if need in numbers),
        keys=keys_in_words(unit, player),
        tempo=f"{unit.start_bpm:g}–{unit.goal_bpm:g}",
        standing=f"{standing.standing}, {known}" if standing else "",
        mark=STANDING_MARKS[standing.standing] if standing else None,
    )


def _facts(
    course: Course, player: CoursePlayer, standings: Sequence[UnitStanding]
) -> Iterator[str]:
    yield f"{len(course.units)} units"
    yield f"keys as read by {player.instrument.label.lower()}"
    if player.level:
        yield f"{player.level} level"
    if standings:
        known = sum(standing.known for standing in standings)
        yield f"{known} of {sum(standing.skills for standing in standings)} skills known"


def _sentences(
    course: Course, numbers: Mapping[str, int], standings: Mapping[str, UnitStanding]
) -> Iterator[str]:
    """The map in words, for those who cannot see it."""
    for unit in course.units:
        after = ", ".join(str(numbers[need]) for need in unit.needs if need in numbers)
        words = [f"after {after}"] if after else ["a beginning"]
        if unit.name in standings:
            standing = standings[unit.name]
            words.append(f"{standing.standing}, {standing.known} of {standing.skills} known")
        yield f"{numbers[unit.name]}. {unit.title}: {'; '.join(words)}."
