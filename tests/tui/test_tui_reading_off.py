"""Tapping along and drawing, without their boxes: what was tapped or drawn, what it is worth, what is said of it."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from diag.machine.load import read
from diag.machine.model import Indication, Kind, Machine, State
from diag.tui.screens.segments.digit_entry import begin
from diag.tui.screens.segments.drawn_code import could_be, observed, said
from diag.tui.screens.tapping.tapping import APART, RUNS_ON, Fit, Tapping

ROOT = Path(__file__).parents[2]
LAMP = Indication(
    id="drive-lamp", kind=Kind.LAMP, title="Drive lamp", normal="ready", colour="green",
    states=tuple(State(id, pattern=p) for id, p in {"ready": "steady", "one": "1 flash", "two": "2 flashes",
                                                    "dark": "off"}.items()),
)  # fmt: skip
ONE, TWO = (1200.0, (0.0,)), (1600.0, (0.0, 400.0))
"""Period and when it lights in it, in milliseconds."""


@pytest.fixture(scope="module")
def bench() -> Machine:
    return read(ROOT / "tests" / "kinds" / "bench")


def tap(tapping: Tapping, beat: tuple[float, tuple[float, ...]], rounds: int, start: float = 5000.0) -> None:
    """Tap along, and weigh it, as the box does in a thread."""
    period, onsets = beat
    for n in range(rounds):
        for onset in onsets:
            tapping.rhythm.tap(start + n * period + onset)
    weigh(tapping)


def weigh(tapping: Tapping) -> None:
    tapped = tapping.changed()
    while tapped is not None:
        tapped = tapping.weighed(tapped, tapping.weigh(tapped))


def test_the_plain_parts_load_no_textual() -> None:
    names = ("tapping.tapping", "tapping.rhythm", "segments.digit_entry", "segments.drawn_code")
    code = (
        "; ".join(f"import diag.tui.screens.{name}" for name in names) + "; import sys; print('textual' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stdout.strip() == "False"


# ---------------------------------------------------------------- tapping


def test_it_says_what_to_do_until_one_stands_out() -> None:
    tapping = Tapping(LAMP)
    assert tapping.told()[1].startswith("Tap along for about")
    assert tapping.fit == Fit()
    tap(tapping, ONE, 2)
    assert tapping.told()[0] == "hint"
    tap(tapping, ONE, 3, start=5000.0 + 2 * 1200)
    assert tapping.told() == ("say", "Enough: one (1 flash) stands out.")
    assert tapping.fit.best == "one"
    assert sum(tapping.fit.shares.values()) == pytest.approx(1.0)


def test_what_is_tapped_while_it_is_weighed_is_weighed_next() -> None:
    tapping = Tapping(LAMP)
    tapping.rhythm.tap(0.0)
    first = tapping.changed()
    assert first is not None
    found = tapping.weigh(first)
    tapping.rhythm.tap(1200.0)
    assert tapping.changed() == tapping.rhythm.tapped
    assert tapping.weighed(first, found) == tapping.rhythm.tapped
    assert tapping.found is found


def test_what_was_forgotten_meanwhile_is_not_shown() -> None:
    tapping = Tapping(LAMP)
    tapping.rhythm.tap(0.0)
    first = tapping.changed()
    assert first is not None
    tapping.rhythm.clear()
    assert tapping.changed() is None
    assert tapping.weighed(first, tapping.weigh(first)) is None
    assert tapping.found is None


def test_enter_takes_what_was_tapped_though_it_was_not_weighed_yet() -> None:
    tapping = Tapping(LAMP)
    assert tapping.take(0.0) is None
    for n in range(5):
        tapping.rhythm.tap(n * 1200.0)
    found = tapping.take(0.0)
    assert found is not None
    assert found.doubtful == ("one",)


def test_what_the_file_does_not_know_is_taken_at_the_second_enter() -> None:
    tapping = Tapping(Indication(**{**_fields(LAMP), "states": LAMP.states[::3]}))
    tap(tapping, TWO, 4)
    assert tapping.fit.otherwise == "No state of this lamp looks like that."
    assert tapping.take(10.0) is None
    assert tapping.told()[1].endswith("Enter once more takes it all the same.")
    assert tapping.take(10.0 + APART / 2) is None, "a key that is held down is no second thought"
    assert tapping.take(10.0 + 2 * APART) is not None


def _fields(indication: Indication) -> dict[str, object]:
    return {name: getattr(indication, name) for name in ("id", "kind", "title", "normal", "colour")}


def test_what_is_said_in_place_of_tapping() -> None:
    tapping = Tapping(LAMP)
    tapping.rhythm.say("dark")
    weigh(tapping)
    assert tapping.told() == ("say", "Enough: dark stands out.")
    assert tapping.fit.head == "how well that fits"


def test_a_key_that_is_held_down_is_told() -> None:
    tapping = Tapping(LAMP)
    for n in range(6):
        tapping.rhythm.tap(33.0 * n)
    assert tapping.told() == ("warn", "Tap the key, do not hold it.")


def test_the_time_line_runs_on_for_a_while_and_waits() -> None:
    tapping = Tapping(LAMP)
    tapping.rhythm.tap(5000.0)
    assert tapping.time_line(5500.0) == (((5000.0, 5000.0),), 5500.0)
    assert tapping.time_line(60_000.0)[1] == 5000.0 + RUNS_ON
    assert tapping.time_line(None)[1] == 5000.0, "where nothing may move it stands still"
    tapping.rhythm.switch()
    tapping.rhythm.lights(7000.0)
    assert tapping.time_line(7300.0) == (((7000.0, 7300.0),), 7300.0), "a press that goes on"


# ---------------------------------------------------------------- drawing


def test_a_code_that_was_drawn_is_its_state(bench: Machine) -> None:
    display, entry = bench.indications["display"], begin(3, steps=False, typed="E05")
    observation = observed(display, entry)
    (only,) = could_be(display, entry, observation, None)
    assert (observation.doubtful, only.code, only.share) == (("slow",), "E05", None)


def test_what_cannot_be_read_could_be_several_in_the_order_of_what_is_known(bench: Machine) -> None:
    display, entry = bench.indications["display"], begin(3, steps=False, typed="E0?")
    observation = observed(display, entry)
    assert {"slow", "hot"} <= set(observation.seen)
    for first, last in (("slow", "hot"), ("hot", "slow")):
        shares = ((first, 0.7), (last, 0.2))
        found = could_be(display, entry, observation, shares)
        assert [(one.means, one.share) for one in found] == [(first, 0.7), (last, 0.2)]


def test_what_was_drawn_is_said_with_its_points_and_steps() -> None:
    assert said(begin(3, steps=False, typed="E.4")) == "E.4"
    assert said(begin(3, steps=False, typed="")) == "blank"
    assert said(begin(1, steps=True, typed="E04")) == "E, 0, 4"
