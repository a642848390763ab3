"""A file that serves several machines: each has a row, and a case, a banner and a sheet of its own."""

from __future__ import annotations

from pathlib import Path

import pytest
from stage import ADA, OLE, Stage


@pytest.fixture
def pair(tmp_path: Path, mixer_folder: Path) -> Stage:
    """The app over one file for two mixers."""
    folder = tmp_path / "site" / "mixer"
    folder.mkdir(parents=True)
    text = (mixer_folder / "machine.yaml").read_text(encoding="utf-8")
    text = text.replace("title: Dough mixer 4\n", "title: Dough mixer\nassets: [Mixer 4, Mixer 5]\n")
    (folder / "machine.yaml").write_text(text, encoding="utf-8")
    return Stage(folder.parent, tmp_path / "cases.sqlite3")


async def test_each_asset_has_a_row_and_its_name_in_the_banner(pair: Stage) -> None:
    async with pair.run() as hand:
        assert "Dough mixer, Mixer 4" in hand.text
        await hand.press("=mixer 5", "enter", *ADA)
        assert "case 1125-a · Mixer 5" in hand.text


async def test_a_machine_by_its_name_asks_which_asset(pair: Stage) -> None:
    async with pair.run("mixer") as hand:
        assert "WHICH ONE IS IT?" in hand.box
        await hand.press("2", *OLE)
        assert "case 1125-a · Mixer 5" in hand.text
        await hand.press("h")
        assert "mixer-mixer-5-1125-a.md" in hand.status
    sheet = Path("mixer-mixer-5-1125-a.txt").read_text(encoding="utf-8")
    assert "Machine: Dough mixer, Mixer 5, Dough room" in sheet


async def test_nobody_is_led_into_the_case_of_another_asset(pair: Stage) -> None:
    async with pair.run("mixer") as hand:
        await hand.press("1", *ADA, "g", "enter", "enter", "1", "q")
    async with pair.run() as hand:
        assert "Dough mixer, Mixer 4 · case 1125-a" in hand.text
        assert "LOCKS ON" in hand.text
        await hand.press("=mixer 5", "enter", "n", "ctrl+u", *OLE)
        assert "case 1125-b · Mixer 5" in hand.text
        assert "ENERGISED" in hand.lines[0]


async def test_a_case_knows_its_asset_by_itself(pair: Stage) -> None:
    async with pair.run("mixer") as hand:
        await hand.press("2", *ADA)
    async with pair.run("mixer", case="1125-a") as hand:
        await hand.press("s", "enter", "1")
        assert "case 1125-a · Mixer 5" in hand.text


async def test_a_case_of_an_asset_that_is_gone_says_so(pair: Stage) -> None:
    async with pair.run("mixer") as hand:
        await hand.press("2", *ADA)
    file = pair.knowledge / "mixer" / "machine.yaml"
    file.write_text(file.read_text(encoding="utf-8").replace(", Mixer 5]", "]"), encoding="utf-8")
    async with pair.run(case="1125-a") as hand:
        await hand.press("s", "enter", "1")
        assert "knows no asset mixer 5 any more" in hand.status
