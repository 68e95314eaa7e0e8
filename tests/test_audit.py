"""Does the audit of the libraries say what it was told, and end well where nobody answers?"""

from __future__ import annotations

import json
import subprocess
import sys
import venv
from importlib.machinery import SourceFileLoader
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path
from types import ModuleType

import pytest

SCRIPT = Path(__file__).resolve().parents[1] / "scripts" / "audit"
FAULT = {"id": "X-2026-1", "fix_versions": ["1.2"], "aliases": [], "description": "long"}
SOUND = {"name": "sound", "version": "3", "vulns": []}


@pytest.fixture
def audit(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    loader = SourceFileLoader("audit", str(SCRIPT))
    spec = spec_from_file_location("audit", SCRIPT, loader=loader)
    assert spec is not None
    module = module_from_spec(spec)
    loader.exec_module(module)
    monkeypatch.setattr(venv, "create", lambda *_, **__: None)
    return module


def told(audit: ModuleType, monkeypatch: pytest.MonkeyPatch, *, answer: str, error: str) -> None:
    """Have the program that asks answer so, or end with an error."""

    def run(command: list[str], **_: object) -> subprocess.CompletedProcess[str]:
        if "--output" in command and answer:
            Path(command[command.index("--output") + 1]).write_text(answer)
        return subprocess.CompletedProcess(command, 1, "", error)

    monkeypatch.setattr(audit.subprocess, "run", run)


@pytest.mark.parametrize(
    ("vulns", "status", "said"),
    [([], 0, "2 packages, 0 known"), ([FAULT], 1, "old 1.1: X-2026-1, mended by 1.2")],
)
def test_a_fault_that_is_known_is_one_line_and_an_error(
    audit: ModuleType,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    vulns: list[object],
    status: int,
    said: str,
) -> None:
    old = {"name": "old", "version": "1.1", "vulns": vulns}
    told(audit, monkeypatch, answer=json.dumps({"dependencies": [SOUND, old]}), error="")
    with pytest.raises(SystemExit) as ended:
        audit.main()
    assert ended.value.code == status
    assert said in capsys.readouterr().out


@pytest.mark.parametrize(("options", "status"), [([], 2), (["--offline"], 0)])
def test_where_nobody_answers_that_is_said_and_no_fault_when_it_may_be(
    audit: ModuleType,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    options: list[str],
    status: int,
) -> None:
    told(audit, monkeypatch, answer="", error="a warning\nno way to the net")
    monkeypatch.setattr(sys, "argv", ["audit", *options])
    with pytest.raises(SystemExit) as ended:
        audit.main()
    assert ended.value.code == status
    assert "nobody could be asked for known faults: no way to the net" in capsys.readouterr().err
