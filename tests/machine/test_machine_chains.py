"""Chains of contacts and of stations: what they stand for, and that half-splitting comes out of the ordinary advice."""

from __future__ import annotations

from math import ceil, log2
from pathlib import Path

import pytest
from machine_plain import without_places

from diag.machine.load import read
from diag.machine.model import Machine
from diag.reason.advice.one_step import advise
from diag.reason.belief.belief import believe
from diag.reason.belief.evidence import Evidence, Observed
from diag.reason.table.compile import compile as table_of
from diag.reason.table.situation import Situation
from diag.vet import vet_machine

HEAD = "format: 1\ntitle: Packer 1\nplace: Hall 2\ncall: {engineer: the engineer on duty}\n"


def written(folder: Path, text: str) -> Path:
    folder = folder / "packer"
    folder.mkdir()
    (folder / "machine.yaml").write_text(HEAD + text, encoding="utf-8")
    return folder


def chain_of(folder: Path, n: int) -> Machine:
    """A machine of nothing but one chain of `n` contacts, each as likely open and each check as long.

    A remedy is dear beside a check and sure to help, and nobody comes to help soon: else trying one, or calling, may be
    worth more than the last check, and the split is no longer for the fewest checks.
    """
    members = ", ".join(f"s{k}" for k in range(n))
    return read(
        written(
            folder,
            f"""
minutes: {{call: 100000}}
indications:
  end: {{question: Is there voltage at the end of the chain?, answers: [there, gone], normal: there}}
chains:
  stops:
    series: [{members}]
    cause: {{shows: {{end: gone}}, remedy: {{do: "Mend {{member}}", minutes: 100, access: outside, chance: 1}}}}
    check: {{minutes: 1, access: outside}}
""",
        )
    )


def checks_until_one_is_left(machine: Machine, n: int, open_one: int) -> int:
    """How many checks the advice asks for until only the open contact is left, all answers being right."""
    table = table_of(machine)
    observed = [Observed("end", {"gone": 1.0})]
    low, high, asked = 0, n - 1, 0
    excluded: frozenset[str] = frozenset()
    while low < high:
        plan = advise(believe(table, Evidence(tuple(observed))), Situation(excluded=excluded))
        assert plan.best.kind == "check", (low, high)
        (point,) = machine.checks[plan.best.id].gives
        k = int(point.removeprefix("stops-after-s"))
        assert low <= k < high, "a check outside of what is left"
        there = k < open_one
        observed.append(Observed(point, {"present" if there else "absent": 1.0}))
        excluded |= {plan.best.id}
        low, high, asked = (k + 1, high, asked + 1) if there else (low, k, asked + 1)
    assert low == open_one
    return asked


@pytest.mark.source(
    "half-split of n equally likely sections: E = ceil(log2 n) + 1 - 2^ceil(log2 n)/n; rule in US Army IT0338 (1996)",
    found="computed; the rule read in public copies",
)
@pytest.mark.parametrize(("n", "mean"), [(5, 2.4), (6, 2.6667), (7, 2.8571), (8, 3.0), (10, 3.4), (16, 4.0)])
def test_a_chain_is_halved_by_the_ordinary_advice(tmp_path: Path, n: int, mean: float) -> None:
    machine = chain_of(tmp_path, n)
    found = sum(checks_until_one_is_left(machine, n, k) for k in range(n)) / n
    assert found == pytest.approx(ceil(log2(n)) + 1 - 2 ** ceil(log2(n)) / n, abs=1e-12)
    assert found == pytest.approx(mean, abs=5e-5)


SITE = """
points: {main: {title: Main switch, where: left}}
test-points: {bars: {title: Bars, expects: 0 V, below: 5 V}}
zones: {box: {title: Box, points: main, test-points: bars}}
"""

SERIES = """
indications:
  relay-lamp: {lamp: green, label: GUARDS, where: front, normal: lit}
  feed: {question: Is the supply there?, answers: [there, gone], normal: there}
  door: {contact: break, measured: continuity, normal: closed, where: frame}
  stop: {question: Is the stop button out?, answers: [out, pressed], normal: out}
chains:
  stops:
    title: stop circuit
    series:
      stop: {title: the stop button, open: pressed}
      door: {cause: {often: common}, check: {minutes: 7}}
      hatch: {title: the hatch, point: {where: at the hatch}, cause: {remedy: {minutes: 40, parts: [hatch switch]}}}
      gate:
    point: {nominal: 48, where: middle rail, follows: {when: {feed: gone}, shows: absent}}
    cause:
      often: 0.3 a year
      shows: {relay-lamp: dark}
      remedy:
        do: Mend {member}, after {before} and ahead of {after} in the {chain}
        minutes: 20
        access: dead
        zone: box
      proof: {relay-lamp: lit}
    check: {zone: box, minutes: 3, who: electrician, with: meter, caution: Live}
"""

SERIES_BY_HAND = """
indications:
  relay-lamp: {lamp: green, label: GUARDS, where: front, normal: lit}
  feed: {question: Is the supply there?, answers: [there, gone], normal: there}
  door: {contact: break, measured: continuity, normal: closed, where: frame}
  stop: {question: Is the stop button out?, answers: [out, pressed], normal: out}
  stops-after-stop: &point
    reading: V d.c.
    title: "Stop circuit: voltage after the stop button"
    nominal: 48
    normal: present
    bands: {absent: "< 24", present: ">= 24"}
    source: there or not, with half the nominal voltage as the limit (common practice)
    where: middle rail
    follows: {when: {feed: gone}, shows: absent}
  stops-after-door:
    reading: V d.c.
    title: "Stop circuit: voltage after door"
    nominal: 48
    normal: present
    bands: {absent: "< 24", present: ">= 24"}
    source: there or not, with half the nominal voltage as the limit (common practice)
    where: middle rail
    follows: {when: {feed: gone}, shows: absent}
  stops-after-hatch:
    reading: V d.c.
    title: "Stop circuit: voltage after the hatch"
    nominal: 48
    normal: present
    bands: {absent: "< 24", present: ">= 24"}
    source: there or not, with half the nominal voltage as the limit (common practice)
    where: at the hatch
    follows: {when: {feed: gone}, shows: absent}
causes:
  stops-stop-open:
    title: The stop button open, or its wire broken
    part: stop circuit
    often: 0.3 a year
    shows:
      stops-after-stop: absent
      stops-after-door: absent
      stops-after-hatch: absent
      stop: {pressed: usually}
      relay-lamp: dark
    remedy:
      do: Mend the stop button, after the start of the stop circuit and ahead of door in the stop circuit
      minutes: 20
      access: dead
      zone: box
    proof: {relay-lamp: lit}
  stops-door-open:
    title: Door open, or its wire broken
    part: stop circuit
    often: common
    shows: {stops-after-door: absent, stops-after-hatch: absent, door: {open: usually}, relay-lamp: dark}
    remedy:
      do: Mend door, after the stop button and ahead of the hatch in the stop circuit
      minutes: 20
      access: dead
      zone: box
    proof: {relay-lamp: lit}
  stops-hatch-open:
    title: The hatch open, or its wire broken
    part: stop circuit
    often: 0.3 a year
    shows: {stops-after-hatch: absent, relay-lamp: dark}
    remedy:
      do: Mend the hatch, after door and ahead of gate in the stop circuit
      minutes: 40
      access: dead
      zone: box
      parts: [hatch switch]
    proof: {relay-lamp: lit}
  stops-gate-open:
    title: Gate open, or its wire broken
    part: stop circuit
    often: 0.3 a year
    shows: {relay-lamp: dark}
    remedy:
      do: Mend gate, after the hatch and ahead of the end of the stop circuit in the stop circuit
      minutes: 20
      access: dead
      zone: box
    proof: {relay-lamp: lit}
checks:
  stops-test-stop:
    title: "Stop circuit: voltage after the stop button"
    gives: stops-after-stop
    do: Measure at the terminal between the stop button and door, against minus
    with: meter
    access: live
    zone: box
    who: electrician
    minutes: 3
    caution: Live
  stops-test-door:
    title: "Stop circuit: voltage after door"
    gives: stops-after-door
    do: Measure at the terminal between door and the hatch, against minus
    with: meter
    access: live
    zone: box
    who: electrician
    minutes: 7
    caution: Live
  stops-test-hatch:
    title: "Stop circuit: voltage after the hatch"
    gives: stops-after-hatch
    do: Measure at the terminal between the hatch and gate, against minus
    with: meter
    access: live
    zone: box
    who: electrician
    minutes: 3
    caution: Live
"""


def test_a_series_is_what_one_would_have_written_by_hand(tmp_path: Path) -> None:
    found = read(written(tmp_path, SITE + SERIES))
    (tmp_path / "hand").mkdir()
    by_hand = read(written(tmp_path / "hand", SITE + SERIES_BY_HAND))
    assert without_places(found) == without_places(by_hand)


LINE = """
indications:
  head-lamp:
    lamp: green
    where: front
    normal: traffic
    states: &link {traffic: flicker, still: steady, dark: off}
  far-in: {lamp: green, label: IN, where: far box, normal: traffic, states: *link}
  far-power: {lamp: green, label: ON, where: far box, normal: lit}
chains:
  net:
    line: {near: {title: the near drive}, mid: , far: {in: far-in, power: far-power, station: {often: rare}}}
    head: head-lamp
    lamp: {where: window}
    cable: {remedy: {do: "Change the cable from {before} to {member}", minutes: 9, access: dead, zone: box}}
    station: {remedy: {do: "Change {member}", minutes: 30, access: dead, zone: box}}
"""

LAMPS = ("head-lamp", "net-near-in", "net-near-out", "net-near-power", "net-mid-in", "net-mid-out", "net-mid-power")
LAMPS += ("far-in", "far-power")
LINE_SHOWS = {
    "net-near-cable": "dark dark still -    still still -    still -",
    "net-near-dead": " dark dark dark  dark dark  still -    still -",
    "net-mid-cable": " -    -    dark  -    dark  still -    still -",
    "net-mid-dead": "  -    -    dark  -    dark  dark  dark dark  -",
    "net-far-cable": " -    -    -     -    -     dark  -    dark  -",
    "net-far-dead": "  -    -    -     -    -     dark  -    dark  dark",
}
"""What each lamp shows; `-` is its normal state."""


def row_of(id: str) -> dict[str, str]:
    return {lamp: state for lamp, state in zip(LAMPS, LINE_SHOWS[id].split(), strict=True) if state != "-"}


def test_in_a_line_the_lamps_at_a_break_are_dark_and_those_behind_it_still(tmp_path: Path) -> None:
    machine = read(written(tmp_path, SITE + LINE))
    shows = {id: {on: next(iter(row)) for on, row in cause.shows.items()} for id, cause in machine.causes.items()}
    assert shows == {id: row_of(id) for id in LINE_SHOWS}
    assert machine.checks["net-mid-look"].gives == ("net-mid-in", "net-mid-out", "net-mid-power")
    assert "net-far-look" not in machine.checks, "all its lamps were there already, with checks of their own"
    assert (
        machine.causes["net-near-cable"].title
        == "Cable from the head of the net to the near drive broken, or its plug loose"
    )
    assert machine.causes["net-far-dead"].rate == 0.02


@pytest.mark.parametrize("text", [SERIES, LINE])
def test_no_two_causes_of_a_chain_look_the_same(tmp_path: Path, text: str) -> None:
    problems = vet_machine(written(tmp_path, SITE + text))
    assert [problem for problem in problems if problem.rule in ("ambiguous", "unfindable")] == []


def test_the_lamps_of_a_line_lead_to_each_of_its_causes(tmp_path: Path) -> None:
    machine = read(written(tmp_path, SITE + LINE))
    table = table_of(machine)
    for id in LINE_SHOWS:
        lamps = {lamp: row_of(id).get(lamp, machine.indications[lamp].normal) for lamp in machine.indications}
        belief = believe(table, Evidence(tuple(Observed(lamp, {state: 1.0}) for lamp, state in lamps.items())))
        assert belief.table.causes[belief.order[0]] == id


def test_test_points_may_be_left_out(tmp_path: Path) -> None:
    text = SERIES.replace("title: stop circuit", "test-points: none").replace(
        "check: {zone: box", "check: {zone: nowhere"
    )
    machine = read(written(tmp_path, SITE + text))
    assert [id for id in machine.indications if id.startswith("stops")] == []
    assert len(machine.causes) == 4
