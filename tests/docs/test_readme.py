"""Is what the README shows what the program prints? Its sessions and its Python are run.

Of a session every line is compared; a line ``…`` alone stands for any number of lines.
"""

from __future__ import annotations

import doctest
import io
import re
import shlex
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path

import pytest

import halfstep
from halfstep.app.terminal.command_line import COMMANDS, command_parser, main
from halfstep.services.etude_reply import file_suffixes

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
COLUMNS = 90
LEFT_OUT = "…"


def blocks(language: str) -> list[str]:
    """The text of every block of that language."""
    return re.findall(rf"^```{language}\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)


def sessions() -> list[tuple[str, list[str]]]:
    """Every command of the README with the lines shown below it."""
    commands: list[tuple[str, list[str]]] = []
    for line in "".join(blocks("console")).splitlines():
        if line.startswith("$ "):
            commands.append((line[2:], []))
        else:
            commands[-1][1].append(line)
    return commands


def session(command: str, shown: list[str]) -> object:
    """A case of a test, slow where the command makes a whole lesson."""
    slow = (
        [pytest.mark.slow] if command.startswith("halfstep lesson") and "--out" in command else []
    )
    return pytest.param(command, shown, marks=slow, id=" ".join(command.split()[:2]))


def is_shown(printed: list[str], shown: list[str]) -> bool:
    """True where the lines are those shown, with any lines where some are left out."""
    pattern = "".join(
        r"(?:.*\n)*" if line == LEFT_OUT else re.escape(f"{line}\n") for line in shown
    )
    return re.fullmatch(pattern, "".join(f"{line}\n" for line in printed)) is not None


@pytest.mark.parametrize(
    ("printed", "shown", "same"),
    [
        (["a", "b"], ["a", "b"], True),
        (["a", "b"], ["a"], False),
        (["a", "b."], ["a", "bx"], False),
        (["a", "b", "c", "d"], ["a", "…", "d"], True),
        (["a", "d"], ["a", "…", "d"], True),
        (["a", "b", "c"], ["a", "…", "d"], False),
        (["a", "b … c"], ["a", "b … d"], False),
    ],
)
def test_lines_are_compared_whole_and_an_ellipsis_alone_stands_for_any(
    printed: list[str], shown: list[str], same: bool
) -> None:
    assert is_shown(printed, shown) is same


@pytest.mark.parametrize(("command", "shown"), [session(*each) for each in sessions()])
def test_a_session_is_what_the_program_prints(
    command: str, shown: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", str(COLUMNS))
    program, *arguments = shlex.split(command)
    assert program == "halfstep"
    screen = io.StringIO()
    with redirect_stdout(screen), redirect_stderr(screen):
        main(arguments)
    printed = screen.getvalue().splitlines()
    assert is_shown(printed, shown), "\n".join(printed)


def test_there_is_a_session_of_each_command_that_prints_to_the_screen() -> None:
    commands = {command.split()[1] for command, _ in sessions()}
    assert commands == {"lesson", "chart", "changes", "etude"}


def test_the_readme_opens_with_one_paragraph_one_session_and_one_picture() -> None:
    kinds = [
        "title" if part.startswith("# ") else
        "session" if part.startswith("```console\n$ ") else
        "picture" if part.startswith("![") else
        "heading" if part.startswith("## ") else "paragraph"
        for part in README.split("\n\n")[:5]
    ]  # fmt: skip
    assert kinds == ["title", "paragraph", "session", "picture", "heading"]


def test_its_python_is_true() -> None:
    (code,) = blocks("python")
    test = doctest.DocTestParser().get_doctest(code, {}, "README.md", "README.md", 0)
    report = io.StringIO()
    outcome = doctest.DocTestRunner(verbose=False).run(test, out=report.write)
    assert outcome.attempted > 5
    assert outcome.failed == 0, report.getvalue()


def test_the_python_section_names_every_call_of_the_door() -> None:
    _, section = README.split("\n## From Python", 1)
    calls = {name for name in halfstep.__all__ if name.islower() and not name.startswith("_")}
    assert calls == set(re.findall(r"^\| `(\w+)` \|", section.split("\n## ")[0], re.MULTILINE))


def options(command: str) -> set[str]:
    """The long options of a command."""
    actions = command_parser(command)._actions
    return {word for action in actions for word in action.option_strings if word[:2] == "--"}


def usages() -> list[tuple[str, set[str]]]:
    """The commands whose usage is shown, in a block or a paragraph, with the options named."""
    shown = re.findall(r"^[`]*\n?`?halfstep (\w+) ([^`]*)`", README, re.MULTILINE)
    return [(command, set(re.findall(r"--[a-z]+(?:-[a-z]+)*", text))) for command, text in shown]


def test_a_usage_is_shown_of_every_command_but_those_shown_by_example() -> None:
    assert {command for command, _ in usages()} == set(COMMANDS) - {"hear", "completion"}


@pytest.mark.parametrize(("command", "named"), usages())
def test_a_usage_names_options_that_the_command_has(command: str, named: set[str]) -> None:
    assert named
    assert named <= options(command)


def test_every_option_that_is_named_anywhere_is_one_of_a_command() -> None:
    known = set().union(*map(options, COMMANDS))
    named = set(re.findall(r"(?<![\w-])--[a-z]+(?:-[a-z]+)*", re.sub(r"<!--.*?-->", "", README)))
    assert len(named) > 15
    assert named <= known | {"--fast"}


def test_the_forms_that_an_etude_can_have_are_all_named() -> None:
    section = README.split("\n## Write one etude\n")[1].split("\n## ")[0]
    named = re.findall(r"`(\.\w+)`", section)
    assert sorted(named) == sorted(file_suffixes(all_keys=False))


@pytest.mark.parametrize("page", ["README.md", "CONTRIBUTING.md", *sorted(
    str(path.relative_to(ROOT)) for path in (ROOT / "docs").rglob("*.md")
)])  # fmt: skip
def test_every_link_leads_to_a_file_or_a_heading(page: str) -> None:
    path = ROOT / page
    text = path.read_text(encoding="utf-8")
    for target in re.findall(r"\]\(([^)\s]+)\)", text):
        if "://" in target:
            continue
        name, _, anchor = target.partition("#")
        linked = path.parent / name if name else path
        assert linked.exists(), target
        assert not anchor or anchor in anchors(linked.read_text(encoding="utf-8")), target


def anchors(text: str) -> set[str]:
    """What the headings of a page are linked by: small letters, hyphens for blanks."""
    headings = re.findall(r"^#+ (.*)$", text, re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-") for heading in headings}
