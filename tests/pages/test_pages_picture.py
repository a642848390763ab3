"""The README's picture is a drawing of its own: it fetches nothing, and shows a case that is under way."""

from __future__ import annotations

import html
import re
import sys
from pathlib import Path
from xml.etree import ElementTree

import pytest
from markdown import README, ROOT

sys.path.insert(0, str(ROOT / "tests" / "tui"))

import pictures
from stage import Stage

SVG = (ROOT / "tests" / "tui" / "pictures" / "case.svg").read_text(encoding="utf-8")


def test_the_readme_shows_it() -> None:
    assert "](tests/tui/pictures/case.svg)" in README.read_text(encoding="utf-8")


def test_it_fetches_nothing() -> None:
    root = ElementTree.fromstring(SVG)
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    assert set(re.findall(r"https?://[^\"\s)]+", SVG)) == {"http://www.w3.org/2000/svg"}
    assert not re.search(r"href|@import|url\((?!#)", SVG)


def words(svg: str) -> str:
    """What stands in the drawing, row by row."""
    return html.unescape(" ".join(re.findall(r"<text[^>]*>([^<]+)</text>", svg))).replace("\u00a0", " ")


def test_its_causes_are_ranked_and_their_titles_whole() -> None:
    causes = words(SVG).split("LIKELY CAUSES")[1].split("FOR AND AGAINST")[0]
    shares = [int(share) for share in re.findall(r"(\d+) ?%", causes)]
    assert shares == sorted(shares, reverse=True)
    assert len(shares) >= 4
    assert shares[0] >= shares[1] + 5
    assert "…" not in causes


@pytest.mark.slow
async def test_it_is_what_the_app_shows_now(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    now = await pictures.picture(Stage(ROOT / "knowledge", tmp_path / "cases.sqlite3"))
    assert words(now) == words(SVG), "python tests/tui/pictures.py paints it anew"
