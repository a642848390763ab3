"""Which states of the gate count as one in the walk. Each of these visits more than is reachable, never less.

- *Order within a kind.* Which lock, energy or test point of a kind was confirmed first matters to `RETRACT` alone, and
  so does where in the record a lock stands. States that differ in nothing else are one; `RETRACT` is tried with each
  of their possible last confirmations (`lasts`).
- *Who said it.* The record names who confirmed each step, but only for a lock and for the run with the meter does it
  matter who that was; for the other steps states that differ in the name alone are one.
- *What was found.* Which of the three findings stopped a zone is read by the words on the screen alone.
- *The two persons.* An isolation knows persons by name only, and nothing but being the same name matters; so a state
  and the one with the names exchanged are one.
- *Points, energies and test points of one zone.* The same holds for their names, where no other zone shares them and
  as long as points are electrical alike: what was done with how many of them matters, and not with which
  (`key_of_one`; a test compares it with `key`).
- *Which lock came off, and which point came on.* What is locked and what is off stands in the isolation. The record of
  the way back says besides that a lock came off, or a point on, and only where that stands last matters: to `RETRACT`,
  which takes back neither, and to whoever looks whether the last look came after the last lock. Where two zones share
  a point, both may come off and on again without end; so each counts once, where it was said last.
- *Without undo.* In a walk that leaves out `RETRACT`, what only `RETRACT` reads is left out too: which locks the record
  holds (not which are on), whether it began with people told or with isolating again, and what came out, went back
  or went on again on the way back (what is in, off or not back stands in the isolation).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from typing import Any

from ledger import Ledger, Mark, Page

from diag.machine.isolation import StoredEnergy
from diag.machine.model import Machine
from diag.safety import Act, Isolation, Lockout

ANN, BOB = "Ann", "Bob"
NAMED = {Act.BEFORE_OFF, Act.PUT_BACK}
"""Acts whose targets are no names of the machine, but words."""
RUN = {Act.METER_PROVED, Act.TESTED_DEAD}
FOR_UNDO = {Act.HOLD_OUT, Act.PUT_BACK, Act.POWER_ON}
"""Acts whose record `RETRACT` alone reads."""
FENCES = {Act.LOCKS_OFF, Act.POWER_ON}
"""Acts of which the record of the way back matters in so far as where one of the kind was said last."""


def key(isolation: Isolation, ledger: Ledger, undo: bool = True, two: bool = True) -> object:
    """Equal for states that differ in nothing that matters (see the head of this file). `two`: of two persons."""
    one = state_of(isolation, ledger, undo, False)
    return min(one, state_of(isolation, ledger, undo, True)) if two else one


def state_of(isolation: Isolation, ledger: Ledger, undo: bool, swap: bool) -> tuple[object, ...]:
    live = (_name(isolation.live.person, swap), isolation.live.zone) if isolation.live else ()
    said = (_name(ledger.live[0], swap), ledger.live[1]) if ledger.live else ()
    locks = tuple(sorted([(p, _name(n, swap)) for p, n in isolation.locks]))
    lockouts = tuple([_lockout(o, undo, swap) for o in isolation.lockouts])
    pages = tuple([(zone, _page(page, undo, swap)) for zone, page in ledger.pages])
    return lockouts, tuple(sorted(isolation.off)), locks, live, pages, said, _back(isolation, ledger)


def _back(isolation: Isolation, ledger: Ledger) -> tuple[object, ...]:
    """What is in, off or turned, as both have it."""
    sets = isolation.holds, isolation.taken, isolation.turned, ledger.pins, ledger.loose, ledger.spun
    return tuple(tuple(sorted(s)) for s in sets)


def key_of_one(isolation: Isolation, ledger: Ledger, machine: Machine) -> object:
    """The same for a machine of one zone, whose points, energies and test points are told apart by what was done."""
    return min(_key_of_one(isolation, ledger, machine, False), _key_of_one(isolation, ledger, machine, True))


def _key_of_one(isolation: Isolation, ledger: Ledger, machine: Machine, swap: bool) -> tuple[object, ...]:
    (zone,) = machine.zones.values()
    live = _name(isolation.live.person, swap) if isolation.live else ""
    said = _name(ledger.live[0], swap) if ledger.live else ""
    now, done = _told(isolation.lockouts[0], swap) if isolation.lockouts else ((), {})
    page, marked = _marked(ledger.pages[0][1], swap) if ledger.pages else ((), {})
    on, kept = _owners(isolation.locks, swap), _owners(ledger.locks, swap)

    def met(name: str) -> tuple[object, ...]:
        return done.get(name, ()), marked.get(name, ())

    points = sorted(
        (machine.points[p].electrical, p in isolation.off, p in ledger.off, on.get(p, ()), kept.get(p, ()), *met(p))
        for p in zone.points
    )
    kinds = _kinds(tuple(machine.stored.values()))
    stored = sorted((kinds[s], s in isolation.holds, s in ledger.pins, met(s)) for s in zone.stored)
    tests = sorted((*met(t), machine.test_points[t].below or 0.0) for t in zone.test_points)
    rest = _back(isolation, ledger)
    return now, page, live, said, tuple(points), tuple(stored), tuple(tests), rest[1:3], rest[4:]


@cache
def _kinds(stored: tuple[StoredEnergy, ...]) -> dict[str, str]:
    """What tells each stored energy from others, besides what was done: its own order, and who comes after it."""

    def named_by(id: str) -> list[str]:
        return [s.id for s in stored if id in s.after or (s.put_back and id in s.put_back.after)]

    return {s.id: repr((s.put_back, s.after, s.counts_when, named_by(s.id))) for s in stored}


def _owners(locks: frozenset[tuple[str, str]], swap: bool) -> dict[str, tuple[str, ...]]:
    found: dict[str, tuple[str, ...]] = {}
    for point, name in locks:
        found[point] = tuple(sorted((*found.get(point, ()), _name(name, swap))))
    return found


Where = dict[str, tuple[tuple[object, ...], ...]]
"""Point, energy or test point to where in the order of kinds it was confirmed, and by whom where that matters."""


@cache
def _told(o: Lockout, swap: bool) -> tuple[tuple[object, ...], Where]:
    kinds, where = _in_order(tuple((c.act, c.target, c.person) for c in o.trail), swap)
    return (o.phase.value, kinds, _names(o.covered, swap), _names(o.left, swap), o.entered, o.again), where


@cache
def _marked(p: Page, swap: bool) -> tuple[tuple[object, ...], Where]:
    kinds, where = _in_order(tuple((m.act, m.item, m.who, m.fit) for m in p.marks), swap)
    crew = frozenset[str]().union(*(m.crew for m in p.marks))
    return (p.mode, kinds, _names(crew, swap), _names(p.away, swap), p.for_test, p.open), where


def _in_order(lines: tuple[tuple[Any, ...], ...], swap: bool) -> tuple[tuple[object, ...], Where]:
    """The kinds of confirmation in their order, with those that name nothing; and where in it each name stands."""
    lines = _last_fences(lines)
    kinds: list[list[object]] = []
    where: dict[str, list[tuple[object, ...]]] = {}
    for act, item, who, *more in lines:
        if act is Act.OFF_AND_LOCKED:
            where.setdefault(item, []).append((-1, _name(who, swap), *more))
            continue
        if not kinds or kinds[-1][0] != act.value:
            kinds.append([act.value])
        by = (_name(who, swap) if act in RUN else "", *more)
        if item and act not in NAMED:
            where.setdefault(item, []).append((len(kinds) - 1, *by))
        else:
            kinds[-1].append((item, *by))
    order = tuple((kind[0], *sorted(kind[1:])) for kind in kinds)
    return order, {item: tuple(sorted(met)) for item, met in where.items()}


@cache
def _lockout(o: Lockout, undo: bool, swap: bool) -> tuple[object, ...]:
    trail = _record(tuple((c.act, c.target, c.person) for c in o.trail), undo, swap)
    return o.zone, o.phase.value, trail, _names(o.covered, swap), _names(o.left, swap), o.entered, o.again


@cache
def _page(p: Page, undo: bool, swap: bool) -> tuple[object, ...]:
    marks = _record(tuple((m.act, m.item, m.who, m.fit) for m in p.marks), undo, swap)
    crew = frozenset[str]().union(*(m.crew for m in p.marks))
    return p.mode, marks, _names(crew, swap), _names(p.away, swap), p.for_test, p.open


def _record(lines: tuple[tuple[object, ...], ...], undo: bool, swap: bool) -> tuple[object, ...]:
    locks = sorted((item, _name(who, swap)) for act, item, who, *_ in lines if act is Act.OFF_AND_LOCKED)
    lines = _last_fences(lines)
    rest: list[list[object]] = []
    for act, item, who, *more in lines:
        if act is not Act.OFF_AND_LOCKED and (undo or act not in FOR_UNDO):
            kind = Act.TOLD if act is Act.ISOLATE_AGAIN and not undo else act
            if not rest or rest[-1][0] != kind.value:
                rest.append([kind.value])
            rest[-1].append((item, _name(who, swap) if act in RUN else "", *more))
    return tuple(locks if undo else ()), tuple((kind[0], *sorted(kind[1:])) for kind in rest)


def _last_fences(lines: tuple[tuple[Any, ...], ...]) -> tuple[tuple[Any, ...], ...]:
    """The record with each kind of fence once, where it stands last, and without what it named."""
    last = {act: i for i, (act, *_) in enumerate(lines) if act in FENCES}
    if not last:
        return lines
    kept = (line for i, line in enumerate(lines) if last.get(line[0], i) == i)
    return tuple((act, "" if act in FENCES else item, *rest) for act, item, *rest in kept)


def _names(some: frozenset[str], swap: bool) -> tuple[str, ...]:
    return tuple(sorted([_name(n, swap) for n in some]))


def _name(name: str, swap: bool) -> str:
    return {ANN: BOB, BOB: ANN}[name] if swap else name


def lasts(isolation: Isolation, ledger: Ledger, zone: str) -> Iterator[tuple[Isolation, Ledger]]:
    """The same state with each confirmation last that may have come last: any lock, or any of the last kind."""
    lockout, page = isolation.lockout(zone), ledger.page(zone)
    rest = [c for c in lockout.trail if c.act is not Act.OFF_AND_LOCKED]
    kind = rest[-1].act if rest else None
    run = next((i for i, c in enumerate(reversed(rest)) if c.act is not kind), len(rest))
    last = {id(c) for c in rest[len(rest) - run :]}
    yield isolation, ledger
    for i, c in enumerate(lockout.trail[:-1]):
        if c.act is not Act.OFF_AND_LOCKED and (id(c) not in last or c.act is Act.METER_PROVED):
            continue
        trail = (*lockout.trail[:i], *lockout.trail[i + 1 :], c)
        at = next((j for j, m in enumerate(page.marks) if (m.act, m.item, m.who) == (c.act, c.target, c.person)), None)
        assert at is not None, f"the isolation holds {c.act} {c.target} by {c.person}, and the ledger does not"
        marks = _last(page.marks, at)
        pages = tuple((z, replace(p, marks=marks) if z == zone else p) for z, p in ledger.pages)
        others = tuple(replace(o, trail=trail) if o.zone == zone else o for o in isolation.lockouts)
        yield replace(isolation, lockouts=others), replace(ledger, pages=pages)


def _last(marks: tuple[Mark, ...], at: int) -> tuple[Mark, ...]:
    """The marks with that one last; whose locks were on when the run began stays with the run's first."""
    moved, rest = marks[at], [*marks[:at], *marks[at + 1 :]]
    heir = next((i for i, m in enumerate(rest) if m.act in RUN), None)
    if moved.crew and heir is not None:
        rest[heir], moved = replace(rest[heir], crew=moved.crew), replace(moved, crew=frozenset())
    return (*rest, moved)
