"""Finding a machine, opening and resuming cases, the sheet on the disk."""

from __future__ import annotations

from pathlib import Path

import pytest
from stage import ADA, OLE, Stage

from diag.tui import paper, remember


async def test_the_same_person_as_last_time_needs_two_keys(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*ADA)
    async with stage.run("mixer") as hand:
        await hand.press("s", "enter")
        assert "Ada Brandt · electrician, locks out, live" in hand.lines[0]


async def test_the_own_word_is_not_remembered_for_another_name(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*ADA)
    async with stage.run("mixer") as hand:
        await hand.press("n", "ctrl+u", "=Bo", "enter", "s", "2", "enter")
        assert "Bo · electrician" in hand.lines[0]
        assert "locks out" not in hand.lines[0]


async def test_typing_finds(stacker: Stage) -> None:
    async with stacker.run() as hand:
        await hand.press("=stakcer")
        assert "▸ Tray stacker 2" in hand.text
        await hand.press("ctrl+u", "=zzzzqq")
        assert "Nothing is called that." in hand.text
        await hand.press("enter", "escape")
        assert "▸ Chilled conveyor 2" in hand.text
        assert "Tray stacker 2" in hand.text


async def test_a_lock_that_is_on_is_seen_in_the_list(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*ADA, "g", "enter", "enter", "1", "q")
    async with stage.run() as hand:
        assert "LOCKS ON" in hand.text


async def test_a_case_by_name(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*OLE, "3")
    async with stage.run(case="1125-a") as hand:
        await hand.press("s", "enter")
        assert "○ SUPPLY" in hand.text
    async with stage.run(case="1125-z") as hand:
        await hand.press("s", "enter")
        assert "There is no case 1125-z" in hand.status


async def test_machines_and_back(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*OLE, "m")
        assert "CASES LEFT OPEN" in hand.text
        assert "1125-a" in hand.text


async def test_sheets_are_never_overwritten(stage: Stage) -> None:
    Path("mixer-1125-a.txt").write_text("mine", encoding="utf-8")
    async with stage.run("mixer") as hand:
        await hand.press(*OLE, "h")
        assert "mixer-1125-a-2.md" in hand.status
        await hand.press("h")
        assert "mixer-1125-a-3.md" in hand.status
    assert Path("mixer-1125-a.txt").read_text(encoding="utf-8") == "mine"
    assert not Path("mixer-1125-a.md").exists()


async def test_a_folder_that_takes_no_sheet_is_passed_over(
    stage: Stage, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(paper, "folders", lambda: (tmp_path / "nowhere", tmp_path))
    async with stage.run("mixer") as hand:
        await hand.press(*OLE, "h")
    assert (tmp_path / "mixer-1125-a.md").exists()
    monkeypatch.setattr(paper, "folders", lambda: (tmp_path / "nowhere",))
    async with stage.run("mixer") as hand:
        await hand.press("s", "enter", "h")
        assert "cannot be written" in hand.status


def test_a_memory_that_cannot_be_written_is_no_error(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    from diag.machine.model import Role
    from diag.safety.types import Person

    (tmp_path / "file").write_text("")
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "file"))
    remember.keep(Person("Ada", Role.ENGINEER))
    assert remember.last() is None


async def test_two_terminals_on_one_case(stage: Stage) -> None:
    """The second one is told, takes in what the first one entered, and loses nothing of its own."""
    async with stage.run("mixer") as one:
        await one.press(*ADA)
        async with stage.run(case="1125-a") as two:
            await two.press("s", "enter", "3")
            assert "○ SUPPLY" in two.text
        await one.press("slash", "=ready", "enter", "1")
        assert "Somebody else has added" in one.status
        assert "○ SUPPLY" in one.text
        assert "◌ READY" in one.text
        await one.press("1")
        assert "● READY" in one.text
    kinds = stage.kinds("1125-a")
    assert kinds.count("found") == 2


@pytest.mark.parametrize("name", ["Ona Reyes", "ole", "anna", "lars"])
async def test_nobody_goes_on_as_whoever_was_here_last(stage: Stage, name: str) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*ADA)
    async with stage.run("mixer") as hand:
        await hand.press(f"={name}", "enter", "1", "enter")
        assert f"{name} · operator" in hand.lines[0]
