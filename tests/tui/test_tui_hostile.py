"""Text out of files and from people is shown as it is: never as markup, never as control of the terminal."""

from __future__ import annotations

import json
import os
import shutil
from pathlib import Path

import pytest
from stage import ADA, Stage

from diag.machine.model import Role
from diag.safety import Person
from diag.tui import last_person as remember

NASTY = "[red]Ada[/x] [@click=app.exit]no[/]"


@pytest.fixture
def nasty(stage: Stage, tmp_path: Path) -> Stage:
    """A mixer whose texts look like markup."""
    folder = tmp_path / "machines" / "mixer"
    shutil.copytree(stage.knowledge / "mixer", folder)
    file = folder / "machine.yaml"
    text = file.read_text(encoding="utf-8")
    text = text.replace("title: Dough mixer 4", 'title: "[b]Mixer[/nope] 4"')
    text = text.replace("label: SUPPLY", 'label: "[E12]"')
    text = text.replace("do: Press the blue key", 'do: "[link=x]Press[/] the blue key"  # Press')
    text = text.replace("title: 24 V supply unit failed", 'title: "[/] 24 V [unit] failed"')
    file.write_text(text, encoding="utf-8")
    return Stage(folder.parent, stage.book)


async def test_names_that_look_like_markup(nasty: Stage) -> None:
    async with nasty.run() as hand:
        assert "[b]Mixer[/nope] 4" in hand.text
        await hand.press("enter", f"={NASTY}", "enter", "2", "a", "l", "enter")
        assert NASTY in hand.lines[0]
        assert "[E12]" in hand.text
        await hand.press("3")
        assert "[/] 24 V [unit] failed" in hand.text
        await hand.press("w", "=[/] [blink]note[/blink]", "enter", "t", "t")
        assert "Noted: [/] [blink]note[/blink]" in hand.status
        await hand.press("g", "enter", "escape", "f", "escape", "slash", "=[E12", "escape", "i", "escape")
        assert "[E12]" in hand.text


async def test_no_control_character_reaches_the_screen(stage: Stage) -> None:
    async with stage.run("mixer", size=(220, 40)) as hand:
        await hand.press(*ADA)
        case = hand.app.screen.session.case  # type: ignore[attr-defined]
        case.say("supply-lamp", "dark", before="Bo\x1b]0;gone\x07\u202eevil")
        hand.app.screen.paint()  # type: ignore[attr-defined]
        await hand.settle()
        assert "\x1b" not in hand.text
        assert "\u202e" not in hand.text
        assert "before, by Bo ]0;gone evil" in hand.text


def test_each_terminal_has_a_memory_of_its_own(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody is offered the name and the word of whoever sat down somewhere else."""
    otto = Person("Otto", Role.ELECTRICIAN, authorised=True, qualified=True)
    with os.fdopen(os.openpty()[1]) as here, os.fdopen(os.openpty()[1]) as there:
        monkeypatch.setattr("sys.stdin", here)
        remember.keep(otto)
        assert remember.last() == otto
        monkeypatch.setattr("sys.stdin", there)
        assert remember.last() is None
        assert remember.state_file().name.startswith("last-person-")


@pytest.mark.parametrize(
    "kept",
    [
        b"",
        b"[]",
        b"null",
        b'"Ada"',
        b"{",
        b"\xff\xfe",
        b"[" * 3000,
        b'{"name": 7, "role": "operator"}',
        b'{"name": "Ada", "role": "boss"}',
        b'{"name": "   ", "role": "operator"}',
        b'{"name": "' + b"A" * 9000 + b'", "role": "operator"}',
    ],
)
def test_a_broken_memory_of_the_last_person_is_as_none(kept: bytes) -> None:
    file = remember.state_file()
    file.parent.mkdir(parents=True)
    file.write_bytes(kept)
    assert remember.last() is None


def test_what_is_remembered_is_cleaned() -> None:
    file = remember.state_file()
    file.parent.mkdir(parents=True)
    words = {"name": "A\x1b[31mda\n" + "x" * 100, "role": "electrician", "authorised": "yes", "qualified": True}
    file.write_text(json.dumps(words), encoding="utf-8")
    last = remember.last()
    assert last is not None
    assert last.name.startswith("A [31mda x")
    assert len(last.name) <= remember.LONGEST
    assert (last.authorised, last.qualified) == (False, True)


def test_a_folder_in_the_place_of_the_memory_is_as_none() -> None:
    remember.state_file().mkdir(parents=True)
    assert remember.last() is None


async def test_a_broken_machine_says_so_in_one_line(nasty: Stage) -> None:
    (nasty.knowledge / "mixer" / "machine.yaml").write_text("format: 1\ntitle: Half\n", encoding="utf-8")
    async with nasty.run() as hand:
        await hand.press("enter", *ADA)
        assert hand.status.startswith("! ")
        assert "machine.yaml" in hand.status
        assert "Half" in hand.text


async def test_a_casebook_that_is_none_says_so(stage: Stage) -> None:
    stage.book.write_bytes(b"not a casebook at all, " * 100)
    async with stage.run() as hand:
        assert "not a casebook" in hand.status
        await hand.press("enter", *ADA)
        assert "not a casebook" in hand.status
        assert "Dough mixer 4" in hand.text


async def test_a_title_that_looks_like_markup_in_the_head_of_a_box(stage: Stage) -> None:
    from diag.tui.questions import AskLines, ChooseOne, Line, Row
    from diag.tui.screens.ask import Ask
    from diag.tui.screens.choose import Choose

    async with stage.run() as hand:
        lines, rows = AskLines("[b]Lamp[/x]", "", (Line("one"),)), ChooseOne("[b]Lamp[/x]", (Row("a", "a"),))
        for box in (Ask(lines), Choose(rows)):
            hand.app.push_screen(box)
            await hand.settle()
            assert "[b]Lamp[/x]" in hand.text
            await hand.press("escape")


async def test_a_lamp_between_two_displays_on_a_low_terminal(nasty: Stage) -> None:
    file = nasty.knowledge / "mixer" / "machine.yaml"
    text = file.read_text(encoding="utf-8")
    fields = '{display: 2 characters, title: Side, normal: idle, codes: {"--": {state: idle}}}'
    text = text.replace("  box-display:\n    display", f"  side-display: {fields}\n  box-display:\n    display")
    text = text.replace("[supply-lamp, ready-lamp], [box-display],", "[box-display, ready-lamp, side-display],")
    file.write_text(text, encoding="utf-8")
    async with nasty.run("mixer") as hand:
        await hand.press(*ADA)
        assert hand.text.count("▕ ··     ▏") == 2, "both displays are drawn"
