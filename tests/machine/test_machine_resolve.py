"""Short forms written out and defaults filled in, as the contract of the language says."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from diag.machine.approval.approval import Approval
from diag.machine.load import NotAMachine, read
from diag.machine.model import Access, Energy, Kind, Machine, Role
from diag.machine.nodes import Call, Conclude, Go, Look

SMALL = """
format: 1
title: Small
place: here
indications:
  lamp-one: {lamp: green, label: ONE, normal: lit}
  lamp-two: {lamp: green, normal: lit, states: {lit: steady, warn: red blink 1 Hz, dark: off}}
  lamp-three: {lamp: green, normal: lit}
  relay: {contact: make, normal: closed, measured: continuity}
  relay-volts: {contact: make, normal: in, measured: voltage, states: [in, out]}
  coil: {reading: ohm, nominal: 50, bands: {short: "< 5", good: "5 .. 80", open: "> 80"}, source: made up}
  pressure: {reading: bar, normal: good, bands: {low: "<= 5", good: ">= 5"}, source: made up, energy: any}
  tried: {question: Was it tried?, answers: [no, yes]}
  before: {question: What was before?, usual: {b: 1, a: 3}}
  shown: {display: 3 characters, normal: idle, codes: {"-": idle, "E?": fault, "E1": {state: fuse, means: fuse gone}, blank: none}}
groups:
  lamps: [lamp-one, lamp-two, lamp-three]
resets:
  press: {title: Press, do: Press, who: operator, note-first: [lamps, shown]}
dangers:
  - {when: {lamps: dark, tried: [no, yes]}, stop: Stop., call: electrician}
points: {q1: {title: Q1, where: left}}
test-points: {out: {title: Out, expects: 0 V, below: 5 V}}
zones: {box: {title: Box, points: q1, test-points: out}}
causes:
  all-dark: {title: A, part: p, often: 3 a year, shows: {lamps: dark, lamp-two: {warn: usually, dark: 0.15}, shown: E1}}
  often-odd: {title: B, part: p, often: common, comes: intermittent, shows: {relay: {open: sometimes}, shown: {E1: sometimes, fault: sometimes}, tried: yes}}
  inside: {title: C, part: p, often: rare, intermittent: 0.25, shows: {coil: {short: sometimes, open: sometimes}}, remedy: {do: X, minutes: 3, access: dead, zone: box}}
  proved: {title: D, part: p, often: occasional, shows: {coil: open}, proof: {lamps: lit, shown: [idle, E1]}, remedy: shared}
remedies:
  shared: {do: Y, minutes: 2, access: outside, chance: 0.5}
checks:
  measure: {gives: [coil, relay], do: M, minutes: 2, access: dead, zone: box, needs: {lamps: lit, tried: [yes, no]}}
  watch: {gives: lamps, do: W, minutes: 1, access: outside}
  ask-both: {gives: [tried, before], do: A, minutes: 1, access: outside, who: engineer}
trees:
  - {tree: one, title: One, look: lamp-two, why: first, when: {dark | warn: {go: two}, lit: {call: engineer}}}
  - {tree: two, title: Two, look: shown, when: {E1: {conclude: all-dark}}, otherwise: {conclude: [proved, inside]}}
"""  # noqa: E501


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Machine:
    folder = tmp_path_factory.mktemp("small")
    (folder / "machine.yaml").write_text(SMALL)
    return read(folder)


def test_titles(small: Machine) -> None:
    titles = {id: indication.title for id, indication in small.indications.items()}
    assert titles["lamp-one"] == "ONE"
    assert titles["lamp-two"] == "Lamp two"
    assert titles["tried"] == "Was it tried?"
    assert small.checks["measure"].title == "Measure: Coil, Relay"
    assert small.checks["watch"].title == "Look: ONE, Lamp two, Lamp three"
    assert small.checks["ask-both"].title == "Ask: Was it tried?, What was before?"


def test_states_and_normals(small: Machine) -> None:
    ids = {id: indication.state_ids for id, indication in small.indications.items()}
    assert ids["lamp-one"] == ("lit", "dark")
    assert ids["relay"] == ("open", "closed")
    assert ids["relay-volts"] == ("in", "out")
    assert ids["shown"] == ("idle", "fault", "fuse", "none", "other")
    assert small.indications["coil"].normal == "good"
    assert small.indications["tried"].normal == "no"
    assert small.indications["before"].normal == "a"
    assert small.indications["before"].usual == (0.25, 0.75)
    warn = small.indications["lamp-two"].state("warn")
    assert (warn.colour, warn.pattern) == ("red", "blink 1 Hz")
    assert small.indications["shown"].codes[-1].pattern == "   "


def test_energy(small: Machine) -> None:
    energy = {id: indication.energy for id, indication in small.indications.items()}
    assert energy["relay"] is energy["coil"] is Energy.OFF
    assert energy["relay-volts"] is energy["lamp-one"] is energy["shown"] is Energy.ON
    assert energy["tried"] is energy["pressure"] is Energy.ANY
    assert small.checks["measure"].energy is Energy.OFF
    assert small.checks["watch"].energy is Energy.ON
    assert small.checks["ask-both"].energy is Energy.ANY


def test_groups_stand_for_their_members(small: Machine) -> None:
    shows = small.causes["all-dark"].shows
    assert shows["lamp-one"] == shows["lamp-three"] == {"dark": 0.98}
    assert shows["lamp-two"] == {"warn": 0.85, "dark": 0.15}
    assert small.checks["watch"].gives == ("lamp-one", "lamp-two", "lamp-three")
    assert small.resets["press"].note_first == ("lamp-one", "lamp-two", "lamp-three", "shown")
    assert dict(small.dangers[0].when)["lamp-three"] == ("dark",)
    assert dict(small.checks["measure"].needs) == {
        "lamp-one": ("lit",),
        "lamp-two": ("lit",),
        "lamp-three": ("lit",),
        "tried": ("yes", "no"),
    }


def test_words_for_chances_and_rates(small: Machine) -> None:
    assert [cause.rate for cause in small.causes.values()] == [3.0, 2.0, 0.02, 0.2]
    assert [cause.rest_probability for cause in small.causes.values()] == [0.0, 0.5, 0.25, 0.0]
    assert small.causes["often-odd"].shows["shown"] == {"fuse": 0.4, "fault": 0.4}
    assert small.causes["all-dark"].shows["shown"] == {"fuse": 0.98}


def test_proof_is_the_normal_state_of_what_is_usually_off_it(small: Machine) -> None:
    proofs = {id: dict(cause.proof) for id, cause in small.causes.items()}
    lamps = {"lamp-one": ("lit",), "lamp-two": ("lit",), "lamp-three": ("lit",)}
    assert proofs["all-dark"] == {**lamps, "shown": ("idle",)}
    assert proofs["often-odd"] == {}
    assert proofs["inside"] == {}
    assert proofs["proved"] == {**lamps, "shown": ("idle", "fuse")}


def test_who_may(small: Machine) -> None:
    skilled = (Role.ELECTRICIAN, Role.ENGINEER)
    assert small.remedies["inside"].who == small.checks["measure"].who == skilled
    assert small.remedies["shared"].who == small.checks["watch"].who == tuple(Role)
    assert small.checks["ask-both"].who == (Role.ENGINEER,)
    assert small.causes["proved"].remedy == small.remedies["shared"]


def test_implied_checks_come_last_and_need_nothing(small: Machine) -> None:
    implied = [check for check in small.checks.values() if check.implied]
    assert [check.id for check in implied] == ["see-relay-volts", "see-pressure", "see-shown"]
    assert list(small.checks)[-3:] == [check.id for check in implied]
    for check in implied:
        assert (check.access, check.who, check.minutes) == (Access.OUTSIDE, tuple(Role), 0.2)


def test_a_reset_is_also_a_question_that_no_check_gives(small: Machine) -> None:
    outcome = small.indications["press"]
    assert (outcome.kind, outcome.normal, outcome.usual) == (Kind.QUESTION, "back-at-once", (0.9, 0.05, 0.05))
    assert outcome.state_ids == ("back-at-once", "back-later", "ran-on")
    assert all("press" not in check.gives for check in small.checks.values())


def test_trees(small: Machine) -> None:
    one, two = small.trees["one"].root, small.trees["two"].root
    assert isinstance(one, Look)
    assert list(one.when) == ["dark", "warn", "lit"]
    assert isinstance(one.when["warn"], Go)
    assert isinstance(one.when["lit"], Call)
    assert isinstance(two, Look)
    assert isinstance(two.when["fuse"], Conclude)
    assert isinstance(two.otherwise, Conclude)
    assert two.otherwise.causes == ("proved", "inside")
    assert small.start == "one"


def test_what_is_not_said_of_the_machine(small: Machine) -> None:
    assert set(small.call) == set(Role)
    assert (small.approval, small.reset_limit) == (Approval("draft"), 2)
    assert all(value > 0 for value in (small.minutes.lock, small.minutes.restore, small.minutes.live))


def test_places_point_into_the_file(small: Machine) -> None:
    lines = SMALL.split("\n")
    things = [*small.causes.values(), *small.indications.values(), *small.checks.values(), *small.remedies.values()]
    for thing in things:
        assert thing.place is not None
        word = lines[thing.place.line - 1][thing.place.column - 1 :]
        assert word.startswith((thing.id, thing.id.partition("-")[2], "remedy"))


def test_two_groups_that_say_different_things_of_one_indication(tmp_path: Path) -> None:
    from diag.machine.load import load

    text = SMALL.replace("groups:", "groups:\n  pair: [lamp-one, shown]").replace(
        "shows: {lamps: dark, ", "shows: {lamps: dark, pair: idle, "
    )
    (tmp_path / "machine.yaml").write_text(text)
    told = [problem.text for problem in load(tmp_path).problems]
    assert "'lamp-one' is in 'lamps' and in 'pair'; name it by itself" in told


def test_the_split_machine_is_the_same_as_the_single_file(small: Machine, tmp_path: Path) -> None:
    def part(name: str, until: str) -> str:
        return SMALL[SMALL.index(f"\n{name}:") + 1 : SMALL.index(f"\n{until}:") + 1]

    panel = part("indications", "resets")
    causes = part("causes", "checks")
    checks = part("checks", "trees")
    trees = SMALL[SMALL.index("\ntrees:") + 1 :]
    head = SMALL
    for text in (panel, causes, checks, trees):
        head = head.replace(text, "")
    folder = tmp_path / small.id
    (folder / "trees").mkdir(parents=True)
    for name, text in {"machine": head, "panel": panel, "causes": causes, "checks": checks, "trees/all": trees}.items():
        (folder / f"{name}.yaml").write_text(text)
    split = read(folder)
    assert split.checks.keys() == small.checks.keys()
    assert {id: cause.shows for id, cause in split.causes.items()} == {
        id: cause.shows for id, cause in small.causes.items()
    }
    assert split.trees.keys() == small.trees.keys()
    assert split.start == small.start


def test_loading_needs_no_numbers_no_screen_and_no_search() -> None:
    names = "{'numpy', 'textual', 'rapidfuzz'}"
    code = f"import sys, diag.machine.load, diag.machine.states.say; print({names} & set(sys.modules))"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "set()"


def test_a_reading_without_a_unit_is_a_plain_number(tmp_path: Path) -> None:
    """Some formulas give a count or a ratio; without a word for that they could not be written."""
    reading = "{reading: plain number, formula: bus termination, normal: two, bands: {one: '< 1.5', two: '>= 1.5'}}"
    cause = "causes: {a: {title: A, part: p, often: rare, shows: {ends: one}}}"
    machine = f"format: 1\ntitle: T\nplace: here\nindications:\n  ends: {reading}\n{cause}\n"
    (tmp_path / "machine.yaml").write_text(machine)
    ends = read(tmp_path).indications["ends"]
    assert (ends.unit, ends.formula, ends.energy) == ("", "bus termination", Energy.ON)
    (tmp_path / "machine.yaml").write_text(machine.replace("plain number", "ohm"))
    with pytest.raises(NotAMachine, match="'bus termination' gives a plain number, and this reading is in 'ohm'"):
        read(tmp_path)


def test_what_goes_back_and_what_is_measured_is_written_out() -> None:
    machine = read(Path(__file__).parent / "every_field")
    back = machine.stored["rail"].put_back
    assert back is not None
    assert (back.do, back.inside, back.under_power, back.after) == ("Close the drain cock", True, False, ("catch",))
    assert (machine.stored["rail"].counts_from, machine.stored["catch"].counts_when) == (
        "main-switch",
        "The lift is down",
    )
    assert machine.stored["catch"].after == ("rail",)
    assert machine.test_points["q1-out"].pairs == ("L1-PE",)
    assert machine.test_points["q1-out"].below == 1.0
    taken = machine.remedies["change-lamp"].takes_off
    assert [(t.what, t.earth, t.phases) for t in taken] == [("plug X14", False, True), ("earth at U1", True, False)]
    assert machine.checks["measure"].takes_off == taken
    zone = machine.zones["cabinet"]
    assert zone.try_out is not None
    assert zone.try_out.works_when == (("hood-contact", ("closed",)),)
    assert (zone.before_off, zone.lock, machine.proof_holds) == (("Lower the lift onto its stops",), 25, 60)
    cause = machine.causes["lamp-failed"]
    assert cause.proof == {"ready-lamp": ("lit",), "test-key": ("all-lit",)}
    assert (cause.safety, cause.function_test) == (True, ("test-key",))
    assert [(s.do, s.who, s.reset) for s in cause.proof_first] == [
        ("Press the reset key", (Role.OPERATOR, Role.ENGINEER), "reset-key")
    ]


def test_every_terminal_is_measured_to_every_other(tmp_path: Path) -> None:
    (tmp_path / "machine.yaml").write_text(
        SMALL.replace("expects: 0 V, below: 5 V}", "expects: 0 V, below: 50 V, terminals: [L1, L2, PE]}")
    )
    point = read(tmp_path).test_points["out"]
    assert (point.pairs, point.below) == (("L1-L2", "L1-PE", "L2-PE"), 50.0)
