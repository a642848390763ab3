"""The lockout, as a pure state machine: a confirmation goes in, a new `Site` comes out. `Lockout` is one zone of it.

The order is that of 29 CFR 1910.147(d)(1)-(6): people told, shut down by its controls, each isolation point off and
under each person's own lock, stored energy released, verified. In electrical zones 1910.333(b)(2)(iv) adds that a
qualified person tests, and HSG85 and GS38 that the meter is proved before and after. EN 50110-1 6.2 has the same in
its first three rules. Points fed from outside the machine count too: the main switch does not cut them (IEC 60204-1
5.3.5). The way back is 1910.147(e)(1)-(3), power for a test (f)(1), several people and a change of shift (f)(3), (4).

What those texts leave to the site is settled here, each time on the safe side:

- *A voltage, a meter that does not prove, a movement* stop the zone. From there the way back is open, or, with the
  site's decision in words, the whole proof from the shut-down on. Neither a stop nor the way back can be taken back.
  A voltage or a movement puts the shared point in doubt, so it stops every zone that was being proved on that point.
- *Whoever joins* adds their own lock to each point, and the zone is tested again with that lock on before they work:
  a proof counts for those whose locks were on when it began. Nobody else loses theirs until the new one begins.
- *One proof, one pair of hands:* proving the meter, testing and proving again is one person's work. When another
  takes over in the middle, it starts again.
- *Who leaves* takes off their own locks while somebody else's are on every point; the last one goes the way back.
- *A lock comes off by its owner alone.* For an absent owner the site has its procedure (1910.147(e)(3)); this has none.
- *A shared point* stays off, and keeps its locks, while another zone stands on it.
- *The label's wait comes before the word:* while it runs, stored energy is not said to be released, and so nothing
  after it is confirmed: no opening, no test, not dead. When it is over that alone permits nothing; the meter does.
- *Opened is opened:* taking back a confirmation never un-opens an enclosure, and never takes a lock from a zone that
  was entered; that is what the way back is for.
- *A zone without an isolation point, or without a test point, is never dead.*
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from diag.machine.model import Machine
from diag.machine.site import Zone
from diag.safety import steps as words
from diag.safety.types import Act, LiveWork, Person, Refused, Step
from diag.safety.zone import (
    AFTER_LOCKS,
    NOBODY,
    PAST_DANGER,
    PROOF,
    STANDING,
    WAY_BACK,
    Confirmed,
    Lockout,
    Phase,
    first_of_proof,
)

__all__ = ["Confirmed", "Lockout", "Phase", "Site"]


@dataclass(frozen=True, slots=True)
class Site:
    """Every zone of one machine: its lockouts, the points that are off, the locks, and the live work."""

    lockouts: tuple[Lockout, ...] = ()
    """Those that were begun, by zone; a zone that is missing is closed and not locked out."""
    off: frozenset[str] = NOBODY
    """Isolation points that are off."""
    locks: frozenset[tuple[str, str]] = frozenset()
    """Isolation point and person, each lock that is on."""
    live: LiveWork | None = None

    # ------------------------------------------------------------ questions

    def lockout(self, zone: str) -> Lockout:
        for lockout in self.lockouts:
            if lockout.zone == zone:
                return lockout
        return Lockout(zone)

    def locked(self, machine: Machine, zone: str, name: str) -> bool:
        """This person's own lock is on every isolation point of the zone, and they did not leave it."""
        points = machine.zones[zone].points
        return bool(points) and name not in self.lockout(zone).left and all((p, name) in self.locks for p in points)

    def crew(self, machine: Machine, zone: str) -> frozenset[str]:
        """All whose own lock is on every isolation point of the zone."""
        return frozenset(name for name in {n for _, n in self.locks} if self.locked(machine, zone, name))

    def owners(self, machine: Machine, zone: str) -> frozenset[str]:
        """All whose lock is on some point of the zone and counts here."""
        left = self.lockout(zone).left
        return frozenset(n for p, n in self.locks if p in machine.zones[zone].points and n not in left)

    def due(self, machine: Machine, zone: str, name: str) -> Act | None:
        """The kind of confirmation that this person gives next in this zone; `None` when there is none for them."""
        due = self.lockout(zone).next(machine.zones[zone], name, self.crew(machine, zone))
        if due not in (Act.LOCKS_OFF, Act.POWER_ON):
            return due
        if owners := self.owners(machine, zone):
            return Act.LOCKS_OFF if name in owners else None
        return due if due is Act.POWER_ON else Act.TOLD_BACK

    def uncovered(self, machine: Machine, zone: str) -> frozenset[str]:
        """Who joined a zone that was dead before, and for whom it must be tested again."""
        lockout = self.lockout(zone)
        return self.crew(machine, zone) - lockout.covered if lockout.phase is Phase.DEAD else NOBODY

    def dead(self, machine: Machine, zone: str, name: str) -> bool:
        """The zone is proved dead for this person: own locks on, and the proof began after they were on."""
        lockout = self.lockout(zone)
        return lockout.phase is Phase.DEAD and name in lockout.covered and self.locked(machine, zone, name)

    @property
    def closed(self) -> bool:
        """No zone stands on its isolation points: all closed, or never opened."""
        return not any(lockout.phase in STANDING for lockout in self.lockouts)

    def energised(self, machine: Machine) -> bool:
        """No electrical isolation point of the machine is off."""
        return not any(machine.points[p].electrical for p in self.off)

    def held(self, machine: Machine, zone: str, point: str, name: str = "") -> bool:
        """Another zone than this one stands on the point (when a name is given: and on this person's lock there)."""
        return any(
            lockout.phase in STANDING
            and lockout.zone != zone
            and point in machine.zones[lockout.zone].points
            and not (name and name in lockout.left)
            for lockout in self.lockouts
        )

    def remaining(self, machine: Machine, zone: str, name: str) -> tuple[str, ...]:
        """The points of the zone that still ask for this person's lock, in file order."""
        points = machine.zones[zone].points
        if name in self.lockout(zone).left:
            return points
        return tuple(p for p in points if (p, name) not in self.locks)

    def steps(self, machine: Machine, zone: str, person: Person, danger: bool = False) -> tuple[Step, ...]:
        """What this person may confirm next in this zone, the first one first; empty at the gate's end.

        `Step.needs` says whom a step asks for, whether or not this person is one; an operator gets none, and
        nobody does while a danger sign stands. The ways out of the order are in `ways`.
        """
        return () if danger else words.steps(machine, self, zone, person)

    def ways(self, machine: Machine, zone: str, person: Person, danger: bool = False) -> tuple[Step, ...]:
        """What else may be said in this zone now: back, power for a test, leave, take back, live work and its end."""
        return tuple(s for s in words.ways(machine, self, zone, person) if not danger or s.act in PAST_DANGER)

    # ------------------------------------------------------------ changes

    def lapse(self) -> Site:
        """Handover, resume, change of role, end of the case: live work lapses; locks and proofs stand."""
        return self if self.live is None else replace(self, live=None)

    def doubted(self) -> Site:
        """The record has a gap: every zone that stands on its points is stopped as if it were open; locks stand."""
        site = self
        for lockout in self.lockouts:
            if lockout.phase in STANDING:
                site = site._put(replace(_stopped(lockout, None), entered=True))
        return site.lapse()

    def apply(
        self,
        machine: Machine,
        zone: str,
        act: Act,
        target: str,
        person: Person,
        reason: str = "",
        permit: str = "",
        danger: bool = False,
        waiting: frozenset[str] = NOBODY,
    ) -> Site:
        """The site after one confirmation. Raises `Refused` with one line that says what to do instead.

        `waiting`: stored energy whose label's wait is still running; nobody says of it that it is released."""
        if zone not in machine.zones:
            raise Refused(f"This machine has no zone {zone!r}.")
        if danger and act not in PAST_DANGER:
            raise Refused("A danger sign stands. Keep away and call.")
        site = self if self.live is None or self.live.person == person.name else self.lapse()
        if act is Act.LIVE_OVER:
            return self._live_over(zone)
        if act is Act.RETRACT and site.live is not None and site.live.zone == zone:
            return site.lapse()
        words.entitled(machine.zones[zone], act, person)
        if act is Act.LIVE:
            return site._live(machine, zone, person, reason.strip(), permit.strip())
        if act is Act.RELEASED and target in waiting:
            raise Refused(f"{machine.stored[target].title}: the wait on its label is not over. Wait it out first.")
        return site.lapse()._move(machine, machine.zones[zone], act, target, person.name, reason.strip())

    def _move(self, machine: Machine, zone: Zone, act: Act, target: str, name: str, reason: str) -> Site:
        lockout = self.lockout(zone.id)
        match act:
            case Act.MOVED | Act.VOLTAGE_FOUND | Act.METER_FAILED:
                return self._stop(machine, lockout, act)
            case Act.RETRACT:
                return self._retract(machine, zone, lockout, name)
            case Act.BACK | Act.TEST_POWER:
                return self._back(zone, lockout, act)
            case Act.ISOLATE_AGAIN:
                return self._again(lockout, name, reason)
            case Act.LOCKS_OFF:
                return self._locks_off(machine, zone, lockout, target, name)
            case Act.OFF_AND_LOCKED:
                return self._lock(machine, zone, lockout, target, name)
        due = self.due(machine, zone.id, name)
        crew = self.crew(machine, zone.id)
        proves = act is first_of_proof(zone) and name in crew and bool(self.uncovered(machine, zone.id))
        if act is not due and not proves:
            raise Refused(words.not_now(machine, self, zone, due, name))
        if act in WAY_BACK:
            return self._way_back(machine, zone, lockout, Confirmed(act, "", name))
        if act is Act.TOLD and (why := words.unprovable(zone)):
            raise Refused(why)
        named = words.named(zone, lockout, act, target, name)
        return self._forward(zone, lockout, Confirmed(act, named, name), crew)

    def _forward(self, zone: Zone, lockout: Lockout, confirmed: Confirmed, crew: frozenset[str]) -> Site:
        """One step nearer to dead, already known to be the one that is due."""
        if confirmed.act in PROOF and (lockout.phase is Phase.DEAD or not lockout.run(confirmed.person)):
            lockout = replace(lockout, trail=lockout.without(*PROOF), covered=crew)
        trail = (*lockout.trail, confirmed)
        entered = lockout.entered or confirmed.act is Act.OPENED
        changed = replace(lockout, phase=Phase.LOCKING, trail=trail, entered=entered)
        return self._put(replace(changed, phase=Phase.DEAD, entered=True) if changed.proved(zone) else changed)

    def _lock(self, machine: Machine, zone: Zone, lockout: Lockout, target: str, name: str) -> Site:
        if lockout.phase not in (Phase.LOCKING, Phase.DEAD) or not lockout.has(Act.SHUT_DOWN):
            raise Refused(words.not_now(machine, self, zone, self.due(machine, zone.id, name), name))
        remaining = self.remaining(machine, zone.id, name)
        if target and target not in zone.points:
            raise Refused(f"{zone.title} has no isolation point {target!r}.")
        if not remaining or (target and target not in remaining):
            raise Refused("Your lock is already on.")
        if not target and not self.off.issuperset(remaining):
            raise Refused("Switch off and lock each point by itself, and confirm it by its name.")
        points = (target,) if target else remaining
        trail = (*lockout.trail, *(Confirmed(Act.OFF_AND_LOCKED, p, name) for p in points))
        site = replace(self, off=self.off.union(points), locks=self.locks.union((p, name) for p in points))
        return site._put(replace(lockout, trail=trail, left=lockout.left - {name}))

    def _locks_off(self, machine: Machine, zone: Zone, lockout: Lockout, target: str, name: str) -> Site:
        mine = {p for p in zone.points if (p, name) in self.locks}
        if lockout.phase not in STANDING or not mine or name in lockout.left:
            raise Refused(f"No lock of yours is on for {zone.title}.")
        if target and target not in mine:
            raise Refused("Your lock is not on that point. Each person takes off only their own.")
        if lockout.phase is Phase.BACK:
            if not lockout.has(Act.CLEAR):
                raise Refused("First confirm: tools out, guards on, people clear. Then the locks.")
        elif not self.crew(machine, zone.id) - {name}:
            raise Refused("Nobody else's locks are on every point, so yours stay on. Start the way back.")
        kept = {p for p in mine if self.held(machine, zone.id, p, name)}
        if target in kept:
            raise Refused("That lock also holds another zone. It stays on until that zone goes back.")
        loose = mine - kept
        taken = {target} if target else loose
        left = lockout.left | {name} if taken == loose else lockout.left
        trail = lockout.trail
        if name in left:
            trail = tuple(c for c in trail if c.act is not Act.OFF_AND_LOCKED or c.person != name)
        site = replace(self, locks=self.locks - {(p, name) for p in taken})
        return site._put(replace(lockout, trail=trail, left=left))._settled(machine)

    def _way_back(self, machine: Machine, zone: Zone, lockout: Lockout, confirmed: Confirmed) -> Site:
        """One step of the way back, already known to be the one that is due."""
        if confirmed.act is Act.POWER_ON:
            free = {p for p in zone.points if not self.held(machine, zone.id, p)}
            site = replace(self, off=self.off - free)
            return site._put(Lockout(zone.id, Phase.TESTING if lockout.again else Phase.NONE))
        entered = lockout.entered and confirmed.act is not Act.GUARDS_ON
        return self._put(replace(lockout, trail=(*lockout.trail, confirmed), entered=entered))

    def _stop(self, machine: Machine, lockout: Lockout, act: Act) -> Site:
        if lockout.phase not in STANDING or (lockout.phase is Phase.LOCKING and not lockout.has(Act.SHUT_DOWN)):
            raise Refused("This zone is not locked out. Keep away, and call.")
        site = self
        for other in self.lockouts:
            same = other.zone == lockout.zone
            points = set(machine.zones[other.zone].points)
            doubtful = act is not Act.METER_FAILED and not points.isdisjoint(machine.zones[lockout.zone].points)
            proving = other.phase is Phase.DEAD or any(c.act in AFTER_LOCKS for c in other.trail)
            if same or (doubtful and proving):
                site = site._put(_stopped(other, act))
        return site

    def _back(self, zone: Zone, lockout: Lockout, act: Act) -> Site:
        if act is Act.TEST_POWER and lockout.phase is not Phase.DEAD:
            raise Refused("Power for a test starts from a zone that is proved dead. Otherwise go the way back.")
        if lockout.phase is Phase.NONE or lockout.phase is Phase.BACK:
            raise Refused("The way back is for a zone that is locked out.")
        untouched = not lockout.entered and not self.off & set(zone.points)
        if lockout.phase is Phase.TESTING or untouched:
            return self._put(Lockout(zone.id))
        again = act is Act.TEST_POWER
        return self._put(replace(lockout, phase=Phase.BACK, trail=(), covered=NOBODY, again=again, found=None))

    def _again(self, lockout: Lockout, name: str, reason: str) -> Site:
        if lockout.phase not in (Phase.TESTING, Phase.BACK, Phase.STOP):
            raise Refused("There is nothing to isolate again here.")
        if lockout.phase is Phase.STOP and not reason:
            raise Refused("Say what the site found and who decided that the proof may start again.")
        trail = (Confirmed(Act.ISOLATE_AGAIN, "", name),)
        return self._put(replace(lockout, phase=Phase.LOCKING, trail=trail, covered=NOBODY, again=False, found=None))

    def _retract(self, machine: Machine, zone: Zone, lockout: Lockout, name: str) -> Site:
        if lockout.phase is Phase.STOP:
            raise Refused("What stopped this zone is not taken back. Go the way back, or begin the proof again.")
        if not lockout.trail:
            raise Refused("There is nothing to take back here.")
        last, rest = lockout.trail[-1], lockout.trail[:-1]
        if last.act is Act.OPENED or last.act is Act.ISOLATE_AGAIN:
            raise Refused("That is not taken back by a key. Go the way back: tools out, guards on, people clear.")
        if lockout.phase is Phase.BACK:
            if last.act is Act.CLEAR and lockout.left:
                raise Refused("Locks are off already. Isolate again, or finish the way back.")
            return self._put(replace(lockout, trail=rest, entered=lockout.entered or last.act is Act.GUARDS_ON))
        if last.act is Act.OFF_AND_LOCKED:
            if last.person != name:
                raise Refused(f"That lock is {last.person}'s. Only {last.person} can take it back.")
            if lockout.entered:
                raise Refused("The zone was opened under that lock. Go the way back, then take it off.")
            locks = self.locks - {(last.target, name)}
            off = self.off if any(p == last.target for p, _ in locks) else self.off - {last.target}
            return replace(self, locks=locks, off=off)._put(replace(lockout, trail=rest))._settled(machine)
        if last.act is Act.TOLD:
            alone = [p for p in self.off.intersection(zone.points) if not self.held(machine, zone.id, p)]
            own = [p for p, n in self.locks if p in zone.points and not self.held(machine, zone.id, p, n)]
            if alone or own:
                raise Refused("A point of this zone is off. Go the way back.")
            return self._put(Lockout(zone.id))
        run = any(c.act in PROOF for c in rest)
        return self._put(replace(lockout, phase=Phase.LOCKING, trail=rest, covered=lockout.covered if run else NOBODY))

    def _live(self, machine: Machine, zone: str, person: Person, reason: str, permit: str) -> Site:
        if self.live is not None:
            raise Refused("Live work is open already. Close up and confirm that it is over first.")
        if not machine.zones[zone].electrical:
            raise Refused("Live work is for electrical zones. This one is locked out.")
        if not self.closed or not self.energised(machine):
            raise Refused("Live work needs every zone closed and the power on. Go the way back first.")
        if not reason or not permit:
            raise Refused("Say why it cannot be done dead, and name the site's permit.")
        return replace(self, live=LiveWork(person.name, zone, reason, permit))

    def _live_over(self, zone: str) -> Site:
        if self.live is None or self.live.zone != zone:
            raise Refused("No live work is open in this zone.")
        return self.lapse()

    def _settled(self, machine: Machine) -> Site:
        """After a lock is gone: its owner's proof is void wherever it counted, and where nobody's locks are on every
        point any more, everything that stood on them is."""
        site = self
        for lockout in self.lockouts:
            crew = self.crew(machine, lockout.zone)
            fallen = not crew and lockout.phase in (Phase.LOCKING, Phase.DEAD)
            trail = lockout.without(*AFTER_LOCKS) if fallen else lockout.trail
            trail = tuple(c for c in trail if c.act is not Act.OFF_AND_LOCKED or (c.target, c.person) in self.locks)
            phase = Phase.LOCKING if fallen else lockout.phase
            site = site._put(replace(lockout, phase=phase, trail=trail, covered=lockout.covered & crew))
        return site

    def _put(self, lockout: Lockout) -> Site:
        others = [o for o in self.lockouts if o.zone != lockout.zone]
        if lockout.phase is not Phase.NONE:
            others.append(lockout)
        return replace(self, lockouts=tuple(sorted(others, key=lambda o: o.zone)))


def _stopped(lockout: Lockout, found: Act | None) -> Lockout:
    return replace(lockout, phase=Phase.STOP, trail=(), covered=NOBODY, again=False, found=found)
