"""`diag rank`: the object that a program reads, to the letter; the table that a person reads; wrong facts."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from diag.cli.group import diag
from diag.machine.load import read
from diag.machine.model import Machine

ROOT = Path(__file__).resolve().parents[2]
MACHINES = ROOT / "tests" / "machines"
STACKER = read(ROOT / "knowledge" / "tray-stacker")


def run(*args: str, casebook: Path | None = None, **more: Any) -> Result:
    book = ["--casebook", str(casebook)] if casebook else []
    return CliRunner(**more).invoke(diag, ["--no-shipped", "--knowledge", str(MACHINES), *book, "rank", *args])


def ranked(*args: str) -> dict[str, Any]:
    result = run(*args, "--json")
    assert result.exit_code == 0, result.stderr
    assert result.stderr == ""
    found: dict[str, Any] = json.loads(result.stdout)
    return found


def test_the_object_has_these_keys_and_kinds(mixer: Machine) -> None:
    found = ranked("mixer", "supply-lamp=dark", "--role", "electrician")
    assert list(found) == [
        "version",
        "machine",
        "asset",
        "role",
        "facts",
        "causes",
        "next",
        "checks",
        "misfit",
        "surprise",
        "gate",
        "approval",
        "standing",
        "machine_condition",
    ]
    assert found["machine"] == "mixer"
    assert found["asset"] is None
    assert found["role"] == "electrician"
    assert found["facts"] == [{"indication": "supply-lamp", "state": "dark"}]
    assert isinstance(found["misfit"], float)
    assert found["approval"] == {"word": "draft", "approved": False, "changed_since_approval": False}
    assert found["surprise"] == found["misfit"]
    assert found["standing"] == found["approval"]
    assert list(found["next"]) == ["kind", "id", "title", "access", "by_tree"]
    assert found["causes"]
    for cause in found["causes"]:
        assert list(cause) == ["id", "title", "probability"]
    assert {cause["id"] for cause in found["causes"]} == {*mixer.causes, "unlisted"}
    assert sum(cause["probability"] for cause in found["causes"]) == pytest.approx(1.0)
    assert found["checks"]
    for check in found["checks"]:
        assert list(check) == ["id", "title", "gives", "access", "who", "minutes", "expected_minutes_saved"]
        assert isinstance(check["gives"], list)
        assert isinstance(check["who"], list)
        assert check["gives"] == list(mixer.checks[check["id"]].gives)
        assert "electrician" in check["who"]
        assert check["access"] in ("outside", "dead", "live")
        assert check["expected_minutes_saved"] > 0
    saved = [check["expected_minutes_saved"] for check in found["checks"]]
    assert saved == sorted(saved, reverse=True)
    assert found["gate"] == found["checks"][0]["access"]


VALVE = """format: 1
title: Wash valve
place: Yard
revision: 2026-11-20
approval: draft
minutes: {lock: 5, restore: 2, live: 3, call: 300}
reset-limit: 1
call: {engineer: Duty engineer}
points: {q1: {title: Switch Q1, where: beside the box}}
test-points: {out: {title: Terminals of Q1, expects: 0 V, below: 5 V}}
zones: {box: {title: Valve box, points: [q1], test-points: [out]}}
indications:
  coil: {reading: ohm, nominal: 50, normal: good, bands: {good: "< 100", open: ">= 100"}, source: its data sheet}
causes:
  coil-open:
    title: Coil open
    part: coil
    often: common
    shows: {coil: open}
    remedy: {do: Change the coil, minutes: 40, access: dead, zone: box}
  stuck:
    title: Valve stuck
    part: valve
    often: common
    remedy: {do: Free the valve, minutes: 40, access: outside}
checks:
  measure-coil: {gives: coil, do: Measure the coil, with: multimeter, access: ACCESS, zone: box, minutes: 2}
"""


@pytest.mark.parametrize("access", ["dead", "live"])
def test_the_gate_is_what_the_first_check_needs(tmp_path: Path, access: str) -> None:
    (tmp_path / "valve").mkdir()
    (tmp_path / "valve" / "machine.yaml").write_text(VALVE.replace("ACCESS", access))
    options = ["--no-shipped", "--knowledge", str(tmp_path), "rank", "valve", "--role", "electrician", "--json"]
    found = json.loads(CliRunner().invoke(diag, options).stdout)
    assert [check["id"] for check in found["checks"]] == ["measure-coil"]
    assert found["gate"] == access


def test_causes_stand_best_first() -> None:
    for facts in ([], ["supply-lamp=dark"], ["box-display=d1", "motor-warm=hot"]):
        causes = ranked("mixer", *facts)["causes"]
        listed = [c["probability"] for c in causes if c["id"] != "unlisted"]
        assert listed == sorted(listed, reverse=True)


def test_without_facts_there_is_no_surprise_and_an_operator_asks() -> None:
    found = ranked("mixer")
    assert found["facts"] == []
    assert found["surprise"] is None
    assert found["role"] == "operator"


def test_what_a_role_may_not_do_is_not_offered(mixer: Machine) -> None:
    for role in ("operator", "electrician", "engineer"):
        found = ranked("mixer", "supply-lamp=dark", "--role", role)
        assert all(role in check["who"] for check in found["checks"])
        assert all(role in [r.value for r in mixer.checks[check["id"]].who] for check in found["checks"])
    assert ranked("mixer", "supply-lamp=dark")["gate"] == "outside"


@pytest.mark.parametrize(
    ("fact", "state"),
    [
        ("dc-supply=23.9 V", "good"),
        ("dc-supply=23,9", "good"),
        ("dc-supply=12", "low"),
        ("dc-supply=low", "low"),
        ("box-display=d1", "drive-trip"),
        ("box-display=A7", "start-up"),
        ("box-display=zz", "other"),
        ("drive-fuse=1k2", "open"),
        ("main-switch=off", "off"),
    ],
)
def test_facts_as_people_say_them(fact: str, state: str) -> None:
    """Readings from inside and continuity are told here, not done here: they count, and no gate refuses them."""
    found = ranked("mixer", fact)
    assert found["facts"] == [{"indication": fact.partition("=")[0], "state": state}]
    assert [c["probability"] for c in found["causes"]] != [c["probability"] for c in ranked("mixer")["causes"]]


def test_the_order_of_facts_changes_nothing() -> None:
    one = ranked("mixer", "supply-lamp=dark", "dc-supply=0 V", "before-stop=power-dip")
    other = ranked("mixer", "before-stop=power-dip", "dc-supply=0 V", "supply-lamp=dark")
    assert {c["id"]: c["probability"] for c in one["causes"]} == pytest.approx(
        {c["id"]: c["probability"] for c in other["causes"]}
    )


def test_past_a_danger_sign_nothing_is_offered() -> None:
    found = ranked("mixer", "smell=burning", "--role", "engineer")
    assert found["checks"] == []
    assert found["next"] is None
    assert found["gate"] == "outside"
    shown = run("mixer", "smell=burning").stdout
    assert "DANGER: Keep away from the mixer" in shown


def test_a_person_reads_causes_then_checks_with_the_reason_for_each() -> None:
    result = run("mixer", "supply-lamp=dark", "--role", "electrician")
    assert result.exit_code == 0
    lines = result.stdout.splitlines()
    assert lines[0].startswith("Dough mixer 4, Dough room")
    assert lines[1] == "Not approved: this machine file is a draft."
    assert lines[2] == "Found: SUPPLY dark"
    assert lines.index("Likely causes") < lines.index("Next checks for the electrician, the machine energised")
    assert all(len(line) <= 100 for line in lines)


def test_where_no_check_is_left_it_says_what_else_to_do() -> None:
    """All that an operator can see from outside is told, what a call will ask for too: what is left is a remedy or a
    call, each with its reason."""
    machine = read(MACHINES / "mixer")
    told: list[str] = []
    for _ in range(len(machine.checks)):
        found = ranked("mixer", *told)
        if not found["checks"] and found["next"]["kind"] in ("remedy", "call"):
            break
        check = found["checks"][0]["id"] if found["checks"] else found["next"]["id"]
        told += [
            f"{id}={machine.indications[id].normal or machine.indications[id].state_ids[0]}"
            for id in machine.checks[check].gives
            if not any(fact.startswith(f"{id}=") for fact in told)
        ]
    assert found["checks"] == []
    assert found["next"]["kind"] in ("remedy", "call")
    lines = run("mixer", *told).stdout.splitlines()
    first = next(n for n, line in enumerate(lines) if line in ("Next", "Next, as the trainer wrote"))
    assert lines[first + 1].strip() == found["next"]["title"]
    assert any(line.strip().startswith("Call the ") for line in lines[first:])
    assert first < lines.index("Next checks for the operator, the machine energised")
    assert lines[-1].strip() == "None is worth its minutes."


def test_no_instruction_for_work_inside_is_printed() -> None:
    """Titles, tools, minutes, access and why; how to do it stays with the gate."""
    for machine, knowledge in ((read(MACHINES / "mixer"), MACHINES), (STACKER, ROOT / "knowledge")):
        inside = [check for check in machine.checks.values() if check.access.value != "outside"]
        assert inside
        for role in ("electrician", "engineer"):
            for extra in ([], ["--json"]):
                args = [
                    "--no-shipped",
                    "--knowledge",
                    str(knowledge),
                    "rank",
                    machine.id,
                    "supply-lamp=dark",
                    "--role",
                    role,
                    *extra,
                ]
                shown = " ".join(CliRunner().invoke(diag, args).stdout.split())
                assert not [check.id for check in inside if " ".join(check.do.split()) in shown]


def test_plain_ascii_where_the_output_takes_no_more() -> None:
    result = CliRunner(charset="ascii").invoke(
        diag, ["--no-shipped", "--knowledge", str(MACHINES), "rank", "mixer", "mains=0 V"]
    )
    assert result.exit_code == 0
    assert result.stdout_bytes.isascii()
    assert b"####" in result.stdout_bytes


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (["mixr"], "no machine 'mixr'; nearest: mixer"),
        (["mixer", "suply-lamp=dark"], "unknown indication 'suply-lamp'; nearest: 'supply-lamp'"),
        (["mixer", "supply-lamp=drak"], "supply-lamp: unknown state 'drak'; nearest: 'dark'"),
        (["mixer", "--role", "electrican"], "unknown role 'electrican'; nearest: 'electrician'"),
        (["mixer", "supply-lamp"], "'supply-lamp' is no fact; write it as INDICATION=STATE"),
        (["mixer", "=dark"], "is no fact"),
        (["mixer", "supply-lamp="], "is no fact"),
        (["mixer", "supply-lamp=dark", "supply-lamp=lit"], "supply-lamp is given twice, as 'dark' and as 'lit'"),
        (["mixer", "dc-supply=1,234"], "dc-supply: "),
        (["mixer", "dc-supply=" + "9" * 5000], "dc-supply: that is longer than 200 characters"),
        ([], "Missing argument 'MACHINE'"),
    ],
)
def test_wrong_facts_are_one_line(args: list[str], says: str) -> None:
    result = run(*args)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert result.stderr.count("\n") == 1
    assert says in result.stderr


def test_a_machine_with_errors_says_the_first_of_them(tmp_path: Path) -> None:
    (tmp_path / "bad").mkdir()
    (tmp_path / "bad" / "machine.yaml").write_text("format: 1\ntitle: [\n")
    result = CliRunner().invoke(diag, ["--no-shipped", "--knowledge", str(tmp_path), "rank", "bad"])
    assert result.exit_code == 1
    assert "bad/machine.yaml:" in result.stderr
    assert result.stderr.count("\n") == 1


def test_two_causes_at_once_are_told_when_asked() -> None:
    facts = ("supply-lamp=dark", "dc-supply=23.9")
    plain = run("mixer", *facts)
    asked = run("mixer", *facts, "--two")
    assert "Two causes at once" not in plain.stdout
    assert "Two causes at once" in asked.stdout
    both = json.loads(run("mixer", *facts, "--two", "--json").stdout)["two"]
    shares = [pair["probability"] for pair in both]
    assert shares == sorted(shares, reverse=True)
    assert 0.0 < sum(shares) < 1.0
    assert all(len(set(pair["ids"])) == 2 for pair in both)


def test_what_is_so_at_the_machine_is_told_and_no_casebook_is_made(mixer: Machine, tmp_path: Path) -> None:
    """By other people's cases: their locks stand, whoever asks."""
    from diag.case.case import Case
    from diag.case.log.events import Gate
    from diag.machine.model import Role
    from diag.record.casebook import Casebook
    from diag.safety import Person

    file = tmp_path / "book.sqlite3"
    with Casebook(file) as book:
        case = Case.open(mixer, Person("Ada Brandt", Role.ELECTRICIAN, True, True), book=book)
        while not case.state.locks:
            step = case.state.steps["control-box"][0]
            case.post(Gate(zone="control-box", act=step.act, target=step.target))
    said = run("mixer", casebook=file).stdout
    assert "At the machine: LOCK ON:" in " ".join(said.split())
    found = json.loads(run("mixer", "--json", casebook=file).stdout)
    assert [lock["who"] for lock in found["machine_condition"]["locks"]] == ["Ada Brandt"]
    missing = tmp_path / "none.sqlite3"
    assert "is not known" in " ".join(run("mixer", casebook=missing).stdout.split())
    assert not missing.exists()
