"""What is wrong with a course as a whole: its needs, its order, what it leaves out?"""

from __future__ import annotations

from collections.abc import Collection, Iterator

from halfstep.course.course_fault import CourseFault
from halfstep.course.unit import Course, CourseUnit, Facet
from halfstep.errors import did_you_mean


def course_faults(
    course: Course, *, own: Collection[str] | None = None, unread: Collection[str] = ()
) -> tuple[CourseFault, ...]:
    """All that is wrong with units that are right by themselves.

    Parameters
    ----------
    course : Course
    own : collection of str, optional
        The names of the units that are judged; all without.
    unread : collection of str
        Names of units that there are, and that could not be read.
    """
    units = [unit for unit in course.units if own is None or unit.name in own]
    faults = [fault for unit in units for fault in _need_faults(unit, course, unread)]
    faults += _title_faults(units)
    return (*faults, *(() if unread else _facet_faults(course)))


def _need_faults(
    unit: CourseUnit, course: Course, unread: Collection[str]
) -> Iterator[CourseFault]:
    names = [other.name for other in course.units]
    circle = circle_of(unit, course)
    if circle:
        text = f"`needs` go round in a circle: {' needs '.join(circle)}"
        yield CourseFault(_file(unit), text)
    for need in unit.needs:
        if need not in names:
            if need not in unread:
                meant = did_you_mean(need, (name for name in names if name != unit.name))
                yield CourseFault(_file(unit), f"`needs` {need!r}: there is no such unit{meant}")
        elif not circle and names.index(need) > names.index(unit.name):
            text = f"`needs` {need!r}, which comes after it; put it before {unit.name}"
            yield CourseFault(_file(unit), text)


def circle_of(unit: CourseUnit, course: Course) -> tuple[str, ...]:
    """The needs that lead from a unit back to itself, its name first and last; empty for none."""
    ways: list[tuple[str, ...]] = [(unit.name,)]
    seen: set[str] = set()
    for way in ways:
        last = course.unit(way[-1])
        for need in last.needs if last else ():
            if need == unit.name:
                return (*way, need)
            if need not in seen:
                seen.add(need)
                ways.append((*way, need))
    return ()


def _title_faults(units: Collection[CourseUnit]) -> Iterator[CourseFault]:
    first: dict[str, CourseUnit] = {}
    for unit in units:
        if other := first.get(unit.title):
            yield CourseFault(_file(unit), f"`title` {unit.title!r} is that of {other.name}, too")
        first.setdefault(unit.title, unit)


def _facet_faults(course: Course) -> Iterator[CourseFault]:
    served = {facet for unit in course.units for facet in unit.facets}
    for facet in Facet:
        if facet not in served:
            yield CourseFault("", f"no unit serves {facet}; name it among the `facets` of one")


def _file(unit: CourseUnit) -> str:
    return f"{unit.name}.toml"
