"""In which order a player meets the keys.

Signatures are held against music21 (BSD); that easy keys have few accidentals and that methods
for bands begin in concert B flat: common practice, no source.
"""

from __future__ import annotations

from itertools import pairwise

import pytest
from music21 import key as key21

from halfstep.course.course_folder import our_course
from halfstep.course.course_skills import CoursePlayer, course_skills, unit_keys
from halfstep.course.written_keys import (
    KEYS,
    concert_key,
    key_of_written,
    key_order,
    written_key,
)
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level

players = pytest.mark.parametrize("name", INSTRUMENTS)


@pytest.mark.parametrize("is_minor", [False, True])
@pytest.mark.parametrize("number", KEYS)
def test_a_key_is_printed_with_the_fewest_accidentals(number: int, is_minor: bool) -> None:
    key = written_key(number, is_minor=is_minor)
    tonic = key.tonic.ascii.replace("b", "-")
    signature = key21.Key(tonic.lower() if is_minor else tonic).sharps
    assert signature == key.fifths
    assert abs(signature) <= 6
    assert key_of_written(key.tonic) == number


@players
@pytest.mark.parametrize("is_minor", [False, True])
def test_every_player_meets_every_key_once(name: str, is_minor: bool) -> None:
    for level in Level:
        order = key_order(INSTRUMENTS[name], level, is_minor=is_minor)
        assert sorted(order) == list(KEYS)


@players
def test_the_first_key_has_no_accidentals_and_the_last_ones_have_most(name: str) -> None:
    order = key_order(INSTRUMENTS[name], Level.BEGINNER)
    signs = [abs(written_key(key).fifths) for key in order]
    assert signs[0] == 0
    assert set(signs[-2:]) <= {5, 6}
    assert all(later >= earlier - 2 for earlier, later in pairwise(signs))


@players
def test_what_a_player_reads_sounds_a_transposition_lower(name: str) -> None:
    player = INSTRUMENTS[name]
    for number in KEYS:
        sounding = concert_key(number, player)
        written = (sounding.tonic.pitch_class + player.rise.semitones) % 12
        assert written == written_key(number).tonic.pitch_class


def test_players_who_blow_begin_near_the_band() -> None:
    assert [str(written_key(k).tonic) for k in key_order(INSTRUMENTS["trombone"], Level.BEGINNER)][
        :4
    ] == ["C", "F", "G", "B♭"]


def test_skills_come_unit_by_unit_key_by_key_step_by_step() -> None:
    course, alto = our_course(), CoursePlayer(INSTRUMENTS["alto-sax"])
    skills = course_skills(course, alto)
    assert len(skills) == len(set(skills)) == sum(u.keys * len(u.steps) for u in course.units)
    first = course.units[0]
    keys = unit_keys(first, alto)
    assert skills[: len(first.steps)] == tuple((first.name, s, keys[0]) for s in first.steps)
    assert skills[len(first.steps)] == (first.name, first.steps[0], keys[1])


@players
def test_a_students_level_may_take_the_place_of_the_units(name: str) -> None:
    player = INSTRUMENTS[name]
    for level in Level:
        for unit in our_course().units:
            order = key_order(player, level, is_minor=unit.is_minor)
            assert unit_keys(unit, CoursePlayer(player, level)) == order[: unit.keys]
