"""Replies show themselves in a notebook, tried in a real kernel."""

from __future__ import annotations

import base64
import io
import re
from xml.etree import ElementTree

import av
import pytest

import halfstep
from halfstep.services.notebook import chart_html

nbformat = pytest.importorskip("nbformat")
nbclient = pytest.importorskip("nbclient")

CELLS = (
    "import halfstep",
    "halfstep.read_chart('[A] |: Dm7 <G7> | Cmaj7 :|'.replace('<G7>', 'G7'))",
    "halfstep.explain('| Dm7 | G7 | Cmaj7 |', instrument='alto-sax')",
    "halfstep.write_etude('| Dm7 | G7 | Cmaj7 |', 'one-line', instrument='alto-sax')",
    "halfstep.write_etude('| Dm7 |', 6, tempo_bpm=500)",
    "halfstep.outline('line.abc')",
)
LINE = """\
X:1
T:Second <Floor>
M:4/4
L:1/8
K:C
"Dm7"DFAc dcAF|"G7"GBdf gfdB|"Cmaj7"cegb c'bge|"A7"A^ceg ageA|]
"""


@pytest.fixture(scope="module")
def outputs(tmp_path_factory: pytest.TempPathFactory) -> list[list[dict]]:
    """What a kernel shows for each of `CELLS`; what it keeps goes to a folder of its own."""
    cells = [nbformat.v4.new_code_cell(code) for code in CELLS]
    book = nbformat.v4.new_notebook(cells=cells)
    home = tmp_path_factory.mktemp("jupyter")
    (home / "line.abc").write_text(LINE, "utf-8")
    client = nbclient.NotebookClient(
        book,
        timeout=120,
        kernel_name="python3",
        allow_errors=True,
        resources={"metadata": {"path": str(home)}},
    )
    with pytest.MonkeyPatch.context() as patch:
        for name in ("IPYTHONDIR", "JUPYTER_CONFIG_DIR", "JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR"):
            patch.setenv(name, str(home / name.lower()))
        client.execute()
    return [cell.outputs for cell in book.cells]


pytestmark = [
    pytest.mark.slow,
    pytest.mark.filterwarnings("ignore::DeprecationWarning"),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
]


def test_importing_shows_nothing(outputs: list[list[dict]]) -> None:
    assert outputs[0] == []


def test_a_chart_shows_its_grid(outputs: list[list[dict]]) -> None:
    table = ElementTree.fromstring(re.search(r"<table>.*</table>", shown(outputs[1]))[0])
    assert [" ".join(cell.itertext()).split()[-3:] for cell in table.iter("td")] == [
        ["|:", "Dm7", "G7"],
        ["2", "Cmaj7", ":|"],
    ]


def test_an_analysis_shows_its_map(outputs: list[list[dict]]) -> None:
    svg = ElementTree.fromstring(outputs[2][0]["data"]["image/svg+xml"])
    assert "bar by bar" in svg.find("{*}desc").text


def test_an_etude_shows_its_music_and_sounds(outputs: list[list[dict]]) -> None:
    data = outputs[3][0]["data"]
    assert ElementTree.fromstring(data["image/svg+xml"]).tag.endswith("svg")
    assert data["text/html"].startswith("<svg")
    sound = re.search(r'src="data:audio/mp4;base64,([^"]*)"', data["text/html"])
    if sound is None:
        pytest.skip("no sound bank is installed")
    with av.open(io.BytesIO(base64.b64decode(sound[1]))) as file:
        assert 2 < file.streams.audio[0].duration / 44_100 < 20


def test_an_outline_shows_its_figures(outputs: list[list[dict]]) -> None:
    page = ElementTree.fromstring(f"<div>{shown(outputs[5]).replace('<br>', '<br/>')}</div>")
    title, sentences = page.findall("p")
    assert title.text == "Second <Floor>"
    assert any("1 of 1 changes heard" in text for text in sentences.itertext())
    windows, changes = (
        [[cell.text for cell in row] for row in table.iter("tr")] for table in page.iter("table")
    )
    assert [row[:2] for row in windows] == [["bars", "notes"], ["1–4", "32"]]
    assert changes == [
        ["bar", "beat", "change", "heard"],
        ["2", "1", "Dm7 → G7", "nothing differs"],
        ["3", "1", "G7 → Cmaj7", "nothing differs"],
        ["4", "1", "Cmaj7 → A7", "heard on time"],
    ]


def test_what_is_wrong_is_named_by_its_field(outputs: list[list[dict]]) -> None:
    assert outputs[4][0]["evalue"].startswith("tempo_bpm 500: give pulses a minute")


def shown(cell: list[dict]) -> str:
    """The HTML of a cell's one output."""
    assert len(cell) == 1
    return str(cell[0]["data"]["text/html"])


def test_what_was_typed_cannot_put_tags_on_the_page() -> None:
    reply = halfstep.read_chart("title: <script>alert(1)</script>\n| C7 | F7 |")
    page = chart_html(reply.sheet, reply.chart, ["<b>"])
    assert "<script>" not in page
    assert "<li>&lt;b&gt;</li>" in page


def test_a_plan_shows_its_items_with_their_reasons() -> None:
    html = halfstep.make_plan("alto-sax", day="2026-03-02", name="<Odile>")._repr_html_()
    assert "&lt;Odile&gt; · Alto saxophone · Monday, 2 March 2026" in html
    assert html.count("why: ") == html.count("stop: ") >= 2
    assert "<td>whole chorus</td>" in html


def test_a_course_shows_its_map() -> None:
    svg = halfstep.show_course(instrument="alto-sax")._repr_svg_()
    assert svg.startswith("<svg")
    assert "35. A whole form that wanders" in svg
