"""Is what the checklist for a real phone says of the page what the page says?"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
CHECKLIST = (ROOT / "docs" / "phone-checklist.md").read_text("utf-8")
WEB = ROOT / "src" / "halfstep" / "app" / "web"
SAID_ELSEWHERE = {"quotes"}


def program_text() -> str:
    """All that the page and what hears its takes may say."""
    services = ROOT / "src" / "halfstep" / "services" / "room_delay.py"
    files = (*WEB.glob("pages/*.html"), *WEB.glob("static/*.js"), services)
    return "\n".join(file.read_text("utf-8") for file in files)


@pytest.mark.parametrize("sentence", sorted(set(re.findall("“([^”]+)”", CHECKLIST))))
def test_a_sentence_in_quotes_is_the_page_s_own(sentence: str) -> None:
    assert sentence in program_text() or sentence in SAID_ELSEWHERE
