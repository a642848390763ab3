"""The words of the gate: what may be confirmed next, what else may be said, and why something may not be said now."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from diag.machine.isolation import TestPoint, Zone
from diag.machine.model import Machine, Role
from diag.safety import back_words, order
from diag.safety.types import Act, Person, Refused, Step
from diag.safety.zone import PAST_DANGER, RETURNING, Lockout, Phase, first_of_proof
from diag.text import cut

if TYPE_CHECKING:
    from diag.safety.lockout import Isolation

INSIDE = (Act.OPENED, Act.METER_PROVED, Act.TESTED_DEAD, Act.EARTHS_OUT)

PLAIN = {
    Act.TOLD: "Everyone who works at or near the machine has been told that it will be locked out.",
    Act.SHUT_DOWN: "The machine has been shut down with its own controls and stands still.",
    Act.OPENED: "The enclosure has been opened as though everything in it were live.",
    Act.BACK: "Return to service: what was taken off, holds, tools, covers, people, locks, a last look, power.",
    Act.TEST_POWER: "Power is needed for a test: return to service first, then isolate and prove dead again.",
    Act.RETRACT: "The last confirmation was a mistake: take it back.",
    Act.LIVE: "Live work in this zone: it cannot be done dead, and the site permits it.",
    Act.LIVE_OVER: "The live work is finished and the enclosure is closed.",
}
FOUND: dict[Act | None, str] = {
    Act.MOVED: "Something moved when a start was tried",
    Act.METER_FAILED: "The meter could not be proved",
    Act.VOLTAGE_FOUND: "Voltage found",
    None: "The record has a gap",
}
"""What stopped a zone."""
SHORT = 240
"""The longest that a refusal repeats of the step that comes next, in characters."""


def needs(zone: Zone, act: Act) -> str:
    """Whom an act asks for. Testing for the absence of voltage asks for a qualified person (29 CFR 1910.333(b)(2)(iv)),
    and so does the look that jumpers, shorts and earths are out (1910.333(b)(2)(v)(A)); everything else at the gate
    asks for an authorised one (1910.147(b))."""
    if act in PAST_DANGER or act is Act.LOCKS_OFF:
        return ""
    return "qualified" if act is Act.LIVE or (act in INSIDE and zone.electrical) else "authorised"


def entitled(zone: Zone, act: Act, person: Person) -> None:
    """Raises `Refused` when this person may not do this at all.

    What only takes permission away asks for nothing, and a lock for no more than its owner.
    """
    if not person.name.strip():
        raise Refused("Say who you are first.")
    asked = needs(zone, act)
    if not asked:
        return
    if person.role is Role.OPERATOR:
        raise Refused("Operators do not lock out or go inside. Call an electrician or an engineer.")
    if not person.named:
        raise Refused("A lock and a confirmation need a name of your own, not only a role. Say your name first.")
    if asked == "qualified" and not person.qualified:
        raise Refused("This step needs a person who is qualified to work near live parts.")
    if act is not Act.LIVE and not person.authorised:
        raise Refused("This step needs a person who is authorised to lock out.")


def unprovable(zone: Zone) -> str:
    """Why a zone can never be proved dead: its file names nothing to isolate or to test. Empty when it can."""
    for what, found in (("isolation point", zone.points), ("test point", zone.test_points)):
        if not found:
            return f"The machine file names no {what} for {zone.title}, so it cannot be proved dead. Call."
    return ""


def named(machine: Machine, zone: Zone, lockout: Lockout, act: Act, target: str, name: str, old: bool = False) -> str:
    """The target that a step needs, or an empty string. Raises `Refused`."""
    if act in (Act.RELEASED, Act.WAIT_BEGUN):
        left = tuple(s for a, s in unreleased(machine, zone, lockout, old) if a is act)
    elif act is Act.BEFORE_OFF:
        left = lockout.before(zone)[:1]
    elif act is Act.TESTED_DEAD:
        left = untested(zone, lockout, name)
    else:
        return ""
    if target not in left:
        raise Refused(f"Say which one: {', '.join(left)}." if left else "Not yet: something else comes first.")
    return target


def unreleased(machine: Machine, zone: Zone, lockout: Lockout, old: bool = False) -> order.Due:
    """The stored energies that may be released now, in the file's order; of those that wait for something to happen,
    that it has."""
    done, begun = lockout.targets(Act.RELEASED), lockout.targets(Act.WAIT_BEGUN)
    found = []
    for s in (machine.stored[s] for s in zone.stored if s not in done):
        if old or not set(s.after).intersection(zone.stored) - done:
            waits = not old and s.counts_when and s.id not in begun
            found.append((Act.WAIT_BEGUN if waits else Act.RELEASED, s.id))
    return tuple(found)


def untested(zone: Zone, lockout: Lockout, name: str) -> tuple[str, ...]:
    """The test points that this person's proof still asks for, in file order; all of them for a new proof."""
    tested = set() if lockout.phase is Phase.DEAD else {c.target for c in lockout.run(name)}
    return tuple(t for t in zone.test_points if t not in tested)


def steps(machine: Machine, isolation: Isolation, zone: str, person: Person) -> tuple[Step, ...]:
    """See `Isolation.steps`."""
    due = isolation.due(machine, zone, person.name)
    if due is Act.TOLD and unprovable(machine.zones[zone]):
        return ()
    if due is None or (person.role is Role.OPERATOR and needs(machine.zones[zone], due)):
        return ()
    return tuple(_due(machine, isolation, machine.zones[zone], due, person.name))


def _due(machine: Machine, isolation: Isolation, zone: Zone, due: Act, name: str) -> Iterator[Step]:
    lockout = isolation.lockout(zone.id)
    if lockout.phase in RETURNING:
        for act, target, text in back_words.texts(machine, isolation, zone, name):
            yield _step(zone, act, text, target)
        return
    match due:
        case Act.OFF_AND_LOCKED:
            yield from _points(machine, isolation, zone, name)
        case Act.BEFORE_OFF:
            first = lockout.before(zone)[0]
            yield _step(zone, due, f"By the controls alone, with the power still on: {first}.", first)
        case Act.RELEASED:
            for act, s in unreleased(machine, zone, lockout):
                yield _released(machine, zone, act, s)
        case Act.START_TRIED:
            yield _step(zone, due, _tried(machine, zone), fails=(Act.MOVED,))
        case Act.METER_PROVED:
            again = lockout.phase is Phase.LOCKING and lockout.run(name)
            same, once_more = ("same ", "again ") if again else ("", "")
            text = f"The {same}meter has been proved {once_more}on a known source, here where you work."
            yield _step(zone, due, text, fails=(Act.METER_FAILED,))
        case Act.TESTED_DEAD:
            fails = (Act.VOLTAGE_FOUND, Act.METER_FAILED) if zone.electrical else (Act.VOLTAGE_FOUND, Act.MOVED)
            for t in untested(zone, lockout, name):
                yield _test(zone, machine.test_points[t], fails)
        case Act.ISOLATE_AGAIN:
            yield _again(zone, lockout)
        case Act.SHUT_DOWN if lockout.has(Act.ISOLATE_AGAIN) and isolation.off.intersection(zone.points):
            yield _step(zone, due, _looked_at_again(machine, isolation, zone))
        case _:
            yield _step(zone, due)


def _looked_at_again(machine: Machine, isolation: Isolation, zone: Zone) -> str:
    """What stopped the zone may have come through one of its points."""
    off = [machine.points[p] for p in zone.points if p in isolation.off]
    named = ", ".join(f"{p.title} ({p.where})" if p.where else p.title for p in off)
    return f"{PLAIN[Act.SHUT_DOWN]} Somebody has been to each of these again, and it is off: {named}."


def _released(machine: Machine, zone: Zone, act: Act, stored: str) -> Step:
    s = machine.stored[stored]
    if act is Act.WAIT_BEGUN:
        return _step(zone, act, f"{s.title}: {s.counts_when}. The {s.wait:g} min count from now.", s.id)
    return _step(zone, act, f"{s.title}: {s.release}.", s.id, s.wait)


def _tried(machine: Machine, zone: Zone) -> str:
    """What a start is tried with, and when that says nothing."""
    how = zone.try_out
    if how is None:
        return "Everyone is clear. A start was tried, nothing moved, and the control is back to off."
    text = f"Everyone is clear. {how.control} was tried and nothing moved; now {how.back_to or 'it is back to off'}."
    if how.works_when:
        when = "; ".join(f"{machine.indications[i].title}: {' or '.join(states)}" for i, states in how.works_when)
        text += f" It proves nothing unless a start was possible before the power went: {when}."
    return text


def _test(zone: Zone, t: TestPoint, fails: tuple[Act, ...]) -> Step:
    if t.below is None:
        return _step(zone, Act.TESTED_DEAD, f"{t.title}: tested, {t.expects}.", t.id, fails=fails)
    pairs = ", ".join(t.pairs or (t.title,))
    text = f"{t.title}: measure {pairs}. Each reads below {t.below:g} V."
    return _step(zone, Act.TESTED_DEAD, text, t.id, fails=fails, asks=("values",))


def _points(machine: Machine, isolation: Isolation, zone: Zone, name: str) -> Iterator[Step]:
    remaining = isolation.remaining(machine, zone.id, name)
    if len(remaining) > 1 and isolation.off.issuperset(remaining):
        titles = ", ".join(machine.points[p].title for p in remaining)
        yield _step(zone, Act.OFF_AND_LOCKED, f"Your own lock is on each of these: {titles}.")
    for id in remaining:
        point = machine.points[id]
        foreign = ", which feeds in from outside this machine," if point.foreign else ""
        where = f" ({point.where})" if point.where else ""
        lost = f" With it goes: {', '.join(point.lost_with)}." if point.lost_with else ""
        text = f"{point.title}{where}{foreign} is off, with your own lock on it.{lost}"
        yield _step(zone, Act.OFF_AND_LOCKED, text, id)


def _again(zone: Zone, lockout: Lockout) -> Step:
    if lockout.phase is Phase.STOP:
        text = "The site has found the cause and decided. Tell everyone, check every lock, and prove it all again."
        return _step(zone, Act.ISOLATE_AGAIN, text, asks=("reason",))
    before = "The test is over. " if lockout.phase is Phase.TESTING else ""
    return _step(zone, Act.ISOLATE_AGAIN, f"{before}Tell everyone, then isolate, lock and prove it dead again.")


def ways(machine: Machine, isolation: Isolation, zone: str, person: Person) -> tuple[Step, ...]:
    """See `Isolation.ways`."""
    z, lockout, name = machine.zones[zone], isolation.lockout(zone), person.name
    found: list[Step] = []
    if lockout.phase is Phase.DEAD:
        if name in isolation.crew(machine, zone) & lockout.covered:
            found += _due(machine, isolation, z, first_of_proof(z), name)
        found.append(_step(z, Act.TEST_POWER))
    if lockout.phase in (Phase.LOCKING, Phase.DEAD, Phase.STOP):
        found.append(_step(z, Act.BACK))
    if lockout.phase is Phase.TESTING:
        found.append(_step(z, Act.BACK, "The test is over and nothing is left to do inside."))
    if lockout.phase in (Phase.STOP, Phase.BACK, Phase.HOLDS):
        found.append(_again(z, lockout))
    if lockout.phase in (Phase.NONE, Phase.TESTING, Phase.HOLDS):
        late = sorted(t.what for t in isolation.taken if t.zone == zone)
        found += [_step(z, Act.PUT_BACK, f"Back before the covers went on: {what}.", what) for what in late]
    others = isolation.crew(machine, zone) - {name}
    if lockout.phase in (Phase.LOCKING, Phase.DEAD, Phase.STOP) and others and name in isolation.owners(machine, zone):
        off = back_words.lock_off(machine, isolation, z, "", name)
        found.append(_step(z, Act.LOCKS_OFF, f"You have finished here and are clear of the machine. {off}"))
    if lockout.trail and lockout.phase in (Phase.LOCKING, Phase.DEAD, Phase.BACK):
        found.append(_step(z, Act.RETRACT))
    if isolation.live is not None and isolation.live.zone == zone:
        found.append(_step(z, Act.LIVE_OVER))
    elif isolation.live is None and z.electrical and isolation.ready(machine):
        found.append(_step(z, Act.LIVE, asks=("reason", "permit")))
    return tuple(s for s in found if not (s.needs and person.role is Role.OPERATOR))


def not_now(machine: Machine, isolation: Isolation, zone: Zone, due: Act | None, name: str) -> str:
    """Why an act is refused where another one is due, and which."""
    lockout = isolation.lockout(zone.id)
    if lockout.phase is Phase.STOP:
        return (
            f"{zone.title} is stopped. Call; then return to service, or prove it all again once the site has decided."
        )
    if due is None and lockout.phase in (Phase.BACK, Phase.HOLDS):
        return back_words.waited_for(machine, isolation, zone, name)
    if due is None:
        return f"{zone.title} has already been proved dead."
    return "Not yet. Next: " + _in_short(next(_due(machine, isolation, zone, due, name)).text)


def _in_short(text: str) -> str:
    """The first sentences of what a step says, as many as fit into a refusal; the step itself has all of them."""
    while len(text) > SHORT and ". " in text:
        text = text.rsplit(". ", 1)[0] + "."
    return cut(text, SHORT)


def stopped(zone: Zone, found: Act | None) -> str:
    """What a stopped zone says, in one line."""
    what = FOUND[found] if zone.electrical or found is not Act.VOLTAGE_FOUND else "Energy found"
    return f"{what}: {zone.title} is not dead. Keep out and call."


def _step(
    zone: Zone,
    act: Act,
    text: str = "",
    target: str = "",
    wait: float = 0.0,
    fails: tuple[Act, ...] = (),
    asks: tuple[str, ...] = (),
) -> Step:
    text = (text or (PLAIN.get(act) or back_words.PLAIN[act])).replace("..", ".")
    return Step(zone.id, act, target, text, wait=wait, needs=needs(zone, act), fails=fails, asks=asks)
