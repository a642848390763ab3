"""Signs and words: told apart without colour, short enough, honest at the ends."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from stage import NIGHT

from diag.machine.load import read
from diag.machine.model import Kind, Machine
from diag.tui.looks import wording as words
from diag.tui.looks.lamp_phases import Blink
from diag.tui.looks.signs import sign


@pytest.fixture(scope="module")
def stacker_machine() -> Machine:
    return read(Path(__file__).parents[2] / "knowledge" / "tray-stacker")


def test_states_of_a_lamp_differ_by_shape(stacker_machine: Machine) -> None:
    """Two states of one lamp never look alike without their colour, but for two that flash at other rates."""
    for lamp in stacker_machine.indications.values():
        if lamp.kind is not Kind.LAMP:
            continue
        seen: dict[tuple[str, str], str] = {}
        for state in lamp.states:
            drawn = sign(lamp, state.id)
            other = seen.setdefault((drawn.shape, drawn.mark), state.id)
            alike = {lamp.state(other).pattern, state.pattern}
            assert other == state.id or all("blink" in p for p in alike) or lamp.state(other).colour != state.colour


def test_on_off_and_not_looked_at_differ(mixer: Machine) -> None:
    lamp = mixer.indications["supply-lamp"]
    shapes = [sign(lamp, state).shape for state in ("lit", "dark", "dim", "")]
    assert len(set(shapes)) == 4


@pytest.mark.source("CiA 303-3 v1.4: single flash 200 ms lit, 1000 ms dark", found="read in a public copy")
def test_a_lamp_flashes_by_its_pattern() -> None:
    at = [0.0]
    blink = Blink(lambda: at[0])
    blink.watch(["1 flash", "steady"])
    phases = []
    for tenth in range(12):
        at[0] = tenth / 10 + 0.01
        phases.append(blink.lit("1 flash"))
    assert phases == [True] * 2 + [False] * 10
    assert blink.lit("steady")
    assert not blink.lit("off")


def test_only_a_new_phase_is_repainted() -> None:
    at = [0.0]
    blink = Blink(lambda: at[0])
    assert not blink.changed()
    blink.watch(["blink 1 Hz"])
    assert blink.changed()
    at[0] = 0.2
    assert not blink.changed()
    at[0] = 0.6
    assert blink.changed()


@pytest.mark.source("Jeffreys, Theory of Probability, 1961: steps of half a power of ten", found="from memory")
@pytest.mark.parametrize(
    ("decibans", "text", "marks"),
    [
        (0.4, "says nothing", "·"),
        (3.0, "a little for", "+"),
        (-7.0, "clearly against", "−−"),
        (12.0, "strongly for", "+++"),
        (40.0, "very strongly for", "++++"),
    ],
)
def test_weights_in_words(decibans: float, text: str, marks: str) -> None:
    assert words.weight(decibans) == text
    assert words.marks(decibans) == marks


def test_a_fact_keeps_what_was_found() -> None:
    line = words.found("What was done to the machine since it last ran well?", "module-swapped", "module-swapped", 30)
    assert line.endswith(": module swapped")
    assert len(line) <= 30
    assert words.found("Mains", "good", "401 V", 30) == "Mains: 401 V (good)"


def test_times() -> None:
    assert words.left(NIGHT + timedelta(seconds=65), NIGHT) == "1:05"
    assert words.left(NIGHT, NIGHT + timedelta(seconds=1)) == ""
    assert words.ago(NIGHT - timedelta(minutes=5), NIGHT) == "5 min ago"
    assert words.ago(NIGHT - timedelta(days=1), NIGHT) == "yesterday"
