"""What the tests of the screens lean on: when an app is at rest, and what Textual has to offer for that."""

from __future__ import annotations

import asyncio

import pytest
from resting import Resting
from still import PRIVATE, WATCHED, key_event, painted, put_off, still
from textual.app import App, ComposeResult
from textual.widgets import Static


def test_textual_still_has_every_name_that_is_leaned_on() -> None:
    for owner, name in WATCHED:
        assert callable(getattr(owner, name, None)), (
            f"Textual's {owner.__name__} has no {name}() any more. tests/tui/still.py watches it to know when work was "
            "put off: find out what replaced it, and watch that."
        )


async def test_the_screen_can_still_be_read() -> None:
    async with App[None]().run_test() as pilot:
        assert hasattr(getattr(pilot.app.screen, PRIVATE, None), "render_strips"), (
            f"A screen of Textual has no {PRIVATE}.render_strips() any more. tests/tui/still.py reads the screen "
            "by it, in strips(): find out what gives the rows of a screen now."
        )


class Counting(App[None]):
    """Puts off one thing after another, each in another way, and shows how far it came."""

    def compose(self) -> ComposeResult:
        yield Static("0")

    def show(self, text: str) -> None:
        self.query_one(Static).update(text)

    def key_a(self) -> None:
        self.show("a key")
        self.call_after_refresh(self.painted)

    def painted(self) -> None:
        self.show("painted")
        self.call_later(self.later)

    def later(self) -> None:
        self.show("later")
        self.set_timer(0.03, self.rung)

    def rung(self) -> None:
        self.query_one(Static).styles.margin = (2, 0)
        self.call_after_refresh(self.show, "the end")


async def test_all_that_is_put_off_is_done_before_it_rests() -> None:
    with put_off.watching():
        async with Counting().run_test() as pilot:
            await still(pilot)
            assert painted(pilot.app)[0] == "0"
            pilot.app.post_message(key_event("a"))
            await still(pilot)
            assert painted(pilot.app)[:3] == ["", "", "the end"]


async def test_what_is_stopped_or_comes_late_is_not_waited_for() -> None:
    with put_off.watching():
        async with Counting().run_test() as pilot:
            timer = pilot.app.set_timer(0.04, lambda: pilot.app.query_one(Static).update("too late"))
            assert put_off.soon
            timer.stop()
            pilot.app.set_timer(60.0, lambda: pilot.app.query_one(Static).update("much too late"))
            assert not put_off.soon
            await still(pilot)
            assert painted(pilot.app)[0] == "0"


async def test_an_app_that_never_rests_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("still.LONGEST", 0.2)
    with put_off.watching():
        async with App[None]().run_test() as pilot:
            timer = pilot.app.set_interval(0.0005, pilot.app.refresh)
            with pytest.raises(AssertionError, match="does not come to rest"):
                await still(pilot)
            timer.stop()
            monkeypatch.setattr("still.LONGEST", 60.0)
            await still(pilot)


@pytest.mark.parametrize(
    ("name", "character"),
    [("a", "a"), ("7", "7"), ("space", " "), ("slash", "/"), ("minus", "-"), ("full_stop", "."), ("enter", None)],
)
def test_a_key_has_the_character_that_a_terminal_would_send(name: str, character: str | None) -> None:
    assert key_event(name).character == character


async def test_a_loop_rests_when_only_time_or_a_thread_can_go_on() -> None:
    loop, done = asyncio.get_running_loop(), []
    assert isinstance(loop, Resting)
    asyncio.get_running_loop().call_later(60, done.append, "after a minute")

    async def steps() -> None:
        for n in range(50):
            await asyncio.sleep(0)
            done.append(n)

    task = asyncio.ensure_future(steps())
    await loop.rest()
    assert task.done()
    assert done == list(range(50))
