"""What the screens say of a machine's file that nobody approved, or that changed since."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner
from stage import ADA, OLE, Stage

from diag.case.log.events import Opened
from diag.cli.group import diag
from diag.tui.widgets.picklist import PickList

CASE = "1125-a"
TRAINING = ("--by", "maintenance training", "--on", "2026-11-24")


@pytest.fixture
def stage(stage: Stage, tmp_path: Path) -> Stage:
    """The same stage, with machines that may be written to."""
    shutil.copytree(stage.knowledge / "mixer", tmp_path / "machines" / "mixer")
    stage.knowledge = tmp_path / "machines"
    return stage


def approve(stage: Stage, *args: str) -> None:
    result = CliRunner().invoke(diag, ["--knowledge", str(stage.knowledge), "approve", "mixer", *args])
    assert result.exit_code == 0, result.output


def edit(stage: Stage, old: str, new: str) -> None:
    file = stage.knowledge / "mixer" / "machine.yaml"
    text = file.read_text()
    assert text.count(old) == 1
    file.write_text(text.replace(old, new))


@pytest.mark.parametrize(
    ("standing", "in_list", "badge"),
    [
        ("draft", "not approved · Dough room", " DRAFT FILE "),
        ("trial", "not approved · Dough room", " FILE ON TRIAL "),
        ("approved", " approved · Dough room", ""),
        ("changed", "CHANGED SINCE APPROVAL · Dough room", " FILE CHANGED "),
    ],
)
async def test_list_and_case_tell(standing: str, in_list: str, badge: str, stage: Stage) -> None:
    approve(stage, *(TRAINING if standing in ("approved", "changed") else (f"--{standing}",)))
    if standing == "changed":
        edit(stage, "wait: 1}", "wait: 2}")
    async with stage.run() as hand:
        assert in_list in hand.text
        await hand.press("=mixer", "enter", *ADA)
        first, second = hand.lines[:2]
        assert "ENERGISED" in first
        assert first.rstrip().endswith("Ada Brandt · electrician, locks out, live")
        assert second.rstrip().endswith("case 1125-a · Dough mixer 4")
        assert badge in first
        assert ("FILE" in first) == bool(badge)
        if standing == "changed":
            assert hand.status.startswith(
                "! Not approved as it stands: this machine file has changed since maintenance"
            )
        await hand.press("g")
        assert ("FILE" in hand.lines[0]) == bool(badge)


async def test_with_room_it_says_more(stage: Stage) -> None:
    approve(stage, "--trial")
    async with stage.run("mixer", size=(140, 40)) as hand:
        await hand.press(*ADA)
        assert " FILE ON TRIAL, NOT APPROVED " in hand.lines[0]
        assert hand.lines[0].endswith("Ada Brandt · electrician, locks out, live")


async def test_a_long_name_is_whole_and_so_is_the_case(stage: Stage) -> None:
    name = ("Anna Maria " * 5).strip()
    async with stage.run("mixer") as hand:
        await hand.press(f"={name}", "enter", "2", "enter")
        assert " DRAFT FILE" in hand.lines[0]
        assert hand.lines[2].endswith(f"{name} · case 1125-a")


async def test_a_countdown_takes_no_room_from_the_case(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*ADA, "g", *["enter"] * 5)
        assert "label's wait" in hand.lines[1]
        assert "case 1125-a" in "".join(hand.lines[1:3])
        await hand.resize(140, 40)
        assert hand.lines[1].endswith("case 1125-a · Dough mixer 4")


async def test_the_mark_stays_where_it_was_when_an_approval_was_looked_at(stage: Stage) -> None:
    shutil.copytree(stage.knowledge / "mixer", stage.knowledge / "older")
    approve(stage, *TRAINING)
    async with stage.run() as hand:
        await hand.press("down")
        marked = hand.app.screen.query_one(PickList).marked
        assert marked is not None
        assert marked.id == "machine:older"
        rows = hand.app.screen.query_one(PickList)
        rows.fill(tuple(rows._all))
        assert rows.marked == marked


async def test_a_case_that_was_left_tells_that_the_file_has_another_revision(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*OLE, "3")
    (opened,) = (e for e in stage.events(CASE) if isinstance(e, Opened))
    assert opened.revision == "2026-11-20"
    edit(stage, "revision: 2026-11-20", "revision: 2026-11-23")
    async with stage.run(case=CASE) as hand:
        await hand.press(*OLE, "1")
        assert hand.status.endswith("has changed since this case began: 2026-11-23 now, 2026-11-20 then.")
