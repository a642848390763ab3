"""Every entry of a case as a line of words, for whoever looks at the record itself."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from case_steps import ANN, Ticking

from diag.case.case import Case
from diag.case.log import events as e
from diag.case.sheet.log_lines import in_words, log_lines
from diag.machine.model import Machine, Role
from diag.record.casebook import Casebook
from diag.record.entry import Entry, Stamp
from diag.safety import Act

LET_COOL = "Take part of the dough out of the bowl and wait until the motor housing is warm, then reset"
AT = datetime(2030, 1, 2, 3, 4, 5, tzinfo=UTC)


@pytest.mark.parametrize(
    ("event", "says"),
    [
        (
            e.Opened(machine="mixer", revision="2026-11-20 and more"),
            "opened the case of Dough mixer 4, file 2026-11-20 and m.",
        ),
        (e.TookOver(person="Bob", role=Role.ENGINEER), "Bob took over as engineer."),
        (
            e.Joined(person="Ann", role=Role.ELECTRICIAN, authorised=True, qualified=True),
            "Ann joined as electrician, authorised, qualified.",
        ),
        (e.Joined(person="Ann", role=Role.ELECTRICIAN, qualified=True), "Ann joined as electrician, qualified."),
        (e.Resumed(), "opened the case again."),
        (e.Found(indication="supply-lamp", seen={"lit": 1.0}), "found SUPPLY: lit."),
        (e.Found(indication="supply-lamp", seen={"lit": 0.5}), "found SUPPLY: lit 0.5."),
        (
            e.Found(indication="box-display", seen={"drive-trip": 1.0, "guard-open": 0.625}, said="d?"),
            'found Display: drive trip 1, guard open 0.62, said as "d?".',
        ),
        (
            e.Found(indication="mains", seen={"good": 1.0}, check="measure-mains", before="Carl"),
            "found Mains at the supply terminals: good, by the check Measure: Mains at the supply terminals, "
            "before this case, by Carl.",
        ),
        (e.CannotTell(indication="smell"), "could not tell Smell."),
        (e.Skipped(action="measure-mains"), "set aside Measure: Mains at the supply terminals."),
        (
            e.Skipped(action="lamp-failed", why="no lamp here"),
            "set aside Remedy for: Supply lamp failed, because no lamp here.",
        ),
        (e.Did(tree="first-look", text="Note the code"), "did: Note the code"),
        (e.ResetDone(reset="panel-reset"), "did the reset: Fault reset."),
        (e.Remedied(remedy="let-cool"), f"remedy done: {LET_COOL}."),
        (e.RemedyFailed(remedy="let-cool"), f"the remedy did not cure: {LET_COOL}."),
        (e.Gate(zone="control-box", act=Act.TOLD), "at the gate of Control box: people told."),
        (e.Gate(zone="control-box", act=Act.SHUT_DOWN), "at the gate of Control box: shut down."),
        (
            e.Gate(zone="control-box", act=Act.OFF_AND_LOCKED, target="main-switch-q1"),
            "at the gate of Control box: off, and lock on, Main switch Q1.",
        ),
        (
            e.Gate(zone="control-box", act=Act.RELEASED, target="arm-weight"),
            "at the gate of Control box: stored energy released, Raised mixing arm.",
        ),
        (
            e.Gate(zone="control-box", act=Act.TESTED_DEAD, target="q1-out"),
            "at the gate of Control box: tested dead, Q1 outgoing terminals, each phase to each other and to earth.",
        ),
        (
            e.Gate(zone="control-box", act=Act.LIVE, reason="measured no other way", permit="P 7"),
            "at the gate of Control box: live work begun, because measured no other way, permit P 7.",
        ),
        (e.MadeSafe(how="The motor is cold"), "made it safe: The motor is cold"),
        (
            e.TagFound(person="Ann", point="main-switch-q1", says="Do not switch on"),
            'found a danger tag at Main switch Q1, naming Ann, which says "Do not switch on".',
        ),
        (e.TagFound(person="Ann", where="the start button"), "found a danger tag at the start button, naming Ann."),
        (
            e.TagDown(person="Ann", point="main-switch-q1", how="It is mended"),
            "took down the danger tag at Main switch Q1 that named Ann: It is mended",
        ),
        (
            e.OwnerAbsent(
                owner="Ann",
                locks=("main-switch-q1",),
                tags=("",),
                directed_by="Eva",
                off_site="badge out.",
                tried="rang twice",
                removed_by="Bob",
                authorised=True,
                qualified=True,
                checked="Olga looked",
            ),
            "taken off while Ann was absent: lock at Main switch Q1 and danger tag; directed for the employer by Eva; "
            "not on site: badge out; tried to be reached: rang twice; taken off by Bob (authorised and qualified); "
            "area checked, everybody clear: Olga looked.",
        ),
        (
            e.ListsRepaired(changed=1),
            "repaired the casebook's lists of the machine, 1 row. No zone counts as proved.",
        ),
        (
            e.ListsRepaired(changed=2, lost=1),
            "repaired the casebook's lists of the machine, 2 rows. No zone counts as proved. "
            "Entries are lost, and count as the worst that they can have been.",
        ),
        (e.OwnerTold(owner="Ann", how="by telephone"), "Ann knows what was taken off: by telephone"),
        (e.Called(role=Role.ENGINEER), "called the engineer."),
        (e.Noted(text="flour on the floor"), "noted: flour on the floor"),
        (e.TakenBack(seq=7), "took back entry 7."),
        (e.Closed(outcome="running"), "ended it: running."),
        (e.Closed(outcome="cured", cause="bowl-too-full"), "ended it: cured, cause Bowl too full."),
        (
            e.Closed(outcome="handed-over", to="Bob", note="It is warm."),
            "ended it: handed over to Bob. It is warm.",
        ),
    ],
)
def test_each_event_is_a_sentence(mixer: Machine, event: e.Event, says: str) -> None:
    assert in_words(event, mixer) == says


def test_without_a_machine_the_names_of_its_file_stand_there() -> None:
    found = e.Found(indication="supply-lamp", seen={"lit": 1.0}, check="see-supply-lamp")
    assert in_words(found) == "found supply-lamp: lit, by the check see-supply-lamp."
    gate = e.Gate(zone="control-box", act=Act.OFF_AND_LOCKED, target="main-switch-q1")
    assert in_words(gate) == "at the gate of control-box: off, and lock on, main-switch-q1."


def entry(seq: int = 2, seconds: float = 0.0, **changed: Any) -> Entry:
    plain: dict[str, Any] = {
        "case": "0102-a",
        "seq": seq,
        "at": AT + timedelta(seconds=seconds),
        "who": "Ann",
        "kind": "noted",
        "body": {"text": "x"},
        "stamp": Stamp(offset=60),
        "revs": {},
        "rev": 1,
        "digest": b"",
    }
    return Entry(**{**plain, **changed})


@pytest.mark.parametrize(
    ("stamp", "who"),
    [
        (Stamp(offset=0), "Ann"),
        (Stamp(offset=0, role="electrician"), "Ann (electrician)"),
        (
            Stamp(offset=0, role="electrician", confirmed=("authorised", "qualified")),
            "Ann (electrician, authorised, qualified)",
        ),
        (Stamp(offset=0, account="shift", host="panel-4", terminal="tty1"), "Ann [shift on panel-4 tty1]"),
        (Stamp(offset=0, host="panel-4"), "Ann [panel-4]"),
    ],
)
def test_a_line_tells_who_entered_it_as_what_and_where(stamp: Stamp, who: str) -> None:
    (line,) = log_lines((entry(stamp=stamp),))
    assert line == f"   2  2030-01-02 03:04:05 +0000  {who}: noted: x"


def test_a_name_that_was_forgotten_is_nobody() -> None:
    (line,) = log_lines((entry(who="", stamp=Stamp(offset=0)),))
    assert "  nobody: noted: x" in line


@pytest.mark.parametrize(
    ("offset", "time"),
    [
        (60, "2030-01-02 04:04:05 +0100"),
        (-90, "2030-01-02 01:34:05 -0130"),
        (24 * 60 - 1, "2030-01-03 03:03:05 +2359"),
        (1 - 24 * 60, "2030-01-01 03:05:05 -2359"),
    ],
)
def test_the_time_is_that_of_the_terminals_clock(offset: int, time: str) -> None:
    (line,) = log_lines((entry(stamp=Stamp(offset=offset)),))
    assert line.startswith(f"   2  {time}  Ann")


@pytest.mark.parametrize("offset", [None, 24 * 60, -24 * 60, 10**9])
def test_a_clock_that_cannot_be_is_told_by_this_one(offset: int | None) -> None:
    (line,) = log_lines((entry(stamp=Stamp(offset=offset)),))
    assert line.startswith(f"   2  {AT.astimezone():%Y-%m-%d %H:%M:%S %z}  Ann")


@pytest.mark.parametrize(
    ("back", "told"),
    [
        (-5, ""),
        (0, ""),
        (2, ""),
        (3, " [its time is 3 s before the one above]"),
        (599, " [its time is 599 s before the one above]"),
        (600, " [its time is 10 min before the one above]"),
        (7210, " [its time is 120 min before the one above]"),
    ],
)
def test_a_time_that_goes_back_is_told(back: float, told: str) -> None:
    first, second, third = log_lines((entry(), entry(3, -back), entry(4, -back)))
    assert "[its" not in first
    assert second.endswith(f"noted: x{told}")
    assert "[its" not in third, "it is held against the one above alone"


def test_an_entry_that_cannot_be_read_says_so_and_nothing_steers_a_terminal() -> None:
    (line,) = log_lines((entry(kind="sung"),))
    assert line.endswith("Ann: Entry 2 of case 0102-a cannot be read. The others stand.")
    (line,) = log_lines((entry(body={"text": "two\nlines\x1b[2J"}, seq=12345),))
    assert line.startswith("12345  ")
    assert line.endswith("noted: two lines [2J")


def test_what_was_taken_back_is_named(mixer: Machine, tmp_path: Path) -> None:
    with Casebook(tmp_path / "book.sqlite3") as book:
        case = Case.open(mixer, ANN, book=book, clock=Ticking())
        for indication, said in (("smell", "burning"), ("supply-lamp", "dark")):
            case.say(indication, said)
            case.undo()
        sign, fact = [line for line in log_lines(book.entries(case.id), mixer) if "took back" in line]
    assert "took back the danger sign 'burning': it was never there (entry 3)." in sign
    assert "took back: SUPPLY dark (entry 5)." in fact
