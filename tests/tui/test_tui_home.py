"""Finding a machine, opening and resuming cases, the sheet on the disk."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest
from stage import ADA, OLE, Stage
from still import still

from diag.machine.find import Listed
from diag.tui import last_person as remember
from diag.tui import sheet_files as paper
from diag.tui.app_context import AppContext


async def test_the_same_person_as_last_time_needs_two_keys(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*ADA)
    async with stage.run("mixer") as hand:
        await hand.press("s", "enter", "2")
        assert "Ada Brandt · electrician, locks out, live" in hand.lines[0]


async def test_the_own_word_is_not_remembered_for_another_name(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*ADA)
    async with stage.run("mixer") as hand:
        await hand.press("n", "ctrl+u", "=Bo", "enter", "s", "2", "enter", "2")
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
        await hand.press("s", "enter", "1")
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
    (tmp_path / "file").write_text("")
    monkeypatch.setattr(paper, "folders", lambda chosen: (tmp_path / "file" / "nowhere", tmp_path))
    async with stage.run("mixer") as hand:
        await hand.press(*OLE, "h")
    assert (tmp_path / "mixer-1125-a.md").exists()
    monkeypatch.setattr(paper, "folders", lambda chosen: (tmp_path / "file" / "nowhere",))
    async with stage.run("mixer") as hand:
        await hand.press("s", "enter", "2", "h")
        assert "cannot be written" in hand.status


def test_sheets_go_to_the_folder_that_was_chosen_and_never_just_to_the_current_one(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    assert paper.folders(tmp_path / "sheets") == (tmp_path / "sheets",)
    assert Path.cwd() not in paper.folders()
    assert paper.folders()[-1] == tmp_path


async def test_a_case_without_a_record_says_so_on_every_screen_and_leaves_nothing(stage: Stage) -> None:
    stage.recorded = False
    async with stage.run("mixer") as hand:
        await hand.press(*OLE)
        assert "NOT RECORDED" in hand.text
        await hand.press("h")
        assert "mixer-" in hand.status
        assert "Nothing of this case was kept" in hand.app.context.parting()
    assert not stage.book.exists()
    async with stage.run(case="1125-a") as hand:
        await hand.press("s", "enter")
        assert "--no-casebook" in hand.status


def test_a_memory_that_cannot_be_written_is_no_error(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    from diag.machine.model import Role
    from diag.safety.types import Person

    (tmp_path / "file").write_text("")
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "file"))
    remember.keep(Person("Ada", Role.ENGINEER))
    assert remember.last() is None


async def test_two_terminals_on_one_case(stage: Stage) -> None:
    """What both enter is kept and shown: a plain fact of the one is stored though the other entered something."""
    async with stage.run("mixer") as one:
        await one.press(*ADA)
        async with stage.run(case="1125-a") as two:
            await two.press("s", "enter")
            assert "ARE YOU THE SAME PERSON?" in two.box
            await two.press("1", "3")
            assert "○ SUPPLY" in two.text
        await one.press("slash", "=ready", "enter", "1")
        assert "○ SUPPLY" in one.text
        assert "● READY" in one.text
    kinds = stage.kinds("1125-a")
    assert kinds.count("found") == 2


@pytest.mark.parametrize("name", ["Ona Reyes", "ole", "anna", "lars"])
async def test_nobody_goes_on_as_whoever_was_here_last(stage: Stage, name: str) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*ADA)
    async with stage.run("mixer") as hand:
        await hand.press(f"={name}", "enter", "1", "enter", "2")
        assert f"{name} · operator" in hand.lines[0]


# ---------------------------------------------------------------- many machines


@pytest.fixture
def plant(stage: Stage, tmp_path: Path, mixer_folder: Path, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Fifty approved machines; the ids of those whose approval was looked at, as it happens."""
    approved = "approval: {approved: {by: Bo, on: 2026-11-24, digest: 0123456789abcdef}}"
    text = (mixer_folder / "machine.yaml").read_text().replace("approval: draft", approved)
    for n in range(50):
        folder = tmp_path / "plant" / f"mixer-{n:02}"
        folder.mkdir(parents=True)
        (folder / "machine.yaml").write_text(text.replace("Dough mixer 4", f"Dough mixer {n:02}"))
    stage.knowledge = tmp_path / "plant"
    read: list[str] = []
    real = AppContext.approval

    def approval(context: AppContext, machine: Listed) -> str:
        read.append(machine.id)
        return real(context, machine)

    monkeypatch.setattr(AppContext, "approval", approval)
    return read


async def test_only_what_is_in_sight_is_read_whole(stage: Stage, plant: list[str]) -> None:
    async with stage.run() as hand:
        shown = [id for id in sorted(f"mixer-{n:02}" for n in range(50)) if f"Dough mixer {id[-2:]}" in hand.text]
        assert 10 < len(shown) < 24
        assert set(shown) <= set(plant)
        assert len(plant) <= len(shown) + 2, "a row or two more before the screen had its last layout"
        assert "not read yet" not in hand.text
        await hand.press(*["down"] * len(shown))
        assert len(plant) <= len(shown) + 3
        await hand.press("=mixer 49")
        assert "mixer-49" in plant
        assert len(plant) == len(set(plant)), "each was read once"


async def test_until_it_was_read_the_list_says_so(
    stage: Stage, plant: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    go, real = threading.Event(), AppContext.approval

    def approval(context: AppContext, machine: Listed) -> str:
        assert go.wait(120)
        return real(context, machine)

    monkeypatch.setattr(AppContext, "approval", approval)
    async with stage.run(wait=False) as hand:
        for _ in range(1000):
            await still(hand.pilot)
            if "Dough mixer 00" in hand.text:
                break
        assert "not read yet · Dough room" in hand.text
        go.set()
        await hand.settle()
        assert "not read yet" not in hand.text
        assert "CHANGED SINCE APPROVAL · Dough room" in hand.text


async def test_what_was_read_counts_no_more_when_the_list_comes_back(stage: Stage, plant: list[str]) -> None:
    async with stage.run() as hand:
        before = len(plant)
        await hand.press("enter", "escape", "escape")
        assert plant[before:] == plant[:before]


async def test_until_machines_are_found_the_list_does_not_say_that_it_is_empty(
    stage: Stage, monkeypatch: pytest.MonkeyPatch
) -> None:
    go, real = threading.Event(), AppContext.machines

    def machines(context: AppContext) -> tuple[Listed, ...]:
        assert go.wait(120)
        return real(context)

    monkeypatch.setattr(AppContext, "machines", machines)
    async with stage.run(wait=False) as hand:
        await still(hand.pilot)
        assert "Looking for machines …" in hand.text
        go.set()
        await hand.settle()
        assert "Dough mixer 4" in hand.text


async def test_a_folder_without_machines_is_named(stage: Stage, tmp_path: Path) -> None:
    stage.knowledge = tmp_path / "empty"
    async with stage.run() as hand:
        assert "The list is empty." in hand.text
        assert "No machines in" in hand.status
