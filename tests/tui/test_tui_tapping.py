"""Tapping along with a lamp: by keys alone and by mouse alone, with a clock that the test sets."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, field

import pytest
from stage import Hand, Stage, golden

from diag.case.observe.observation import Observation
from diag.machine.model import Indication, Kind, State
from diag.panel.lamps import flash
from diag.tui.screens.tapping.tap_along import TapAlong


def lamp(title: str = "Drive lamp", **states: str) -> Indication:
    """A green lamp with these patterns by state."""
    found = tuple(State(id, pattern=pattern) for id, pattern in states.items())
    return Indication(
        id="drive-lamp", kind=Kind.LAMP, title=title, states=found, normal=found[0].id, colour="green", where="in front"
    )


DRIVE = lamp(
    ready="steady", one="1 flash", two="2 flashes", waits="blink 0.5 Hz", runs="blink", boots="flicker", dark="off"
)
ONSETS = {"one": (1200, (0,)), "two": (1600, (0, 400)), "waits": (2000, (0,)), "runs": (400, (0,))}
"""State to its period and when it lights in it, in milliseconds."""
RHYTHMS = pytest.mark.parametrize("state", ONSETS)


def rhythm(state: str, rounds: int = 4) -> list[float]:
    """When a person taps along with it: seconds."""
    period, onsets = ONSETS[state]
    return [(n * period + onset) / 1000 for n in range(rounds) for onset in onsets]


@dataclass
class Tapper:
    """The hand, the clock that it taps by, and what the box gave back."""

    hand: Hand
    now: float = 5000.0
    given: list[Observation | None] = field(default_factory=list)

    def seconds(self) -> float:
        return self.now

    async def keys(self, *keys: str, after: float = 1.0) -> None:
        self.now += after
        await self.hand.press(*keys)

    async def tap(self, times: list[float], key: str = "space") -> None:
        start = self.now
        for at in times:
            self.now = start + at
            await self.hand.key(key)
        await self.hand.settle()

    async def clicks(self, times: list[float]) -> None:
        start, pad = self.now, self.hand.where("TAP HERE")
        for at in times:
            self.now = start + at
            await self.hand.mouse_down(*pad)
            # A finger needs a moment to let go; only the pressing counts.
            self.now += 0.09
            await self.hand.mouse_up(*pad)
        await self.hand.settle()

    async def click(self, words: str) -> None:
        self.now += 1
        await self.hand.click(words)

    @property
    def best(self) -> str:
        """The state that the observation fits best; the box is gone, and it gave back this one thing."""
        assert len(self.given) == 1
        found = self.given[0]
        assert found is not None
        return found.doubtful[0]


@asynccontextmanager
async def box(
    stage: Stage, indication: Indication = DRIVE, size: tuple[int, int] = (80, 24), where: str = ""
) -> AsyncIterator[Tapper]:
    async with stage.run(size=size) as hand:
        tapper = Tapper(hand)
        hand.app.push_screen(TapAlong(indication, tapper.seconds, where), tapper.given.append)
        await hand.settle()
        yield tapper


# ---------------------------------------------------------------- rhythms


@RHYTHMS
async def test_a_rhythm_by_keys_alone(stage: Stage, state: str) -> None:
    async with box(stage) as tapper:
        await tapper.tap(rhythm(state))
        assert f"Enough: {state} (" in tapper.hand.status
        await tapper.keys("enter")
        assert tapper.best == state
        assert tapper.given[0].doubtful == (state,)  # type: ignore[union-attr]


@RHYTHMS
async def test_a_rhythm_by_mouse_alone(stage: Stage, state: str) -> None:
    async with box(stage) as tapper:
        await tapper.clicks(rhythm(state))
        assert f"Enough: {state} (" in tapper.hand.status
        await tapper.click("↵ take")
        assert tapper.best == state


async def test_the_key_bar_taps_too(stage: Stage) -> None:
    async with box(stage) as tapper:
        start = tapper.now
        for at in rhythm("one"):
            tapper.now = start + at
            await tapper.hand.click("space tap")
        await tapper.click("↵ take")
        assert tapper.best == "one"


async def test_each_tap_shows_at_once_how_well_each_state_fits(stage: Stage) -> None:
    async with box(stage) as tapper:
        hand = tapper.hand
        assert "%" not in hand.text
        assert "█" not in hand.text
        assert "how well the taps fit" not in hand.text
        await tapper.tap([0])
        assert "how well the taps fit" in hand.text
        assert hand.text.count("%") == len(DRIVE.states)
        assert "1 tap " in hand.words
        await tapper.keys("space", after=1.2)
        assert "Go on tapping: one (1 flash) and " in hand.words
        assert "both fit." in hand.words
        await tapper.keys("space", after=1.2)
        assert "So far one (1 flash) stands out." in hand.words
        await tapper.keys("space", after=1.2)
        assert "✓ Enough: one (1 flash) stands out." in hand.words


async def test_groups_are_seen_as_groups(stage: Stage) -> None:
    async with box(stage) as tapper:
        await tapper.tap(rhythm("two"))
        strip = next(row for row in tapper.hand.lines if "last 6 s" in row)
        assert "┃───┃───────────┃───┃───────────┃───┃" in strip


async def test_the_lamp_beside_the_pad_flashes_as_the_best_state(stage: Stage) -> None:
    async with box(stage) as tapper:
        assert "Does it look like this?" not in tapper.hand.text
        await tapper.tap(rhythm("one"))
        assert "Does it look like this?" in tapper.hand.text
        period, _ = ONSETS["one"]
        for ms in range(0, 2 * period, 150):
            tapper.now = 6000 + ms / 1000
            lit = flash.lit_at(flash.parse("1 flash"), tapper.now * 1000)
            await tapper.hand.until(lambda lit=lit: ("▗▟███▙▖" in tapper.hand.text) is lit)


async def test_nothing_moves_where_nothing_may(stage: Stage) -> None:
    async with box(stage) as tapper:
        tapper.hand.app.animation_level = "none"
        await tapper.tap(rhythm("one"))
        before = tapper.hand.text
        assert "◉1 │" in before
        tapper.now += 1.9
        tapper.hand.app.screen._tick()  # type: ignore[attr-defined]
        await tapper.hand.settle()
        assert tapper.hand.text == before


# ---------------------------------------------------------------- no flashing, too fast


@pytest.mark.parametrize(
    ("key", "click", "state"),
    [("l", "l stays lit", "ready"), ("d", "d stays dark", "dark"), ("f", "f too fast", "boots")],
)
async def test_what_is_not_tapped_is_said(stage: Stage, key: str, click: str, state: str) -> None:
    async with box(stage) as tapper:
        await tapper.keys(key)
        assert f"✓ Enough: {state}" in tapper.hand.words
        assert "how well that fits" in tapper.hand.text
        await tapper.keys("enter")
        assert tapper.best == state
        assert tapper.given[0].doubtful == (state,)  # type: ignore[union-attr]
    async with box(stage) as tapper:
        await tapper.click(click)
        await tapper.click("↵ take")
        assert tapper.best == state


async def test_a_tap_after_them_begins_anew(stage: Stage) -> None:
    async with box(stage) as tapper:
        await tapper.tap(rhythm("two"))
        await tapper.keys("d")
        assert "Enough: dark" in tapper.hand.status
        await tapper.tap(rhythm("one"))
        assert "4 taps" in tapper.hand.text
        await tapper.keys("enter")
        assert tapper.best == "one"


async def test_too_fast_for_all_that_the_file_knows(stage: Stage) -> None:
    async with box(stage, lamp(lit="steady", slow="blink 1 Hz", dark="off")) as tapper:
        await tapper.keys("f")
        assert "faster than any state of this lamp in the file" in tapper.hand.status
        await tapper.keys("enter")
        assert not tapper.given


# ---------------------------------------------------------------- holding

APART = lamp(short="200/1000 ms", long="700/500 ms", dark="off")
"""Two states that light equally often: only how long they are lit tells them apart."""
LIT = {"short": 0.2, "long": 0.7}


@pytest.mark.parametrize("state", LIT)
async def test_holding_by_keys(stage: Stage, state: str) -> None:
    async with box(stage, APART) as tapper:
        await tapper.tap(rhythm("one"))
        assert "both fit" in tapper.hand.words
        await tapper.keys("h")
        assert "%" not in tapper.hand.text
        for n in range(4):
            await tapper.keys("j", after=1.2 - LIT[state] if n else 1.0)
            assert "now let go" in tapper.hand.text
            await tapper.keys("k", after=LIT[state])
        assert f"Enough: {state}" in tapper.hand.status
        # The last press has no end yet: it is left out.
        await tapper.keys("j", after=1.2 - LIT[state])
        await tapper.keys("enter", after=3.0)
        assert tapper.best == state
        assert tapper.given[0].said == "held along 4 times"  # type: ignore[union-attr]


@pytest.mark.parametrize("state", LIT)
async def test_holding_by_mouse(stage: Stage, state: str) -> None:
    async with box(stage, APART) as tapper:
        await tapper.click("h hold instead")
        pad = tapper.hand.where("HOLD HERE")
        for _ in range(4):
            tapper.now += 1.2 - LIT[state]
            await tapper.hand.mouse_down(*pad)
            await tapper.hand.settle()
            assert "now let go" in tapper.hand.text
            tapper.now += LIT[state]
            # Let go of beside the pad, it is let go of all the same.
            await tapper.hand.mouse_up(2, 2)
            await tapper.hand.settle()
        assert f"Enough: {state}" in tapper.hand.status
        await tapper.click("↵ take")
        assert tapper.best == state


async def test_holding_and_back_begins_anew_each_time(stage: Stage) -> None:
    async with box(stage, APART) as tapper:
        await tapper.keys("k")
        assert "TAP HERE" in tapper.hand.text
        await tapper.keys("h", "k")
        assert "First j" in tapper.hand.status
        await tapper.keys("space")
        assert "h goes back" in tapper.hand.status
        await tapper.keys("j")
        await tapper.keys("k")
        assert "1 press " in tapper.hand.words
        await tapper.keys("h")
        assert "TAP HERE" in tapper.hand.text
        assert "none yet" in tapper.hand.text


# ---------------------------------------------------------------- what goes wrong


async def test_a_key_that_is_held_down_is_no_tapping(stage: Stage) -> None:
    async with box(stage) as tapper:
        await tapper.tap([0, 1.2, 2.4, 3.6])
        await tapper.tap([0.5 + 0.033 * n for n in range(8)])
        assert "Tap the key, do not hold it." in tapper.hand.status
        assert "4 taps" in tapper.hand.text
        await tapper.tap([4.8 - 3.6 - 0.231 - 0.5])
        assert "do not hold" not in tapper.hand.text
        await tapper.keys("enter")
        assert tapper.best == "one"
        assert tapper.given[0].said == "tapped 5 times"  # type: ignore[union-attr]


async def test_a_key_held_down_while_it_is_lit_is_told(stage: Stage) -> None:
    async with box(stage) as tapper:
        await tapper.keys("h")
        await tapper.tap([0, *(0.5 + 0.033 * n for n in range(5))], "j")
        assert "Tap the key, do not hold it." in tapper.hand.status
        await tapper.keys("enter")
        assert "Nothing was tapped yet." in tapper.hand.status


async def test_more_taps_than_count_do_no_harm(stage: Stage) -> None:
    async with box(stage) as tapper:
        await tapper.tap(rhythm("runs", rounds=66))
        assert "66 taps" in tapper.hand.text
        await tapper.keys("enter")
        assert tapper.best == "runs"


async def test_beginning_anew(stage: Stage) -> None:
    async with box(stage) as tapper:
        await tapper.tap(rhythm("two"))
        await tapper.keys("backspace")
        assert "%" not in tapper.hand.text
        assert "┃" not in tapper.hand.text
        await tapper.keys("enter")
        assert "Nothing was tapped yet." in tapper.hand.status
        await tapper.tap(rhythm("two"))
        await tapper.click("bksp start again")
        assert "none yet" in tapper.hand.text
        await tapper.tap(rhythm("one"))
        await tapper.keys("enter")
        assert tapper.best == "one"


FEW = lamp(lit="steady", waits="blink 0.5 Hz", dark="off")


async def test_what_the_file_does_not_know_is_asked_twice(stage: Stage) -> None:
    async with box(stage, FEW) as tapper:
        await tapper.tap(rhythm("two", rounds=1))
        assert "no state" in tapper.hand.status
        await tapper.tap(rhythm("two"))
        assert "! It looks like 2 flashes, which is no state of this lamp in the file." in tapper.hand.words
        assert "how well the taps fit: none well" in tapper.hand.text
        await tapper.keys("enter")
        assert "Enter once more takes it all the same." in tapper.hand.words
        # A key that is held down is no second thought.
        await tapper.keys("enter", after=0.03)
        assert not tapper.given
        # Nor is an Enter after another tap.
        await tapper.keys("space", after=1.2)
        await tapper.keys("enter")
        assert not tapper.given
        await tapper.keys("enter")
        assert len(tapper.given) == 1
        assert tapper.given[0].note.startswith("It looks like 2 flashes")  # type: ignore[union-attr]


async def test_the_same_by_mouse(stage: Stage) -> None:
    async with box(stage, FEW) as tapper:
        await tapper.clicks(rhythm("two"))
        await tapper.click("↵ take")
        assert not tapper.given
        await tapper.click("↵ take")
        assert len(tapper.given) == 1


async def test_states_that_flash_alike_are_told(stage: Stage) -> None:
    both = Indication(
        id="able", kind=Kind.LAMP, title="Able", normal="fine", colour="green",
        states=(State("fine", pattern="blink 1 Hz"), State("bad", pattern="blink 1 Hz", colour="red")),
    )  # fmt: skip
    async with box(stage, both) as tapper:
        await tapper.tap([0.0, 1.0, 2.0, 3.0, 4.0])
        assert "flash alike: tapping cannot tell them apart." in tapper.hand.words
        await tapper.keys("enter")
        assert set(tapper.given[0].doubtful) == {"fine", "bad"}  # type: ignore[union-attr]


async def test_escape_gives_nothing(stage: Stage) -> None:
    async with box(stage) as tapper:
        await tapper.tap(rhythm("two"))
        await tapper.keys("escape")
        assert tapper.given == [None]
    async with box(stage) as tapper:
        await tapper.click("esc back")
        assert tapper.given == [None]


# ---------------------------------------------------------------- what it looks like


async def test_help_names_every_key(stage: Stage) -> None:
    async with box(stage, size=(100, 60)) as tapper:
        await tapper.keys("question_mark")
        for words in ("Tap along with a lamp", "goes dark", "bksp", "a tap, on the line"):
            assert words in tapper.hand.words
        await tapper.keys("escape", "f1")
        assert "Tap along with a lamp" in tapper.hand.text
        await tapper.keys("escape", "escape")
        assert tapper.given == [None]


MANY = lamp("Link lamp", **{f"state-{n}": f"{100 + 40 * n}/{200 + 90 * n} ms" for n in range(12)}, dark="off")


async def test_more_states_than_fit(stage: Stage) -> None:
    """The best are shown, and how many more there are; with more room they all are."""
    async with box(stage, MANY) as tapper:
        assert "and 5 more" in tapper.hand.text
        assert "state 11" not in tapper.hand.text
        await tapper.tap([n * (0.54 + 1.19) for n in range(5)])
        assert "state 11" in tapper.hand.text
        assert "and 5 more that fit less well" in tapper.hand.text
        assert "? help" in tapper.hand.lines[-2]
    async with box(stage, MANY, size=(100, 30)) as tapper:
        assert "state 11" in tapper.hand.text
        assert "more" not in tapper.hand.text


@pytest.mark.parametrize("count", range(2, 10))
async def test_two_to_nine_states_fit(stage: Stage, count: int) -> None:
    some = lamp(**{s.id: s.pattern for s in MANY.states[:count]})
    async with box(stage, some) as tapper:
        await tapper.tap([0.0, 0.5])
        for state in some.states:
            assert state.id.replace("-", " ") in tapper.hand.text
        assert "? help" in tapper.hand.text
        assert "┘" in tapper.hand.text


async def test_text_of_the_file_is_shown_as_it_is(stage: Stage) -> None:
    odd = lamp("[b]Lamp[/x]\x1b[31m", **{"[red]s[/]": "steady", "dark": "off"})
    async with box(stage, odd, where="[/nope] \x1b]0;gone\x07") as tapper:
        await tapper.keys("l")
        assert "[b]Lamp[/x]" in tapper.hand.text
        assert "[/nope]" in tapper.hand.text
        assert "[red]s[/]" in tapper.hand.text
        assert "\x1b" not in tapper.hand.text


async def test_it_shows_without_colour(stage: Stage, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    async with box(stage) as tapper:
        await tapper.tap(rhythm("one"))
        assert "Enough: one" in tapper.hand.status


@pytest.mark.parametrize("size", [(80, 24), (140, 40)], ids=lambda s: f"{s[0]}x{s[1]}")
async def test_pictures(stage: Stage, size: tuple[int, int]) -> None:
    async with box(stage, size=size) as tapper:
        tapper.hand.app.animation_level = "none"
        golden(tapper.hand, "tapping")
        await tapper.tap(rhythm("two"))
        golden(tapper.hand, "tapping-enough")
        await tapper.keys("h", "j")
        await tapper.keys("k", after=0.6)
        await tapper.keys("j", after=0.4)
        golden(tapper.hand, "tapping-held")
