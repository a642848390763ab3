"""The deep machine uses every way of reading a panel, each in a cause that hangs on it.

For each way: an indication of that kind, a check that gives it, a cause that turns it off its normal state, and a
worked example of such a cause that tells it so. That the examples come out, all of them, `tests/cli/test_cli_files.py`
sees through `diag try`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import combinations
from pathlib import Path

import pytest

from diag.case.case import Case
from diag.case.observe.from_contact import disagreements
from diag.machine.load import read
from diag.machine.model import OTHER, Access, Indication, Kind, Machine, Role, State
from diag.machine.states.say import state_of
from diag.panel.display import segments
from diag.panel.formulas.formulas import FORMULAS
from diag.panel.formulas.signals import FAILED_HIGH, FAILED_LOW, VALID_HIGH, VALID_LOW
from diag.panel.lamps import flash
from diag.safety import Person

STACKER = Path(__file__).parents[2] / "knowledge" / "tray-stacker"
Fits = Callable[[Indication, State], bool]


@pytest.fixture(scope="module")
def stacker() -> Machine:
    return read(STACKER)


def look(state: State) -> str:
    """A lamp's pattern, without its colour."""
    return flash.parse(state.pattern).name if state.pattern else ""


def hangs(machine: Machine, fits: Fits) -> Iterator[tuple[str, str, str]]:
    """Cause, indication and state: the cause shows it off normal, more likely than not."""
    for cause in machine.causes.values():
        for id, row in cause.shows.items():
            indication = machine.indications[id]
            for state in indication.states:
                total = max(1.0, sum(row.values()))
                likely = row.get(state.id, 0.0) / total > 0.5
                if state.id != indication.normal and likely and fits(indication, state):
                    yield cause.id, id, state.id


def told(machine: Machine, cause: str, id: str, state: str) -> bool:
    """A worked example of this cause says that state."""
    indication = machine.indications[id]
    return any(
        name == id and state_of(indication, said) == state
        for example in machine.examples
        if example.cause == cause
        for name, said in example.facts
    )


def lamp(pattern: str) -> Fits:
    return lambda i, s: i.kind is Kind.LAMP and look(s) == pattern


def contact(form: str, measured: str, side: str = "") -> Fits:
    return lambda i, s: (i.contact, i.measured, i.side) == (form, measured, side)


def formula(name: str) -> Fits:
    return lambda i, s: i.formula == name


def failing(machine: Machine, kind: Kind, part: str) -> Fits:
    """A lamp test's state in which some lamp (or display) whose name begins so has failed."""
    failed = {
        (test, state)
        for i in machine.indications.values()
        if i.kind is kind and i.id.startswith(part)
        for test, states in i.lamp_test
        for state in states
    }
    return lambda i, s: (i.id, s.id) in failed


WAYS: dict[str, Fits] = {
    "a lamp that is lit": lamp("steady"),
    "a lamp that is dark": lamp("off"),
    "a lamp that flickers": lamp("flicker"),
    "a lamp that blinks": lamp("blink"),
    "a lamp that blinks slowly": lamp("blink 0.5 Hz"),
    "one flash": lamp("1 flash"),
    "two flashes": lamp("2 flashes"),
    "three flashes": lamp("3 flashes"),
    "four flashes": lamp("4 flashes"),
    "a lamp of two colours": lambda i, s: i.kind is Kind.LAMP and bool(s.colour) and s.colour != i.colour,
    "a lamp that alternates": lambda i, s: look(s).startswith("alternating"),
    "a stack light": lambda i, s: i.id.startswith("stack-") and i.kind is Kind.LAMP,
    "one flash against slow blinking on one lamp": lambda i, s: (
        look(s) == "1 flash" and any(look(o).startswith("blink 0.5") for o in i.states)
    ),
    "a display of several characters": lambda i, s: i.kind is Kind.DISPLAY and i.characters > 1,
    "a display of one character, in steps": lambda i, s: (
        i.scrolls and any(c.state == s.id and len(c.pattern.strip()) > 1 for c in i.codes)
    ),
    "a make contact by continuity": contact("make", "continuity"),
    "a make contact by voltage": contact("make", "voltage"),
    "a break contact by continuity": contact("break", "continuity"),
    "a break contact by voltage": contact("break", "voltage"),
    "a changeover contact by voltage": contact("changeover", "voltage", "make"),
    "a contact that closes badly, by ohms": lambda i, s: s.id == "high-resistance" and i.measured == "continuity",
    "a contact that closes badly, by volts": lambda i, s: s.id == "high-resistance" and i.measured == "voltage",
    "a contact whose coil is known": lambda i, s: bool(i.contact and i.coil),
    "a live contact whose supply is known": lambda i, s: i.measured == "voltage" and bool(i.nominal),
    "a contact that a lamp agrees with": lambda i, s: bool(i.agrees),
    "a reading with its own accuracy": lambda i, s: i.accuracy is not None,
    "a reading of a plain number": lambda i, s: i.kind is Kind.READING and i.unit == "",
    "an alarm list": lambda i, s: i.kind is Kind.HISTORY,
    "a question": lambda i, s: i.kind is Kind.QUESTION,
    **{f"the formula {name}": formula(name) for name in FORMULAS},
}


@pytest.mark.parametrize("way", WAYS)
def test_every_way_of_reading_is_used_by_a_cause_that_hangs_on_it(way: str, stacker: Machine) -> None:
    found = list(hangs(stacker, WAYS[way]))
    assert found, f"no cause shows {way} off normal"
    assert any(told(stacker, *row) for row in found), f"no worked example tells {way}: {found}"
    assert all(stacker.checks_for[id] or id in stacker.resets for _, id, _ in found)


@pytest.mark.parametrize(
    ("kind", "part"),
    [(Kind.LAMP, "stack-"), (Kind.LAMP, "restore-"), (Kind.LAMP, "notice-"), (Kind.LAMP, "amp"), (Kind.DISPLAY, "")],
    ids=["stack light", "operator post", "rack", "amplifiers", "display"],
)
def test_lamp_tests_tell_a_cause(kind: Kind, part: str, stacker: Machine) -> None:
    found = list(hangs(stacker, failing(stacker, kind, part)))
    assert any(told(stacker, *row) for row in found)
    for _, test, _ in found:
        assert all(check.access is Access.OUTSIDE for check in stacker.checks_for[test])


def test_each_fault_of_a_display_is_a_cause_told_by_looks_and_by_its_lamp_test(stacker: Machine) -> None:
    faults = {"stroke-dark-in-all", "place-dark", "stroke-dark-in-one"}
    shown = {s: cause for cause, id, s in hangs(stacker, lambda i, s: i.id == "display-test")}
    assert set(shown) == faults
    assert len(set(shown.values())) == len(faults)
    for state, cause in shown.items():
        assert told(stacker, cause, "display-test", state)
        assert stacker.causes[cause].shows.keys() >= {"display-look", "display-test"}


def test_the_display_has_codes_that_one_dark_stroke_makes_alike(stacker: Machine) -> None:
    codes = [(c.pattern, c.state) for c in stacker.indications["rack-display"].codes]
    pairs = [
        (one, other)
        for (one, here), (other, there) in combinations(codes, 2)
        if here != there
        and sum((a ^ b).bit_count() for a, b in zip(segments.cells(one), segments.cells(other), strict=True)) == 1
    ]
    assert ("1L1", "1t1") in pairs or ("1t1", "1L1") in pairs
    assert ("8L1", "8t1") in pairs or ("8t1", "8L1") in pairs
    assert OTHER in stacker.indications["rack-display"].state_ids


@pytest.mark.source("NAMUR NE 43", found="read in public text")
def test_a_loop_current_has_the_bands_of_its_standard(stacker: Machine) -> None:
    (loop,) = (i for i in stacker.indications.values() if i.unit == "mA")
    assert [band.high for band in loop.bands[:-1]] == [FAILED_LOW, VALID_LOW, VALID_HIGH, FAILED_HIGH]
    states = {state for _, id, state in hangs(stacker, lambda i, s: i.id == loop.id)}
    assert {"failed-low", "failed-high"} <= states


def test_lamp_and_contact_of_one_signal_disagree_both_ways_each_with_its_cause(stacker: Machine) -> None:
    names = {
        "status-contact-welded": "lamp says fault, contact says none",
        "notice-lamp-dead": "contact says fault, lamp says none",
        "status-wire-broken": "contact says fault, lamp says none",
        "status-readback-lost": "",
        "notice-not-acknowledged": "",
    }
    for cause, name in names.items():
        (example,) = (e for e in stacker.examples if e.cause == cause)
        standing = {id: state_of(stacker.indications[id], said) for id, said in example.facts}
        standing.setdefault("status-contact", "open")
        assert [said.name for _, _, said in disagreements(stacker, standing)] == ([name] if name else []), cause


def test_a_dead_lamp_is_believed_until_the_lamp_test(stacker: Machine) -> None:
    """The test turns the ranking over: dark for want of anything to say, and dark because it cannot."""
    case = Case.open(stacker, Person("the test", Role.ENGINEER))
    facts = ("rack-display", "8L3"), ("line-desk", "reports-fault"), ("notice-lamp", "dark"), ("rack-test", "notice")
    for indication, said in facts[:-1]:
        case.say(indication, said)
    assert case.advice().causes[0].id != "notice-lamp-dead"
    case.say(*facts[-1])
    assert case.advice().causes[0].id == "notice-lamp-dead"


def test_a_resistance_is_measured_with_the_power_off(stacker: Machine) -> None:
    for indication in stacker.indications.values():
        if "ohm" in indication.unit.lower() or indication.measured == "continuity":
            assert indication.energy.value == "off", indication.id
            assert all(check.access is Access.DEAD for check in stacker.checks_for[indication.id]), indication.id


def test_a_computed_discharge_time_permits_nothing(stacker: Machine) -> None:
    (decay,) = (i for i in stacker.indications.values() if i.formula == "discharge time")
    for check in stacker.checks_for[decay.id]:
        assert check.access is Access.DEAD
        assert "never a permission" in check.caution


def test_most_causes_have_an_example(stacker: Machine) -> None:
    told_causes = {e.cause for e in stacker.examples}
    assert len(told_causes) >= 0.7 * len(stacker.causes)
