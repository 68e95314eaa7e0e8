"""Does the room give a piece, its music and its sounds, to its player and to nobody else?"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import date
from threading import Event

import pytest
from desks import Desk

from halfstep.app.web.kept_sounds import KeptSounds
from halfstep.app.web.piece_view import piece_data, shown_systems, turn_data
from halfstep.services.room_piece import room_piece
from halfstep.services.room_sound import RoomSound, StretchFile
from halfstep.services.write_etude import WriteEtude, write_one_etude

ITEM = f"/room/days/{date.today().isoformat()}/items/1"


@pytest.mark.slow
def test_a_piece_is_given_with_its_music_and_its_sounds(desk: Desk) -> None:
    ansel = desk.student("Ansel")
    page = ansel.get(ITEM).text
    assert "data-anchors=" in page
    piece = ansel.get(f"{ITEM}/piece", params={"tempo": "72", "feel": "shuffle"}).json()
    assert (piece["tempo_bpm"], piece["feel"]) == (72, "shuffle")
    first, last = piece["stretches"][0]
    asked = {"tempo": "72", "feel": "shuffle", "chorus": "1", "bars": f"{first}-{last}"}
    sound = ansel.get(f"{ITEM}/sound/drums", params=asked)
    assert sound.headers["content-type"] == "audio/mp4"
    assert int(sound.headers["x-frames"]) % 1024 == 0
    assert ansel.get(f"{ITEM}/sound/click?chorus=count-in").status_code == 200
    assert ansel.get(f"{ITEM}/sound/drums?chorus=count-in").status_code == 204
    systems = ansel.get(f"{ITEM}/systems", params={"key": "A"}).json()
    assert systems[0]["svg"].startswith("<svg")
    assert ansel.get(f"{ITEM}/systems?key=A&after=1").json() == systems[1:]


@pytest.mark.parametrize(
    ("asked", "status"),
    [
        ("piece?tempo=fast", 422),
        ("piece?tempo=39", 422),
        ("piece?tempo=1e2", 422),
        ("piece?key=H", 422),
        ("piece?feel=slowly", 422),
        ("turn", 422),
        ("turn?bars=2-1", 422),
        ("turn?bars=1-99", 422),
        ("sound/horn", 404),
        ("sound/drums?bars=7", 422),
        ("sound/drums?bars=3-999", 422),
        ("sound/drums?chorus=0.5&bars=1-1", 422),
        ("sound/drums?chorus=٣&bars=1-1", 422),
    ],
)
def test_what_cannot_be_given_is_said_in_a_line(desk: Desk, asked: str, status: int) -> None:
    answer = desk.student("Ansel").get(f"{ITEM}/{asked}", headers={"x-swap": "band"})
    assert answer.status_code == status
    assert "\n" not in answer.text.strip()


def test_a_piece_is_its_player_s_own(desk: Desk) -> None:
    for visitor in (desk.teacher(), desk.visitor()):
        for part in ("piece", "turn?bars=1-1", "systems", "sound/drums"):
            assert visitor.get(f"{ITEM}/{part}").status_code == 403


@pytest.mark.parametrize(
    ("bars", "moves"),
    [((1, 2), [["B♭", "B♮"]]), ((2, 2), []), ((1, 4), [["B♭", "B♮"]]), ((1, 3), []), ((4, 5), [])],
    ids=["C7 to G7", "C7 alone", "the whole", "over silence", "a chord that goes on"],
)
def test_where_bars_go_round_the_last_one_changes_into_the_first(
    bars: tuple[int, int], moves: list[list[str]]
) -> None:
    """Between dominants a fourth apart the third falls to the seventh (common practice)."""
    chart = "key: C\n| G7 | C7 | N.C. | C7 | C7 |"
    line = write_one_etude(WriteEtude(chart, "arpeggio", instrument="flute"))
    assert turn_data(room_piece(line), *bars)["moves"] == moves


@pytest.mark.parametrize("player", ["alto-sax", "piano", "trombone"])
def test_every_head_of_a_line_has_its_beat(player: str) -> None:
    line = write_one_etude(
        WriteEtude("| Dm7 | G7 | Cmaj7 | A7 |" * 2, "turning-scale", instrument=player)
    )
    anchors = [anchor for system in shown_systems(room_piece(line)) for anchor in system.anchors]
    beats = {beat for beat, _ in anchors}
    assert beats >= {float(note.onset) for note in line.etude.notes if note.pitch}
    for system in shown_systems(room_piece(line)):
        places = [share for _, share in system.anchors]
        assert places == sorted(places)
        assert 0 < places[0] < places[-1] <= 1
        assert [beat for beat, _ in system.anchors] == sorted(beat for beat, _ in system.anchors)


def test_scripts_and_styles_go_over_the_line_lightly(desk: Desk) -> None:
    ansel = desk.student("Ansel")
    script = ansel.get("/static/band.js")
    assert script.headers["content-encoding"] == "gzip"
    assert script.headers["content-type"].startswith("text/javascript")
    assert "\n//" not in script.text
    assert "class Band" in script.text
    again = ansel.get("/static/band.js", headers={"if-none-match": script.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")
    assert "/*" not in ansel.get("/static/desk.css").text
    assert "content-encoding" not in ansel.get(f"{ITEM}/sound/click?chorus=count-in").headers


def test_what_changes_stands_where_a_chord_begins_and_not_where_it_goes_on() -> None:
    line = write_one_etude(WriteEtude("| A7 | D7 | D7 | D7 A7 |", "arpeggio", instrument="flute"))
    data = piece_data(RoomSound(room_piece(line)))
    chords = [
        (chord["name"], len(chord["moves"])) for bar in data["bars"] for chord in bar["chords"]
    ]
    assert chords == [("A7", 0), ("D7", 1), ("D7", 0), ("D7", 0), ("A7", 1)]
    assert data["bars"][1]["chords"][0]["moves"] == [["C♯", "C♮"]]


# What is kept


def test_what_several_ask_for_at_once_is_made_once() -> None:
    kept, begun, go_on = KeptSounds(), Event(), Event()
    makings = []

    def make() -> StretchFile:
        makings.append(1)
        begun.set()
        go_on.wait(10)
        return StretchFile(b"sound", 1024)

    with ThreadPoolExecutor(4) as threads:
        first = threads.submit(kept.sound, "drums", make)
        begun.wait(10)
        others = [threads.submit(kept.sound, "drums", make) for _ in range(3)]
        go_on.set()
        assert {each.result(10).data for each in (first, *others)} == {b"sound"}
    assert makings == [1]


def test_the_oldest_sounds_go_and_a_fault_is_not_kept() -> None:
    kept = KeptSounds(most_bytes=250)
    for name in "abc":
        kept.sound(name, lambda: StretchFile(bytes(100), 1))
    made = []
    for name in "cba":
        kept.sound(name, lambda name=name: made.append(name) or StretchFile(bytes(100), 1))  # type: ignore[misc]
    assert made == ["a"]

    def fail() -> StretchFile:
        raise OSError("no")

    with pytest.raises(OSError, match="no"):
        kept.sound("d", fail)
    assert kept.sound("d", lambda: StretchFile(b"d", 1)).data == b"d"


def test_what_is_made_ahead_is_there_when_it_is_asked_for() -> None:
    kept, made = KeptSounds(), Event()

    def make() -> StretchFile:
        made.set()
        return StretchFile(b"ahead", 1)

    kept.ahead([("a", make)])
    assert made.wait(10)
    assert kept.sound("a", lambda: StretchFile(b"again", 1)).data == b"ahead"
