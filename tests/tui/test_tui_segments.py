"""A display drawn segment by segment: by keys alone, by mouse alone, doubtful, faulty, in steps."""

from __future__ import annotations

import re
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from threading import Event

import pytest
from stage import Hand, Stage, golden
from still import strips

from diag.case.observe.observation import Observation
from diag.machine.model import Code, Indication, Kind, State
from diag.panel.display.segments import MOST_DIGITS, glyph, names
from diag.tui.screens.segments.digit_entry import begin
from diag.tui.screens.segments.digits import BLOCKS, HIGH, PLAIN, drawing
from diag.tui.screens.segments.draw_segments import Segments

WIDE = 9
"""Columns from one digit to the next."""
OTHER_MEANS = "a code that is not in this file"
SPOTS = {
    "a": [(1, 0), (5, 0)],
    "f": [(0, 1), (1, 2)],
    "b": [(6, 1), (5, 2)],
    "g": [(1, 3), (5, 3)],
    "e": [(0, 4), (1, 5)],
    "c": [(6, 4), (5, 5)],
    "d": [(1, 6), (5, 6)],
    ".": [(7, 6), (8, 6)],
}
"""Where a finger may come down on each segment: two places, both of which are it."""


def display(codes: dict[str, tuple[str, str]], characters: int, scrolls: bool = False) -> Indication:
    """A display with these codes, each with its state and meaning."""
    states = dict(reversed(codes.values())) | {"other": OTHER_MEANS}
    return Indication(
        id="front-display",
        kind=Kind.DISPLAY,
        title="Front display",
        states=tuple(State(id, means) for id, means in states.items()),
        normal=next(iter(codes.values()))[0],
        characters=characters,
        codes=tuple(Code(pattern, *meant) for pattern, meant in codes.items()),
        scrolls=scrolls,
    )


THREE = display(
    {
        "   ": ("blank", "nothing shown"),
        "E03": ("guard", "the guard circuit is open"),
        "E08": ("drive", "the drive has tripped"),
        "F18": ("fan", "the fan does not turn"),
        "P60": ("pressure", "air pressure is low"),
        "P61": ("pressure", "air pressure is gone"),
        "P62": ("level", "the oil is low"),
        "P63": ("filter", "the filter is full"),
        "P64": ("valve", "the valve did not answer"),
        "P65": ("hose", "the hose is kinked"),
        "P67": ("gauge", "the gauge is dead"),
    },
    3,
)
EIGHT = display({"Err-0042": ("bus", "the bus is silent"), "Err-0043": ("node", "a node is lost")}, 8)
ROUND = display({"E04": ("lift", "the lift is overloaded"), "E05": ("door", "the door is open")}, 1, scrolls=True)


def alike(observation: Observation) -> tuple[tuple[str, float], ...]:
    """Nothing is known: every state that fits weighs as its observation."""
    total = sum(observation.seen.values())
    return tuple((state, p / total) for state, p in observation.seen.items())


@dataclass
class Box:
    """The box on the screen, and what it gave in the end."""

    hand: Hand
    gave: list[Observation | None] = field(default_factory=list)

    @property
    def observation(self) -> Observation:
        assert len(self.gave) == 1, f"it gave {self.gave}:\n{self.hand.text}"
        assert self.gave[0] is not None
        return self.gave[0]

    async def touch(self, digit: int, segments: str, spot: int = 0) -> None:
        """Clicks on segments of a digit, counted from 0."""
        x, y = self.corner
        for name in segments:
            column, row = SPOTS[name][spot]
            await self.hand.click_at(x + digit * WIDE + column, y + row)

    @property
    def corner(self) -> tuple[int, int]:
        region = self.hand.app.screen.query_one("#segments-digits").region
        return region.x, region.y

    @property
    def rows(self) -> list[str]:
        """What is drawn, without the line below it."""
        x, y = self.corner
        return [row[x : x + WIDE * MOST_DIGITS] for row in self.hand.lines[y : y + HIGH]]

    @property
    def below(self) -> str:
        x, y = self.corner
        return self.hand.lines[y + HIGH][x:]


def segments_of(character: str) -> str:
    return names(glyph(character))


@asynccontextmanager
async def opened(
    stage: Stage,
    indication: Indication,
    could_be: Callable[[Observation], tuple[tuple[str, float], ...]] = alike,
    start: str = "",
    size: tuple[int, int] = (80, 24),
) -> AsyncIterator[Box]:
    async with stage.run(size=size) as hand:
        box = Box(hand)
        hand.app.push_screen(Segments(indication, could_be, start), box.gave.append)
        await hand.settle()
        yield box


async def enter(box: Box, code: str) -> None:
    """A code by single segments, digit by digit, with keys."""
    for n, character in enumerate(code):
        await box.hand.press(*(["right"] if n else []), *segments_of(character))


# ---------------------------------------------------------------- a code as it is


async def test_a_code_by_keys_gives_its_state(stage: Stage) -> None:
    async with opened(stage, THREE) as box:
        await box.hand.press(*"adefg", "right", "0", "right", "3")
        assert "Reads as E03" in box.hand.box
        assert "the guard circuit is open" in box.hand.box
        await box.hand.press("enter")
        assert box.observation.doubtful == ("guard",)
        assert box.observation.said == "E03"


async def test_a_code_by_mouse_gives_its_state(stage: Stage) -> None:
    for spot in (0, 1):
        async with opened(stage, THREE) as box:
            for n, character in enumerate("P62"):
                await box.touch(n, segments_of(character), spot)
            await box.hand.click("↵ take")
            assert box.observation.doubtful == ("level",)
            assert box.observation.said == "P62"


async def test_clicks_blank_clear_and_choose(stage: Stage) -> None:
    async with opened(stage, THREE) as box:
        await box.touch(1, "abcdefg.")
        assert "▲  2  ▲" in box.below
        assert "Reads as 8." in box.hand.box
        await box.hand.click("space blank")
        assert "Reads as blank" in box.hand.box
        x, y = box.corner
        await box.hand.click_at(x + 2 * WIDE + 3, y + 1)
        assert "▲  3  ▲" in box.below
        await box.hand.click("x cannot be read")
        assert "?????" in box.rows[0]
        await box.hand.click("← before")
        assert "▲  2  ▲" in box.below
        await box.hand.click("backspace clear all")
        assert "Nothing entered yet." in box.hand.box
        await box.hand.click("esc back")
        assert box.gave == [None]


async def test_a_click_on_the_small_drawing_switches_the_marked_digit(stage: Stage) -> None:
    async with opened(stage, THREE) as box:
        await box.hand.press("right")
        x, y = box.hand.app.screen.query_one("#segments-legend").region.offset
        for column, row in [SPOTS[s][0] for s in "bc."]:
            await box.hand.click_at(x + column, y + row)
        assert "Reads as 1." in box.hand.box


async def test_a_key_pressed_twice_takes_it_back(stage: Stage) -> None:
    async with opened(stage, THREE) as box:
        before = box.rows
        await box.hand.press("g", "g", "full_stop", "full_stop", "x", "x")
        assert box.rows == before
        await box.hand.press("8", "left", "space")
        assert box.rows == before
        assert "nothing shown" in box.hand.box
        await box.hand.press("enter")
        assert box.observation.doubtful[0] == "blank"


# ---------------------------------------------------------------- a doubtful one


async def test_one_segment_missing_leaves_the_true_state_among_several(stage: Stage) -> None:
    async with opened(stage, THREE) as box:
        await enter(box, "E08")
        await box.hand.press("g")
        assert "Reads as E00" in box.hand.box
        assert "It could be" in box.hand.box
        await box.hand.press("enter")
        assert "drive" in box.observation.doubtful
        assert len(box.observation.doubtful) > 1


@pytest.mark.parametrize("by", ["keys", "mouse"])
async def test_the_same_segment_missing_everywhere_blames_the_display(stage: Stage, by: str) -> None:
    async with opened(stage, THREE) as box:
        for n, character in enumerate("E08"):
            lit = segments_of(character).replace("a", "")
            if by == "mouse":
                await box.touch(n, lit)
            else:
                await box.hand.press(*(["right"] if n else []), *lit)
            if n < 2:
                assert "at fault" not in box.hand.box, "what is not entered yet is dark as well"
        assert "▲ The display itself may be at fault (segment a dark in every digit" in box.hand.box
        assert "Its lamp test tells." in box.hand.box
        await (box.hand.click("↵ take") if by == "mouse" else box.hand.press("enter"))
        assert "segment a dark in every digit" in box.observation.note
        assert box.observation.doubtful[0] == "drive"


async def test_a_digit_that_cannot_be_read_leaves_all_that_fit(stage: Stage) -> None:
    async with opened(stage, THREE) as box:
        await box.hand.press(*segments_of("P"), "right", "6", "right", "x")
        assert box.rows[0].count("?") == 5
        assert "P60, P61 pressure" in box.hand.box, "two codes of one state that mean two things"
        assert "and 1 more" in box.hand.box
        await box.hand.press("enter")
        assert set(box.observation.doubtful) >= {"pressure", "level", "filter", "valve", "hose"}
        assert "guard" not in box.observation.doubtful
        assert box.observation.said == "P6?"


async def test_the_order_is_by_what_is_known_once_that_is_worked_out(stage: Stage) -> None:
    may, asked = Event(), Event()

    def slow(observation: Observation) -> tuple[tuple[str, float], ...]:
        asked.set()
        may.wait(120)
        return (("hose", 0.7), ("valve", 0.25), ("level", 0.05), ("guard", 0.0))

    async with opened(stage, THREE, slow) as box:
        for key in (*segments_of("P"), "right", "6", "right", "x"):
            await box.hand.key(key)
        await box.hand.until(lambda: asked.is_set() and "P6?" in box.hand.text)
        assert "the best likeness first" in box.hand.box
        assert "70 %" not in box.hand.box
        may.set()
        await box.hand.settle()
        assert "by what is known so far" in box.hand.box
        assert "Only what was seen is stored, not this order." in box.hand.box
        assert re.search(r"70 % .*P65 the hose is kinked .*25 % .*P64 .* 5 % .*P62 the oil is low", box.hand.box)
        assert "guard circuit" not in box.hand.box, "it does not fit what was seen"
        await box.hand.press("enter")
        assert box.observation.seen["hose"] == box.observation.seen["valve"], "belief is not in the observation"


async def test_a_belief_that_fails_leaves_the_sight(stage: Stage) -> None:
    def broken(observation: Observation) -> tuple[tuple[str, float], ...]:
        raise ValueError("no belief")

    async with opened(stage, THREE, broken) as box:
        for key in (*segments_of("P"), "right", "6", "right", "x"):
            await box.hand.key(key)
        await box.hand.until(lambda: "P6?" in box.hand.text)
        assert "the best likeness first" in box.hand.box
        await box.hand.key("enter")
        assert "hose" in box.observation.doubtful


# ---------------------------------------------------------------- in steps


async def test_a_code_in_steps_from_the_middle_of_its_round_by_keys(stage: Stage) -> None:
    async with opened(stage, ROUND) as box:
        assert "One digit, in steps: enter each as it comes, the dark gap too." in box.hand.box
        await box.hand.press("0", "right", "4", "right", "right", *segments_of("E"))
        assert "Reads as 0, 4, dark, E" in box.hand.box
        assert "the lift is overloaded" in box.hand.box
        await box.hand.press("enter")
        assert box.observation.doubtful == ("lift",)
        assert box.observation.said == "0, 4, dark, E"


async def test_a_code_in_steps_by_mouse(stage: Stage) -> None:
    async with opened(stage, ROUND) as box:
        for n, character in enumerate("5 E0"):
            if n:
                await box.hand.click("→ next step")
            await box.touch(n, segments_of(character))
        await box.hand.click("↵ take")
        assert box.observation.doubtful == ("door",)


async def test_no_more_than_eight_steps(stage: Stage) -> None:
    async with opened(stage, ROUND) as box:
        await box.hand.press("8", *["right"] * 9)
        assert "▲  8  ▲" in box.below
        assert "No more than 8 steps" in box.hand.status
        assert len(box.below.rstrip("│ ")) <= WIDE * MOST_DIGITS
        await box.hand.press("backspace")
        assert box.below.rstrip("│ ") == "▲  1  ▲"


# ---------------------------------------------------------------- what it begins and ends with


async def test_eight_digits_at_80_columns(stage: Stage) -> None:
    async with opened(stage, EIGHT, start="Err-0042") as box:
        assert "8" in box.below
        await box.hand.press(*["right"] * 9)
        assert "▲  8  ▲" in box.below
        await box.touch(7, "f", 1)
        await box.touch(7, ".", 1)
        assert "the bus is silent" in box.hand.box
        assert all(row.startswith("│") and row.endswith("│") for row in box.hand.lines[1:-1])
        await box.hand.press("enter")
        assert box.observation.doubtful[0] == "bus"
        assert box.observation.said == "Err-004[abdefg]."


async def test_it_starts_with_what_was_typed(stage: Stage) -> None:
    async with opened(stage, THREE, start="E.K3") as box:
        assert "Reads as E. 3" in box.hand.box
        await box.hand.press("right", "0", "enter")
        assert box.observation.said == "E.03"
        assert box.observation.doubtful == ("guard",)


def test_what_was_typed_as_cells() -> None:
    e, dark = glyph("E"), 0
    assert begin(3, False, "").cells == (dark, dark, dark)
    assert not begin(3, False, "").entered
    assert begin(3, False, "blank").cells == (dark, dark, dark)
    assert begin(3, False, "blank").entered
    assert begin(3, False, "E?").cells == (e, None, dark)
    assert begin(2, False, "EEEE").cells == (e, e)
    assert begin(2, False, "E,?.").cells == (e | 128, None)
    assert begin(3, False, ".E\x1b").cells == (128, e, dark)
    assert begin(1, True, "E_4").cells == (e, dark, glyph("4"))
    assert begin(1, True, "").cells == (dark,)
    assert len(begin(1, True, "E" * 20).cells) == MOST_DIGITS


async def test_enter_with_nothing_entered_says_so(stage: Stage) -> None:
    async with opened(stage, THREE) as box:
        await box.hand.press("right", "enter")
        assert "Nothing is entered yet" in box.hand.status
        assert box.gave == []
        await box.hand.press("space", "enter")
        assert box.observation.doubtful == ("blank",)


async def test_escape_gives_nothing(stage: Stage) -> None:
    async with opened(stage, THREE, start="E03") as box:
        await box.hand.press("f1")
        assert "Draw what the display shows" in box.hand.text
        await box.hand.press("escape")
        assert box.gave == []
        await box.hand.press("escape")
        assert box.gave == [None]


async def test_words_of_a_file_are_never_markup(stage: Stage) -> None:
    odd = display({"E1": ("one", "[red]stop[/x] \x1b[31m now"), "E2": ("two", "[@click=app.quit]x[/]")}, 2)
    async with opened(stage, odd) as box:
        await box.hand.press(*segments_of("E"), "right", "x")
        assert "[red]stop[/x] [31m now" in box.hand.box
        assert "[@click=app.quit]x[/]" in box.hand.box


# ---------------------------------------------------------------- how it looks


async def test_picture(stage: Stage) -> None:
    async with opened(stage, THREE) as box:
        golden(box.hand, "segments-empty")
        await box.hand.press(*segments_of("P").replace("a", ""), "right", *segments_of("6").replace("a", ""))
        await box.hand.press("right", "x")
        golden(box.hand, "segments-doubtful")
    async with opened(stage, EIGHT, start="E.rr-0042") as box:
        golden(box.hand, "segments-eight")
    async with opened(stage, ROUND, start="04_E") as box:
        golden(box.hand, "segments-steps")


async def test_a_larger_terminal(stage: Stage) -> None:
    async with opened(stage, THREE, start="E03", size=(140, 40)) as box:
        assert "the guard circuit is open" in box.hand.box
        await box.touch(2, "c")
        assert "Reads as E0[abdg]" in box.hand.box


async def test_without_colour_lit_and_dark_differ(stage: Stage, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    async with opened(stage, THREE, start="1") as box:
        assert box.rows[1][:WIDE] == "┆     █  "
        row = strips(box.hand.app)[box.corner[1] + HIGH]
        marked = next(s for s in row if "▲" in s.text)
        assert marked.style is not None
        assert marked.style.reverse


def test_without_blocks_lit_and_dark_differ() -> None:
    entry = begin(2, False, "1.").figure(7).step(1).unread()
    plain = drawing(entry, PLAIN).plain
    assert plain.isascii()
    assert plain.splitlines() == [
        " #####    ?????   ",
        ":     #  ?     ?  ",
        ":     #  ?     ?  ",
        " .....    ?????   ",
        ":     #  ?     ?  ",
        ":     #  ?     ?  ",
        " ..... #  ????? . ",
        "   1     ^  2  ^  ",
    ]
    assert not set("#:") & set(drawing(entry, BLOCKS).plain)


async def test_a_terminal_without_blocks(stage: Stage, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LC_ALL", "C")
    async with opened(stage, THREE, start="1") as box:
        assert box.rows[1][:WIDE] == ":     #  "
        assert "^  1  ^" in box.below
