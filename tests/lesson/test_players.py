"""Players with levels and names of their own: whose files are whose, and what is in them."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.app_command import without_sound_and_pages
from halfstep.errors import BriefError
from halfstep.instruments import INSTRUMENTS
from halfstep.lesson.brief import LessonBrief, Player, file_stems
from halfstep.lesson.make import make_lesson
from halfstep.lesson.pages import handout_for, teacher_sheet
from halfstep.level import Level
from halfstep.services import make_lesson as service
from halfstep.services.make_lesson import MakeLesson, lesson_brief
from lesson.lesson_files import lesson_data
from lesson.moved_charts import CHARTS
from typed_charts import read_chart_text

CHART = "title: Stairs\n| Dm7 | G7 | Cmaj7 | A7 |"


def players_of(*texts: str, level: str = "intermediate") -> tuple[Player, ...]:
    return lesson_brief(MakeLesson(CHART, Path("out"), instruments=texts, level=level)).players


def test_a_player_has_the_level_of_the_lesson_or_one_of_their_own() -> None:
    alto, tenor, flute = players_of(
        "alto-sax:beginner:Ada Lind", "tenor-sax: Advanced", "flute::Bo: second year"
    )
    assert (alto.level, alto.name) == (Level.BEGINNER, "Ada Lind")
    assert (tenor.level, tenor.name) == (Level.ADVANCED, "")
    assert (flute.level, flute.name) == (Level.INTERMEDIATE, "Bo: second year")


def test_a_name_in_the_place_of_a_level_is_refused_with_the_way_to_write_it() -> None:
    with pytest.raises(BriefError, match=r"'Ada' is no level; .* before a name: flute::Ada$"):
        players_of("alto-sax:Ada")
    with pytest.raises(BriefError, match=r"'beginer' is no level; did you mean beginner\?"):
        players_of("alto-sax:beginer")


def test_the_same_player_twice_is_one() -> None:
    assert len(players_of("flute::Bo", "flute::Bo", "flute::Cy", "flute")) == 3


names = st.text(st.sampled_from("aÄ B/:.\\\0ß1"), max_size=6)


@given(st.lists(st.builds(Player, st.sampled_from(list(INSTRUMENTS.values())), name=names)))
def test_no_two_players_write_the_same_file(players: list[Player]) -> None:
    """Nor on a disk that takes small and capital letters for the same."""
    stems = file_stems(players)
    assert len({stem.casefold() for stem in stems}) == len(players)
    assert all(Path(stem).name == stem and stem.isprintable() for stem in stems)


@pytest.mark.slow
def test_two_players_of_an_instrument_have_their_own_files(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    without_sound_and_pages(monkeypatch)
    texts = ("alto-sax::Ada", "alto-sax:beginner:Bo", "flute")
    reply = service.make_lesson(MakeLesson(CHART, tmp_path, instruments=texts, steps="1"))
    files = {path.name for path in reply.files}
    stems = ("alto-sax-ada", "alto-sax-bo", "flute")
    assert {f"handout-{stem}.pdf" for stem in stems} < files
    assert {f"step-1-{stem}.mid" for stem in stems} < files
    assert len(files) == len(reply.files)
    players = lesson_data(tmp_path)["players"]
    assert [(p["file_stem"], p["level"], p["name"]) for p in players] == [
        ("alto-sax-ada", "intermediate", "Ada"),
        ("alto-sax-bo", "beginner", "Bo"),
        ("flute", "intermediate", None),
    ]


@pytest.mark.slow
def test_each_player_s_lines_keep_the_range_of_their_level_at_one_tempo() -> None:
    """A beginner on alto stays between written G4 and C6; the tempo is the lesson's."""
    alto = INSTRUMENTS["alto-sax"]
    players = (Player(alto, Level.BEGINNER, "Bo"), Player(alto, Level.ADVANCED, "Cy"))
    made = make_lesson(LessonBrief(read_chart_text(CHART), players))
    for lesson in made.players:
        compass = alto.compass(lesson.player.level)
        written = [lesson.part.pitch(note) for etude in lesson.etudes for note in etude.notes]
        assert all(pitch in compass for pitch in written if pitch)
        assert {etude.brief.tempo_bpm for etude in lesson.etudes} == {112.0}
    first, second = made.players
    assert first.etudes != second.etudes


def test_guide_tones_of_a_class_are_the_nearest_that_all_can_play() -> None:
    """A player with more range has a nearer one, and yet the line of the others."""
    request = MakeLesson(
        CHARTS["sharp keys"], Path(), instruments=("tenor-sax", "flute"), steps="guide-tones",
        key="F#m",
    )  # fmt: skip
    tenor, flute = (
        [note.pitch.midi % 12 for note in player.etudes[0].notes if note.pitch]
        for player in make_lesson(lesson_brief(request)).players
    )
    assert tenor == flute


@pytest.mark.slow
def test_names_and_levels_stand_on_the_sheets() -> None:
    players = (
        Player(INSTRUMENTS["alto-sax"], Level.BEGINNER, "Bo"),
        Player(INSTRUMENTS["flute"], Level.ADVANCED, "Dee"),
    )
    made = make_lesson(LessonBrief(read_chart_text(CHART), players))
    handout = handout_for(made, made.players[0])
    assert handout.player == "Alto saxophone · Bo"
    assert handout.facts.endswith(" · beginner")
    assert not handout.may_close
    sheet = teacher_sheet(made)
    assert sheet.facts.endswith("intermediate · concert pitch")
    assert sheet.chords[0].chord.root == "D"
    assert [line.partition(",")[0] for line in sheet.readers] == [
        "Alto saxophone · Bo: beginner",
        "Flute · Dee: advanced",
    ]
