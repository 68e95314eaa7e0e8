"""Is a chart kept, drawn while it is typed, explained at its bar lines, and told its faults?"""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from desks import Desk

from halfstep.app.demo import CHART
from halfstep.app.tasks.chart_tasks import kept_sheet
from halfstep.harmony.analysis import analyse
from halfstep.progression.form import played
from halfstep.school.kept_charts import KeptChart, find_chart
from halfstep.services.stored_requests import read_request, request_text
from halfstep.services.write_etude import WriteEtude, write_one_etude

SWAP = {"x-swap": "#drawn,#faults,#reasons"}
PATHS = ("/charts", "/charts/1", "/charts/1/remove")


def kept(desk: Desk, number: int = 1) -> KeptChart:
    with desk.school.reading() as connection:
        return find_chart(connection, number)


def begin(desk: Desk, text: str = CHART) -> None:
    answer = desk.teacher().post("/charts", data={"text": text})
    assert (answer.status_code, answer.headers["location"]) == (303, "/charts/1")


def part(html: str, name: str) -> str:
    """The words of a part of a page, tags left out."""
    whole = re.search(rf'<(\w+)[^>]* id="{name}".*?</\1>', html, re.DOTALL)
    assert whole, name
    return " ".join(re.sub(r"<[^>]+>", " ", whole[0]).split())


def test_an_empty_list_offers_a_chart_of_ours(desk: Desk) -> None:
    page = desk.teacher().get("/charts").text
    assert "Begin with Room Twelve" in page
    begin(desk)
    assert "Begin with Room Twelve" not in desk.teacher().get("/charts").text
    assert kept(desk).title == "Room Twelve"
    assert "title" not in kept(desk).text, "a title has a field of its own"


def test_a_title_stands_in_its_own_field(desk: Desk) -> None:
    begin(desk)
    text = f"title: Another\n{kept(desk).text}"
    page = desk.teacher().post("/charts/1", data={"title": "", "text": text}, headers=SWAP).text
    assert "the line “title:” is not read" in part(page, "drawn")
    assert kept(desk).title == "Through the changes"


def test_what_changes_stands_at_the_bar_line_and_is_said_in_words(desk: Desk) -> None:
    begin(desk, "key: F\nFmaj7 | Cm7 | F7 | F7 |")
    page = desk.teacher().get("/charts/1").text
    lines = re.findall(r'<span class="line left( changes)?">(.*?)</p>', page, re.DOTALL)
    assert [bool(changes) for changes, _ in lines] == [False, True, False, False]
    assert "E natural becomes E flat" in lines[1][1]
    assert re.search(r'class="old">E♮</span><span class="new">E♭<', lines[1][1])


def test_the_chart_is_drawn_before_it_is_kept(desk: Desk) -> None:
    answer = desk.teacher().post("/charts/drawn", data={"text": "Dm7 | G7 |"}, headers=SWAP)
    assert answer.status_code == 200
    assert "G7" in part(answer.text, "drawn")
    assert "Begin with Room Twelve" in answer.text, "nothing is kept yet"


def test_every_fault_is_told_at_its_place_and_nothing_typed_is_lost(desk: Desk) -> None:
    begin(desk)
    text = "| Dm7 | Gxx7 |\n| {?} C | 💥 |"
    answer = desk.teacher().post("/charts/1", data={"title": "Two", "text": text})
    assert answer.status_code == 422
    places = re.findall(r"line (\d+), column (\d+):", answer.text)
    assert places == [("1", "9"), ("2", "3"), ("2", "11")]
    assert re.findall(r"<mark>(.*?)</mark>", answer.text) == ["Gxx7", "{?}", "💥"]
    assert "| Dm7 | Gxx7 |\n| {?} C | 💥 |</textarea>" in answer.text
    assert kept(desk).title == "Room Twelve", "what cannot be read changes nothing"


def test_a_scale_that_is_chosen_stays(desk: Desk) -> None:
    """It is said to be the teacher's choice, what changes follows, and so does the lesson."""
    begin(desk)
    teacher = desk.teacher()
    answer = teacher.post("/charts/1/scales", data={"scale": "2 altered"}, headers=SWAP)
    assert "your choice" in answer.text
    assert kept(desk).scales == "2 altered"
    chords = analyse(played(kept_sheet(kept(desk)))).chords
    assert [str(chord.scale) for chord in chords[:2]] == ["D Dorian", "G altered"]
    text = kept(desk).text.replace("| Dm7 | G7 |", "| Am7 | Dm7 | G7 |")
    teacher.post("/charts/1", data={"title": "Room", "text": text})
    assert kept(desk).scales == "3 altered", "a bar was put before it"
    teacher.post("/charts/1/scales", data={"scale": "3"})
    assert kept(desk).scales == ""


def test_lines_are_written_in_the_scale_that_is_chosen(desk: Desk) -> None:
    """Also when the request was stored; and where none is chosen nothing is another."""
    begin(desk)
    plain = WriteEtude(kept_sheet(kept(desk)), "scale", "flute")
    typed = replace(plain, chart=CHART)
    assert write_one_etude(plain).file(".json") == write_one_etude(typed).file(".json")
    desk.teacher().post("/charts/1/scales", data={"scale": "2 altered"})
    request = read_request(request_text(replace(plain, chart=kept_sheet(kept(desk)))))
    assert isinstance(request, WriteEtude)
    reply = write_one_etude(request)
    assert str(reply.part.scale(1)) == "G altered"
    sounding = reply.part.analysis.chords[1].scale.pitch_classes
    notes = {n.pitch.midi % 12 for n in reply.etude.notes if n.chord == 1 and n.pitch}
    assert len(notes) >= 4
    assert notes <= sounding


def test_what_was_typed_meanwhile_is_kept_with_a_scale(desk: Desk) -> None:
    """And the scale stays over the chord that it was chosen for."""
    begin(desk, "| Dm7 | G7 |")
    data = {"scale": "2 altered", "title": "New", "text": "| Am7 | Dm7 | G7 |"}
    answer = desk.teacher().post("/charts/1/scales", data={**data, "instrument": "flute"})
    assert answer.headers["location"] == "/charts/1?instrument=flute"
    assert (kept(desk).title, kept(desk).scales) == ("New", "3 altered")
    data = {"scale": "3 Lydian dominant", "title": "New", "text": "| Am7 | Xx |"}
    answer = desk.teacher().post("/charts/1/scales", data=data)
    assert answer.status_code == 422
    assert "| Am7 | Xx |</textarea>" in answer.text
    assert kept(desk).scales == "3 Lydian dominant"


@pytest.mark.slow
def test_a_state_that_was_overtaken_on_its_way_is_not_kept(desk: Desk) -> None:
    begin(desk)
    for turn, text in (("page-1", "| C |"), ("page-3", "| C | F |"), ("page-2", "| C | |")):
        desk.teacher().post("/charts/1", data={"title": "T", "text": text, "turn": turn})
    assert kept(desk).text == "| C | F |"
    for turn in ("other-1", "", "odd", "-5", "page-x"):
        desk.teacher().post("/charts/1", data={"title": "T", "text": "| G |", "turn": turn})
        assert kept(desk).text == "| G |"
        desk.teacher().post("/charts/1", data={"title": "T", "text": "| F |"})


@pytest.mark.parametrize("scale", ["", "2", "2 purple", "99 altered", "2:9 altered", "x altered"])
def test_a_scale_that_is_none_changes_nothing(desk: Desk, scale: str) -> None:
    begin(desk)
    answer = desk.teacher().post("/charts/1/scales", data={"scale": scale})
    assert answer.status_code in {303, 422}
    assert kept(desk).scales == ""
    assert answer.status_code == 303 or answer.text.count("Not yet") == 1


def test_the_chart_is_written_for_who_reads_it(desk: Desk) -> None:
    begin(desk)
    page = desk.teacher().get("/charts/1?instrument=alto-sax&level=beginner").text
    assert "Alto saxophone" in part(page, "drawn")
    assert "Bm7" in part(page, "drawn")


@pytest.mark.slow
def test_the_text_of_a_file_says_what_its_reader_was_not_certain_of(desk: Desk) -> None:
    file = ("old.txt", "title: Caf\xe9\n| Dm7 | G7 |\n".encode("latin-1"))
    answer = desk.teacher().post("/charts", files={"file": file})
    number = int(answer.headers["location"].rpartition("/")[2])
    assert kept(desk, number).text.startswith("# the file is not UTF-8; read as Latin-1\n")


ABC = b"""X:1
T:Three Bars
M:3/4
L:1/4
K:G
"G"G A B|"D7"A F D|"G"G3|]
"""


def test_a_file_keeps_what_a_line_of_text_cannot_hold(desk: Desk) -> None:
    """Its melody; a copy as text can be changed."""
    answer = desk.teacher().post("/charts", files={"file": ("three.abc", ABC)})
    assert answer.headers["location"] == "/charts/1"
    assert kept_sheet(kept(desk)).has_melody
    page = desk.teacher().get("/charts/1").text
    assert "holds what a line of text cannot" in page
    assert "cannot hold: the melody" in page
    desk.teacher().post("/charts/1", data={"title": "Another", "text": "| C |"})
    assert kept_sheet(kept(desk)).title == "Another"
    assert kept_sheet(kept(desk)).has_melody, "its text is not to be changed"
    desk.teacher().post("/charts/1/copy")
    assert not kept(desk, 2).sheet
    assert [c.symbol.ascii for bar in kept_sheet(kept(desk, 2)).bars for c in bar.chords] == [
        "G",
        "D7",
        "G",
    ]


@pytest.mark.parametrize(
    "text",
    [
        "",
        " \n\t",
        "\0",
        "| Dm7 \0 | G7 |",
        "🎷🎶",
        "אקורד",
        "| \u202eDm7 |",
        "/etc/passwd",
        "tune.abc",
        "| C | " * 10_000,
        "C " * 2_500_000,
        "|: C :|x99\n" * 99,
        "{" * 5000,
        "title: only",
        "tempo: fast\n| C |",
        "<script>alert(1)</script>",
    ],
    ids=lambda text: repr(text[:12]),
)
def test_odd_input_is_one_line_each(desk: Desk, text: str) -> None:
    for path in ("/charts", "/charts/drawn"):
        answer = desk.teacher().post(path, data={"text": text}, headers=SWAP)
        assert answer.status_code in {200, 400, 413, 422}
        assert "Traceback" not in answer.text
        assert "<script>alert" not in answer.text
        assert answer.status_code == 200 or "Not yet" in answer.text or len(answer.text) < 200


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("picture.musicxml", b"\x89PNG\r\n\x1a\n" + bytes(64)),
        ("empty.mxl", b""),
        ("broken.mxl", b"PK\x03\x04" + bytes(40)),
        ("take.mid", b"MThd" + bytes(20)),
        ("chart.json", b"{}"),
        ("nul.txt", b"| C |\0"),
        ("../../up.txt", b"| Xx |"),
        ("no-end", b"\xff\xfe|"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_a_file_that_is_no_chart_is_one_line(desk: Desk, name: str, data: bytes) -> None:
    answer = desk.teacher().post("/charts", files={"file": (name, data)})
    assert answer.status_code == 422
    assert answer.text.count("Not yet") == 1
    assert "tmp" not in part(answer.text, "file-fault")


def test_a_removed_chart_is_asked_about_and_gone(desk: Desk) -> None:
    begin(desk)
    assert "does not come back" in desk.teacher().get("/charts/1/remove").text
    assert desk.teacher().post("/charts/1/remove").headers["location"] == "/charts"
    for path in ("/charts/1", "/charts/1/remove"):
        assert desk.teacher().get(path).status_code == 404
    assert desk.teacher().post("/charts/1/remove").status_code == 404


@pytest.mark.parametrize("path", PATHS)
def test_charts_are_the_teachers_alone(desk: Desk, path: str) -> None:
    begin(desk)
    assert desk.student("Ansel").get(path).status_code == 403
    assert desk.visitor().get(path).status_code == 403
    assert desk.student("Ansel").post(path).status_code == 403
