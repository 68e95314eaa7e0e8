"""A folder is written whole or not at all, and the same request gives the same bytes."""

from __future__ import annotations

from pathlib import Path

import pytest

from halfstep.data.lesson_json import lesson_data
from halfstep.errors import BriefError
from halfstep.etude.step import Step
from halfstep.etude.steps import STEPS, parse_steps
from halfstep.instruments import find_instrument
from halfstep.lesson import sound as lesson_sound
from halfstep.lesson.brief import LessonBrief, Player
from halfstep.lesson.make import Lesson, make_lesson
from halfstep.lesson.sound import backing_choruses
from halfstep.lesson.write import pieces_of_work, ready
from halfstep.services.make_lesson import MOST_PROCESSES, processes_for, write_lesson
from halfstep.workers import cores, workers_for
from lesson.lesson_files import SMALL, contents, names_in
from typed_charts import read_chart_text


def lesson(*instruments: str, steps: tuple[Step, ...] = parse_steps("1"), seed: int = 1) -> Lesson:
    """A lesson with a backing of one chorus: how long it is says nothing of how it is written."""
    players = tuple(Player(find_instrument(key)) for key in instruments or ("concert",))
    return make_lesson(LessonBrief(read_chart_text(SMALL), players, steps, seed=seed, choruses=1))


def everything(folder: Path) -> set[str]:
    """All names under a folder, hidden ones too."""
    return set(contents(folder))


@pytest.mark.slow
def test_one_player_has_sound_files_without_a_name(tmp_path: Path) -> None:
    files = write_lesson(lesson("flute", steps=parse_steps("1,3")), tmp_path / "out")
    assert names_in(tmp_path / "out") == {
        "handout-flute.pdf", "teacher.pdf", "step-1-flute.musicxml", "step-3-flute.musicxml",
        "step-1-flute.mid", "step-3-flute.mid", "step-1.m4a", "step-3.m4a",
        "backing.m4a", "lesson.json",
    }  # fmt: skip
    assert {path.name for path in files} == names_in(tmp_path / "out")
    assert everything(tmp_path) == {"out/", *(f"out/{path.name}" for path in files)}


@pytest.mark.slow
def test_the_same_request_gives_the_same_bytes(tmp_path: Path) -> None:
    for name in ("first", "second"):
        write_lesson(lesson("alto-sax", "trombone", steps=parse_steps("2")), tmp_path / name)
    assert contents(tmp_path / "first") == contents(tmp_path / "second")


@pytest.mark.slow
def test_several_processes_write_the_same_bytes(tmp_path: Path) -> None:
    made = lesson("alto-sax", "trombone", steps=parse_steps("1"))
    files = []
    for processes in (1, 2):
        with workers_for(processes, ready) as workers:
            folder = tmp_path / str(processes)
            files.append(write_lesson(made, folder, stems=True, workers=workers))
    assert contents(tmp_path / "1") == contents(tmp_path / "2")
    assert [path.name for path in files[0]] == [path.name for path in files[1]]


@pytest.mark.slow
def test_what_goes_wrong_in_another_process_leaves_nothing_behind(tmp_path: Path) -> None:
    made = lesson("alto-sax", "trombone")
    with workers_for(2, ready) as workers, pytest.raises(KeyError, match="a0"):
        write_lesson(made, tmp_path / "out", paper="a0", workers=workers)  # type: ignore[arg-type]
    assert everything(tmp_path) == set()


@pytest.mark.slow
def test_an_interruption_ends_other_processes_and_leaves_nothing_behind(tmp_path: Path) -> None:
    def stopped(_: str) -> None:
        raise KeyboardInterrupt

    made = lesson("trumpet", "flute")
    with pytest.raises(KeyboardInterrupt), workers_for(2, ready) as workers:
        write_lesson(made, tmp_path / "out", workers=workers, progress=stopped)
    assert everything(tmp_path) == set()


@pytest.mark.slow
def test_progress_is_told_as_often_where_several_write(tmp_path: Path) -> None:
    told: list[str] = []
    players = tuple(Player(find_instrument(key)) for key in ("flute", "trumpet"))
    brief = LessonBrief(read_chart_text(SMALL), players, parse_steps("1"), choruses=1)
    made = make_lesson(brief, progress=told.append)
    with workers_for(2, ready) as workers:
        write_lesson(made, tmp_path, workers=workers, progress=told.append)
    assert len(told) == pieces_of_work(2, 1)


@pytest.mark.parametrize(
    ("players", "steps", "most"), [(1, 13, 1), (2, 3, 1), (2, 13, 2), (12, 6, MOST_PROCESSES)]
)
def test_more_processes_are_started_where_it_pays(players: int, steps: int, most: int) -> None:
    keys = ("concert", "flute", "trumpet", "clarinet", "alto-sax", "tenor-sax")
    people = [Player(find_instrument(keys[n % 6]), name=str(n)) for n in range(players)]
    brief = LessonBrief(read_chart_text(SMALL), tuple(people), STEPS[:steps])
    assert processes_for(brief) == min(most, cores())


@pytest.mark.parametrize(
    ("steps", "parts", "sizes"), [(6, 1, [6]), (6, 2, [3, 3]), (6, 4, [1, 2, 1, 2]), (2, 5, [1, 1])]
)
def test_the_steps_of_a_player_are_parted_evenly(steps: int, parts: int, sizes: list[int]) -> None:
    pieces = lesson_sound.parted(range(steps), parts)
    assert [len(piece) for piece in pieces] == sizes
    assert [step for piece in pieces for step in piece] == list(range(steps))


def test_another_seed_writes_other_lines_on_the_same_chords() -> None:
    made = [lesson(steps=parse_steps("1,6"), seed=seed) for seed in (1, 2)]
    one, two = map(lesson_data, made)
    assert one["players"][0]["steps"] != two["players"][0]["steps"]
    assert one["analysis"] == two["analysis"]
    assert one["chart"] == two["chart"]


@pytest.mark.slow
def test_an_earlier_lesson_is_replaced_and_other_files_stay(tmp_path: Path) -> None:
    write_lesson(lesson(), tmp_path)
    before = contents(tmp_path)
    (tmp_path / "notes.txt").write_text("bring the blue folder")
    write_lesson(lesson(), tmp_path)
    assert contents(tmp_path) == {**before, "notes.txt": b"bring the blue folder"}


@pytest.mark.slow
def test_folders_on_the_way_are_made(tmp_path: Path) -> None:
    write_lesson(lesson(), tmp_path / "spring" / "week 3")
    assert "lesson.json" in names_in(tmp_path / "spring" / "week 3")


def failing(*_: object, **__: object) -> None:
    raise RuntimeError("the lamp went out")


WRITERS = (
    *(f"lesson.write.{name}" for name in ("write_handout", "write_musicxml", "line_midi")),
    "lesson.sound.write_sound",
    "services.make_lesson.lesson_data",
)


@pytest.mark.sampled
@pytest.mark.parametrize("writer", WRITERS)
def test_a_failure_half_way_leaves_nothing_behind(
    writer: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(f"halfstep.{writer}", failing)
    with pytest.raises(RuntimeError, match="the lamp went out"):
        write_lesson(lesson(), tmp_path / "new" / "out")
    assert everything(tmp_path) == set()


@pytest.mark.sampled
@pytest.mark.parametrize("writer", WRITERS)
def test_a_failure_half_way_leaves_an_earlier_lesson_as_it_was(
    writer: str, small_lesson: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    earlier = tmp_path / "out"
    earlier.mkdir()
    (earlier / "lesson.json").write_bytes((small_lesson / "lesson.json").read_bytes())
    before = contents(tmp_path)
    monkeypatch.setattr(f"halfstep.{writer}", failing)
    with pytest.raises(RuntimeError, match="the lamp went out"):
        write_lesson(lesson(), earlier)
    assert contents(tmp_path) == before


@pytest.mark.slow
def test_a_full_disk_is_said_in_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(lesson_sound, "write_sound", full)
    with pytest.raises(BriefError, match=r"cannot write to .*out: No space left on device"):
        write_lesson(lesson(), tmp_path / "out")
    assert everything(tmp_path) == set()


@pytest.mark.slow
def test_an_interruption_leaves_nothing_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stopped(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(lesson_sound, "write_sound", stopped)
    with pytest.raises(KeyboardInterrupt):
        write_lesson(lesson(), tmp_path / "out")
    assert everything(tmp_path) == set()


@pytest.mark.parametrize("out", ["taken", "taken/below", "taken/far/below"])
def test_a_file_where_a_folder_should_be_is_named(out: str, tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a list of songs")
    with pytest.raises(BriefError, match=r"taken is a file; give folder the name of a folder"):
        write_lesson(lesson(), tmp_path / out)
    assert everything(tmp_path) == {"taken"}


@pytest.mark.parametrize("out", ["x" * 300, "a/" + "x" * 300, "a/b/" + "x" * 300 + "/c"])
def test_a_name_too_long_leaves_no_folder_on_the_way(out: str, tmp_path: Path) -> None:
    with pytest.raises(BriefError, match=r"cannot write to .*: File name too long"):
        write_lesson(lesson(), tmp_path / out)
    assert everything(tmp_path) == set()


@pytest.mark.slow
def test_a_folder_in_the_place_of_a_file_stops_the_lesson_before_it_moves(tmp_path: Path) -> None:
    (tmp_path / "step-1.m4a").mkdir()
    (tmp_path / "backing.m4a").write_text("an old one")
    with pytest.raises(BriefError, match=r"step-1\.m4a is a folder; move it"):
        write_lesson(lesson(), tmp_path)
    assert contents(tmp_path) == {"step-1.m4a/": b"", "backing.m4a": b"an old one"}


@pytest.mark.slow
def test_progress_is_told_as_often_as_it_was_promised(tmp_path: Path) -> None:
    told: list[str] = []
    brief = LessonBrief(
        read_chart_text(SMALL), (Player(find_instrument("flute")),), parse_steps("1,2"), choruses=1
    )
    made = make_lesson(brief, progress=told.append)
    write_lesson(made, tmp_path, progress=told.append)
    assert len(told) == pieces_of_work(1, 2)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("bars", "tempo_bpm", "block", "choruses"),
    [(4, 112, 4, 8), (8, 60, 4, 4), (64, 60, 2, 2), (150, 40, 1, 1)],
)
def test_a_backing_is_whole_blocks_and_lasts_a_minute(
    bars: int, tempo_bpm: float, block: int, choruses: int
) -> None:
    """Sixteen beats at 112 a minute last 8.6 seconds, so eight choruses; long ones are fewer."""
    chart = read_chart_text(f"tempo: {tempo_bpm}\n| C6 |" + " % |" * (bars - 1))
    made = make_lesson(LessonBrief(chart, steps=parse_steps("1")))
    assert (made.block, backing_choruses(made)) == (block, choruses)
