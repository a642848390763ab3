"""Whole sheets, line by line. `DIAG_GOLDENS=new` writes them anew; look at them in the diff.

The shares of causes are reasoning's own, and not held here."""

from __future__ import annotations

import os
import re
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from case_steps import ANN, OLGA, Ticking, gate, go_back, live, lock_out

from diag.case.case import Case
from diag.case.log import events as e
from diag.case.sheet import sheet
from diag.machine.model import Machine, Role
from diag.safety import Act

SHEETS = Path(__file__).parent / "sheets"


@pytest.fixture(autouse=True)
def at_utc(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A sheet tells the time by this computer's clock."""
    monkeypatch.setenv("TZ", "UTC")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


def said(case: Case, *facts: tuple[str, str]) -> Case:
    for indication, text in facts:
        case.say(indication, text)
    return case


def proof_awaited(machine: Machine) -> Case:
    """Two people, live work, a lockout with all its steps, two checks inside, a remedy."""
    case = said(
        Case.open(machine, ANN, clock=Ticking()),
        ("supply-lamp", "lit"),
        ("box-display", "G0"),
        ("guard-seen", "down"),
    )
    case.say("dc-supply", "23,9 V", before="Carl")
    case.post(e.Skipped(action="measure-mains", why="nobody may today"))
    case.post(e.Skipped(action="lamp-failed"))
    case.post(e.ResetDone(reset="panel-reset"))
    case.undo()
    case.say("box-display", "G0")
    case.post(e.ResetDone(reset="panel-reset"))
    case.say("panel-reset", "back-later")
    case.post(e.Called(role=Role.ENGINEER))
    case.post(e.Noted(text="The bowl was changed this morning."))
    case.cannot_tell("before-stop")
    case.post(e.TookOver(person="Bob", role=Role.ENGINEER, authorised=True, qualified=True))
    live(case)
    gate(case, Act.LIVE_OVER)
    lock_out(case)
    case.say("guard-contact", "open", check="try-guard-contact")
    case.say("drive-fuse", "0.4", check="test-drive-fuse")
    case.post(e.Remedied(remedy="guard-contact-failed"))
    return case


def remedy_failed(machine: Machine) -> Case:
    """The same, back in service, and the fault is still there."""
    case = proof_awaited(machine)
    go_back(case)
    said(case, ("box-display", "idle"), ("ready-lamp", "dark"))
    case.post(e.RemedyFailed(remedy="guard-contact-failed"))
    return case


def locking_out(machine: Machine) -> Case:
    """A wait on a label runs, and a display was hard to read."""
    case = Case.open(machine, ANN, clock=Ticking())
    case.post(e.Found(indication="box-display", seen={"drive-trip": 1.0, "guard-open": 0.6}, said="d or G"))
    while case.state.steps["control-box"][0].act is not Act.RELEASED:
        step = case.state.steps["control-box"][0]
        gate(case, step.act, step.target)
    return case


def cured(machine: Machine) -> Case:
    case = said(Case.open(machine, ANN, clock=Ticking()), ("box-display", "d2"), ("motor-warm", "hot"))
    case.post(e.Remedied(remedy="let-cool"))
    said(case, ("box-display", "idle"), ("ready-lamp", "lit"))
    case.post(e.Closed(outcome="cured", cause="bowl-too-full", note="Told the night shift."))
    return case


def called(machine: Machine) -> Case:
    """An operator's call sheet."""
    case = said(
        Case.open(machine, OLGA, clock=Ticking()),
        ("smell", "none"),
        ("supply-lamp", "lit"),
        ("box-display", "d1"),
        ("motor-warm", "warm"),
    )
    case.say("mains", "401", before="Carl")
    case.cannot_tell("before-stop")
    case.post(e.Called(role=Role.ELECTRICIAN))
    case.post(e.Noted(text="It smelled of flour."))
    return case


def danger(machine: Machine) -> Case:
    return said(Case.open(machine, OLGA, clock=Ticking()), ("supply-lamp", "dark"), ("smell", "burning"))


CASES: tuple[Callable[[Machine], Case], ...] = (proof_awaited, remedy_failed, locking_out, cured, called, danger)


@pytest.mark.parametrize("made", CASES, ids=lambda made: made.__name__)
def test_a_sheet_reads_as_it_is_kept(mixer: Machine, made: Callable[[Machine], Case]) -> None:
    shown = re.sub(r"<?[0-9]+\u00a0%", "N\u00a0%", sheet.markdown(made(mixer)))
    kept = SHEETS / f"{made.__name__}.md"
    if os.environ.get("DIAG_GOLDENS") == "new":
        kept.write_text(shown, encoding="utf-8")
    assert shown == kept.read_text(encoding="utf-8"), f"{kept.name} differs; DIAG_GOLDENS=new keeps this one"
