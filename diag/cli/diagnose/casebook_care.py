"""What `diag cases` does besides listing: verify, copy, print, move and forget."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

import click

from diag.cli import json_output
from diag.cli.casebooks import find_case, wanted, writable
from diag.cli.errors import WrongUsage, unknown
from diag.cli.printing import say
from diag.cli.settings import Settings
from diag.machine.assets import shown_name
from diag.text import one_line

MOST = 200
"""Faults that are printed; the count of all stands below them."""


def verify(settings: Settings, digits: Sequence[str], program: bool) -> int:
    """Verifies the whole casebook, and says what chain, seals and digits show. 1 where something is wrong."""
    from diag.case.log.stored import derive
    from diag.record.verify.verifying import verify

    with wanted(settings) as book:
        try:
            found = verify(book.engine, digits, derive)
        except ValueError as error:
            raise WrongUsage(f"--digits: {error}") from None
    faults = found.faults
    if program:
        told = [{"shown_by": f.by, "case": f.case or None, "seq": f.seq or None, "text": f.text} for f in faults]
        counts = {"cases": found.cases, "entries": found.entries, "seals": found.seals, "digits": found.digits}
        json_output.say_object(
            {**counts, "faults": told, "remarks": list(found.remarks), "last_seal": found.last_seal or None}
        )
        return 1 if faults else 0
    for remark in found.remarks[:MOST]:
        say(f"Remark: {one_line(remark)}")
    for fault in faults[:MOST]:
        say(f"WRONG, by the {fault.by}: {one_line(fault.text)}")
    say(
        f"By the chain of each case: {_said(faults, 'chain')}. Checked: {found.entries} entries of {found.cases} cases."
    )
    say(f"By the daily seals: {_said(faults, 'seal')}. Checked: {found.seals} seals.")
    say(f"By the lists beside the entries: {_said(faults, 'lists')}. Checked: locks, danger signs, resets and cases.")
    if digits:
        say(f"By digits kept outside: {_said(faults, 'digits')}. Found: {found.digits} of {len(digits)}.")
    else:
        say("By digits kept outside: not checked. Only they show it when the seals were made anew too (--digits).")
    if found.last_seal:
        say(f"The last seal is {found.last_seal}. Keep a copy of it elsewhere.")
    say("This does not show who typed, nor whether a clock was right.")
    return 1 if faults else 0


def _said(faults: Sequence[object], by: str) -> str:
    count = sum(getattr(fault, "by", "") == by for fault in faults)
    return f"{count} wrong" if count else "nothing wrong"


def repair(settings: Settings, machine: str, by: str, role: str, yes: bool) -> int:
    """Works out anew what stands at a machine, says what changes, and does it once that is confirmed. 1 where nothing
    was repaired that had to be."""
    from diag.case.mending import mend, planned
    from diag.case.sitting import sitting_here
    from diag.cli import machines
    from diag.machine.assets import parted, recorded_as
    from diag.machine.model import Role
    from diag.safety import Person, Refused

    machine = recorded_as(*parted(machine))
    with writable(settings) as book:
        try:
            plan = planned(book, machine)
        except KeyError:
            known = sorted({head.machine for head in book.all_cases()})
            raise unknown("machine", machine, known) from None
        if not plan.needed:
            say(one_line(f"The lists of {machine} agree with its entries. Nothing is to be repaired."))
            return 0
        described = machines.of_record(settings.knowledge, machine)
        for text in plan.lost[:MOST]:
            say(f"LOST: {one_line(text)}")
        for text in plan.changes[:MOST]:
            say(f"changes: {one_line(text)}")
        say(f"{len(plan.changes)} rows change, {len(plan.lost)} things are lost. No zone counts as proved afterwards.")
        if plan.lost:
            say("What is lost counts as the worst it can have been: a danger stands, and each zone may be open.")
        if not yes and not _confirmed(machine):
            say("Nothing was changed.")
            return 1
        try:
            case = mend(book, described, plan, sitting_here(Person(by, Role(role))))
        except Refused as error:
            raise WrongUsage(f"--by: {error}") from None
    say(one_line(f"repaired; case {case} records it and is open. Look at each isolation point of {machine} now."))
    return 0


def _confirmed(machine: str) -> bool:
    """Whether whoever is at the keys types yes; nobody is asked where nobody can answer."""
    try:
        return click.confirm(one_line(f"Repair what is kept of {machine}?"), default=False)
    except click.Abort:
        return False


def backup(settings: Settings, path: Path) -> int:
    """Copies the whole casebook into a new file, while others may write."""
    from diag.record.copies.moving import backup

    with wanted(settings) as book:
        backup(book.engine, path)
    say(f"copied to {path}")
    return 0


def log(settings: Settings, case: str) -> int:
    """Prints every entry of a case in words."""
    from diag.case.sheet.log_lines import log_lines
    from diag.cli import machines

    book, recorded = find_case(settings, case)
    with book:
        entries, head = book.entries(case), book.case(case)
    from diag.machine.find import NoSuchMachine
    from diag.machine.load import NotAMachine
    from diag.record.digest import shown

    try:
        titles = machines.of_record(settings.knowledge, recorded)
    except (click.ClickException, NoSuchMachine, NotAMachine, OSError):
        titles = None  # its file is not here, or is not sound: the names of its entries stand for themselves
    say(one_line(f"Case {head.name} of {shown_name(recorded)}, {head.seq} entries, digits {shown(head.digest)}"))
    for line in log_lines(entries, titles):
        say(line)
    return 0


def export(settings: Settings, path: Path, cases: Sequence[str]) -> int:
    """Writes cases that are over as JSON Lines."""
    from diag.record.copies.moving import export

    with wanted(settings) as book:
        try:
            count = export(book.engine, cases, path)
        except KeyError as error:
            raise unknown("case", str(error.args[0]), [head.name for head in book.cases(limit=500)]) from None
    say(f"{count} cases written to {path}")
    return 0


def import_(settings: Settings, path: Path) -> int:
    """Takes over the cases of an export."""
    from diag.case.log.stored import derive
    from diag.record.copies.importing import import_file

    with writable(settings) as book:
        found = import_file(book.engine, path, derive)
    for name in found.added:
        say(one_line(f"case {name} is here now"))
    for remark in found.remarks:
        say(one_line(f"Remark: {remark}"))
    say(f"{len(found.added)} cases imported, {len(found.known)} were here already")
    return 0


def forget(settings: Settings, person: str, blank: bool) -> int:
    """Forgets a person. The texts that name them are told, before they are blanked or after they were left."""
    from diag.case.log.stored import derive
    from diag.record.forgetting import forget, naming

    with writable(settings) as book:
        try:
            for text in naming(book.engine, person) if blank else ():
                say(one_line(f"will be blanked: entry {text.seq} of case {text.case}: {text.words}"))
            found = forget(book.engine, person, derive, blank=blank)
        except KeyError:
            raise WrongUsage(f"nobody in the casebook is called {person!r}") from None
    say(one_line(f"forgotten in {found.cases} cases: {', '.join(found.names)}"))
    if found.blanked:
        say(f"{len(found.naming)} texts blanked")
    else:
        for text in found.naming:
            say(one_line(f"still names them: entry {text.seq} of case {text.case}: {text.words}"))
        if found.naming:
            say("These texts stay as they are, since nobody in the casebook has that name any more.")
    say("What was printed, exported or copied before is not reached.")
    return 0


def new(settings: Settings) -> int:
    """Makes an empty casebook where one was named."""
    from diag.cli.casebooks import check_writable
    from diag.record.casebook import Casebook

    check_writable(settings, new=True)
    place = settings.casebook
    if isinstance(place, Path) and os.path.lexists(place):
        raise WrongUsage(f"{place} is there already")
    Casebook(place, named_by=settings.casebook_named_by).close()
    say(f"a new casebook is at {place}")
    return 0
