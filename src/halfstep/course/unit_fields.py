"""What may stand in each field of a unit's file? One row a field; rows tell what is wrong.

Source of the file's grammar: TOML 1.0.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from enum import StrEnum
from typing import Any, NamedTuple

from halfstep.course.unit import SHARES, Facet, Measure
from halfstep.errors import did_you_mean
from halfstep.level import Level
from halfstep.meter import FASTEST_BPM, SLOWEST_BPM

Row = Mapping[str, Any]
MOST_KEYS = 12
LEAST_PROGRESSIONS, MOST_PROGRESSIONS = 2, 4
_LONGEST_TEXT, _LONGEST_CHART = 600, 6000


class FieldRule(NamedTuple):
    """What a field holds.

    Attributes
    ----------
    wanted : str
        What it holds, in words.
    faults : callable
        What is wrong with a value, each in words.
    default : object
        What holds where it is left out; ``...`` where it may not be.
    """

    wanted: str
    faults: Callable[[Any], Iterator[str]]
    default: Any = ...


def row_faults(row: Row, rules: Mapping[str, FieldRule]) -> Iterator[str]:
    """What is wrong with a table: fields that are missing, unknown, or hold something else."""
    for field, rule in rules.items():
        if field not in row and rule.default is ...:
            yield f"`{field}` is missing; give {rule.wanted}"
    for field, value in row.items():
        if field not in rules:
            yield f"there is no field {field!r}{_meant(field, rules)}"
        else:
            yield from (f"`{field}` {fault}" for fault in rules[field].faults(value))


def row_values(row: Row, rules: Mapping[str, FieldRule]) -> dict[str, Any]:
    """The values of a table, those that are left out as they are then."""
    return {field: row.get(field, rule.default) for field, rule in rules.items()}


def _meant(field: str, rules: Iterable[str]) -> str:
    """The field that may have been meant, as it is typed."""
    known = (name.replace("_", "-") for name in rules)
    return did_you_mean(field, known).replace("-", "_")


def text_rule(wanted: str, *, longest: int = _LONGEST_TEXT) -> FieldRule:
    """The rule of a text."""

    def faults(value: Any) -> Iterator[str]:
        if not isinstance(value, str) or not value.strip():
            yield f"{_shown(value)}: give {wanted}"
        elif len(value) > longest:
            yield f"is longer than {longest} characters"

    return FieldRule(wanted, faults)


def number_rule(wanted: str, low: float, high: float, *, whole: bool = False) -> FieldRule:
    """The rule of a number from one to another."""

    def faults(value: Any) -> Iterator[str]:
        is_number = isinstance(value, int if whole else int | float) and value is not True
        if not is_number or value is False or not low <= value <= high:
            yield f"{_shown(value)}: give {wanted} from {low:g} to {high:g}"

    return FieldRule(f"{wanted} from {low:g} to {high:g}", faults)


Words = Callable[[], Sequence[str]]
"""A list of words, which is loaded where a value is held against it."""


def word_rule(wanted: str, known: Words) -> FieldRule:
    """The rule of one word of a list."""

    def faults(value: Any) -> Iterator[str]:
        words = known()
        if not isinstance(value, str) or value not in words:
            meant = did_you_mean(value, words) if isinstance(value, str) else ""
            yield f"{_shown(value)}{meant or f': choose {wanted} from {_listed(words)}'}"

    return FieldRule(wanted, faults)


def words_rule(wanted: str, known: Words | None, *, least: int = 1) -> FieldRule:
    """The rule of a list of words, each once; None knows any."""

    def faults(value: Any) -> Iterator[str]:
        if not isinstance(value, list) or not all(isinstance(word, str) for word in value):
            yield f"{_shown(value)}: give a list of {wanted}"
            return
        if len(value) < least:
            yield f"is empty; give {wanted}"
        for word in dict.fromkeys(word for word in value if value.count(word) > 1):
            yield f"has {word!r} twice"
        words = value if known is None else known()
        for word in (word for word in value if word not in words):
            meant = did_you_mean(word, words)
            yield f"{word!r}{meant or f': choose from {_listed(words)}'}"

    return FieldRule(wanted, faults)


def _truth(value: Any) -> Iterator[str]:
    if not isinstance(value, bool):
        yield f"{_shown(value)}: give true or false"


def _rows(rules: Mapping[str, FieldRule], wanted: str, least: int, most: int) -> FieldRule:
    """The rule of a list of tables."""

    def faults(value: Any) -> Iterator[str]:
        if not isinstance(value, list) or not all(isinstance(row, dict) for row in value):
            yield f"{_shown(value)}: give {wanted}"
            return
        if not least <= len(value) <= most:
            yield f"are {len(value)}; give {least} to {most}"
        for number, row in enumerate(value, 1):
            yield from (f"number {number}: {fault}" for fault in row_faults(row, rules))

    return FieldRule(wanted, faults)


def _shown(value: Any) -> str:
    text = repr(value)
    return text if len(text) <= 40 else f"{text[:39]}…"


def _listed(words: Iterable[str]) -> str:
    return ", ".join(words)


def _words(kind: type[StrEnum]) -> Words:
    return lambda: tuple(map(str, kind))


def _step_names() -> tuple[str, ...]:
    from halfstep.etude.steps import STEP_NAMES, VOCABULARY_NAMES

    return (*STEP_NAMES, *VOCABULARY_NAMES)


def _style_names() -> tuple[str, ...]:
    from halfstep.backing.styles import STYLES

    return tuple(style.name for style in STYLES)


PROGRESSION_FIELDS = {
    "title": text_rule("a name of your own"),
    "chart": text_rule("chords in bars, in C or C minor", longest=_LONGEST_CHART),
}

MOST_COUNTED = 99
MARK_FIELDS = {
    "measure": word_rule("a measure", _words(Measure)),
    "at_least": number_rule("a share", 0, 1)._replace(default=None),
    "at_most": number_rule("a number", 0, MOST_COUNTED)._replace(default=None),
}


def mark_faults(row: Row) -> Iterator[str]:
    """What is wrong with a mark whose fields are right: a share has a least, a count a most."""
    measure = Measure(row["measure"])
    limit, other = ("at_least", "at_most") if measure in SHARES else ("at_most", "at_least")
    if limit not in row or other in row:
        yield f"`measure` {measure}: give `{limit}` alone"


UNIT_FIELDS = {
    "title": text_rule("a title of a few words"),
    "goal": text_rule("what the student can do at its end, in one sentence"),
    "needs": words_rule("names of units", None, least=0),
    "level": word_rule("a level", _words(Level)),
    "minor": FieldRule("true or false", _truth, default=False),
    "steps": words_rule("names of steps, the easier first", _step_names),
    "keys": number_rule("a whole number", 1, MOST_KEYS, whole=True),
    "start_bpm": number_rule("pulses a minute", SLOWEST_BPM, FASTEST_BPM),
    "goal_bpm": number_rule("pulses a minute", SLOWEST_BPM, FASTEST_BPM),
    "style": word_rule("a style", _style_names),
    "facets": words_rule("what it serves", _words(Facet)),
    "advice": text_rule("what to say when it fails, in a sentence or two"),
    "progressions": _rows(
        PROGRESSION_FIELDS, "progressions with `title` and `chart`",
        LEAST_PROGRESSIONS, MOST_PROGRESSIONS,
    ),
    "marks": _rows(
        MARK_FIELDS, "marks with `measure` and `at_least` or `at_most`", 1, len(Measure)
    ),
}  # fmt: skip
"""The fields of a unit's file, in the order they are written in."""
