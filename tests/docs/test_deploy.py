"""Do the examples of a deployment start the program as it is?"""

from __future__ import annotations

import json
import re
import shlex
from pathlib import Path

import pytest

from halfstep.app.terminal.command_line import command_parser
from halfstep.school.lanes import demand_lane

ROOT = Path(__file__).resolve().parents[2]
COMPOSE = (ROOT / "deploy" / "compose.yaml").read_text()
COMMANDS = [*map(json.loads, re.findall(r"^    command: (\[.*\])$", COMPOSE, re.MULTILINE))]
for unit in sorted((ROOT / "deploy").glob("*.service")):
    line = re.search(r"^ExecStart=\S*/halfstep (.*)$", unit.read_text(), re.MULTILINE)
    assert line
    COMMANDS.append(shlex.split(line[1].replace("%i", "listen")))
PAGE = (ROOT / "docs" / "many-machines.md").read_text()
TYPED = re.findall(r"^    HALFSTEP_\S+ halfstep (.*)$", PAGE, re.MULTILINE)
COMMANDS.extend(map(shlex.split, TYPED))


@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_a_command_is_one_of_the_program(command: list[str]) -> None:
    name, *arguments = command
    parsed = command_parser(name).parse_args(arguments)
    assert parsed.data == "/srv/school"
    demand_lane(getattr(parsed, "queue", ""))


def test_what_is_read_is_all_that_is_there() -> None:
    assert len(COMMANDS) == 3 + 2 + 3
