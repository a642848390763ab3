"""A machine of which the casebook's lists do not agree with its entries: worked out anew from them, and opened again.

What the repair came to is an entry of a case of its own. No zone of the machine counts as proved from then on. Where
entries are missing or cannot be read, they count as the worst that they can have been: each lock that anything speaks
of is on, a danger stands, a protective device has operated, and each zone may be open.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC

from diag.case.case import names, opening
from diag.case.log import events as e
from diag.case.log.stored import entry_to_add, event_of
from diag.case.sitting import Clock, Sitting, utc_now
from diag.machine.model import Machine
from diag.record.casebook import Casebook
from diag.record.entry import DangerOn, LockOn, moment
from diag.record.store.followed import REPAIRED
from diag.record.verify.repairing import Repair, repair, survey


def planned(book: Casebook, machine: str) -> Repair:
    """What a repair would do, a sentence for each thing. Raises KeyError where no case is of that machine."""
    unread = (event_of(entry) for _, entry in book.machine_entries(machine, after=book.begins(machine)))
    return survey(book.engine, machine, [one.why for one in unread if isinstance(one, e.Unreadable)])


def mend(book: Casebook, machine: Machine, plan: Repair, sitting: Sitting, clock: Clock = utc_now) -> str:
    """Does what was planned; the name of the case that records it. Raises `Refused` for a person without a name, and
    `CasebookError` where it is no longer what would be done."""
    at = clock().astimezone(UTC)
    lost = bool(plan.lost)
    event = e.ListsRepaired(
        changed=len(plan.changes),
        lost=len(plan.lost),
        locks=plan.locks if lost else (),
        dangers=(*plan.dangers, e.GAP) if lost and e.GAP not in plan.dangers else plan.dangers if lost else (),
        resets=tuple(moment(reset) for reset in plan.resets) if lost else (),
    )
    entries = opening(machine, sitting, at, event)
    added = [entry_to_add(machine, entries[:n], stamped, sitting) for n, stamped in enumerate(entries)]
    if lost:
        locked = tuple(LockOn(machine.recorded_as, point, who) for point, who in event.locks)
        signs = tuple(DangerOn(machine.recorded_as, sign) for sign in event.dangers)
        derived = replace(added[-1].derived, locked=locked, dangers=signs, rest=REPAIRED)
        added[-1] = replace(added[-1], derived=derived)
    return repair(book.engine, plan, names(at), added).name
