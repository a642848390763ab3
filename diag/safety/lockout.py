"""The lockout as a pure state machine: a confirmation goes in, a new `Isolation` comes out. `Lockout` is one zone.

The order is that of 29 CFR 1910.147(d)(1)-(6): people told, shut down by its controls, each isolation point off and
under each person's own lock, stored energy released, verified. In electrical zones 1910.333(b)(2)(iv) adds that a
qualified person tests, and HSG85 and GS38 that the meter is proved before and after. EN 50110-1 6.2 has the same in
its first three rules. Points fed from outside the machine count too: the main switch does not cut them (IEC 60204-1
5.3.5). The return to service is 1910.147(e)(1)-(3), power for a test (f)(1), several people (f)(3), a change of shift
(f)(4).

Where those texts leave a choice to the site, it is settled here on the safe side:

- *A voltage, a meter that does not prove, a movement* stop the zone. From there the return to service is open, or, with
  the site's decision in words, the whole proof from the shut-down on. Neither a stop nor the return to service can be
  taken back. A voltage or a movement puts the shared point in doubt, so it stops every zone that was being proved on
  that point.
- *A person who joins* adds their own lock to each point, and the zone is tested again with that lock on before they
  work: a proof counts for those whose locks were on when it began. Nobody else loses theirs until the new one begins.
- *One proof, one pair of hands:* proving the meter, testing and proving again is one person's work. When another
  takes over in the middle, it starts again.
- *A person who leaves* takes off their own locks while somebody else's are on every point; the last one returns
  the zone to service.
- *A hold belongs to the machine*, as a point does: it stays in while another zone stands on its stored energy.
- *What a check or a remedy took off* is back only when that is said of each thing by its name.
- *A lock comes off by its owner alone.* For an absent owner the employer has a procedure (1910.147(e)(3)). What it took
  off is entered, never granted here, and every zone that stood on that point is proved no more, for anybody.
- *A shared point* stays off, and keeps its locks, while another zone stands on it.
- *The wait on the label comes first:* while it runs, nobody can confirm that stored energy is released, and so nothing
  after it: no opening, no test, not dead. The end of the wait alone permits nothing; the meter does.
- *Opened is opened:* taking back a confirmation never un-opens an enclosure, and never takes a lock from a zone that
  was entered; that is what the return to service is for.
- *A zone without an isolation point, or without a test point, is never dead.*
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from diag.machine.isolation import TakenOff, Zone
from diag.machine.model import Machine
from diag.safety import back_words, order
from diag.safety import steps as words
from diag.safety.measured import check_values
from diag.safety.types import Act, LiveWork, Person, Refused, Step, Taken
from diag.safety.zone import (
    AFTER_LOCKS,
    FINDINGS,
    NOBODY,
    PAST_DANGER,
    PROOF,
    RETURNING,
    STANDING,
    Confirmed,
    Lockout,
    Phase,
    first_of_proof,
    unopened,
)

__all__ = ["Confirmed", "Isolation", "Lockout", "Phase"]

UNASKED = frozenset(
    (*FINDINGS, Act.RETRACT, Act.BACK, Act.TEST_POWER, Act.ISOLATE_AGAIN, Act.LOCKS_OFF, Act.OFF_AND_LOCKED)
)
"""Acts that are taken whether or not the order of the zone asks for them now; each has its own conditions."""


@dataclass(frozen=True, slots=True)
class Isolation:
    """Every zone of one machine: its lockouts, the points that are off, the locks, and the live work."""

    lockouts: tuple[Lockout, ...] = ()
    """Those that have begun, by zone; a zone that is missing is closed and not locked out."""
    off: frozenset[str] = NOBODY
    """Isolation points that are off."""
    locks: frozenset[tuple[str, str]] = frozenset()
    """Isolation point and person, each lock that is on."""
    live: LiveWork | None = None
    holds: frozenset[str] = NOBODY
    """Stored energies whose hold is in. It belongs to the machine, as a point does, and not to one zone."""
    taken: frozenset[Taken] = frozenset()
    """What was taken off and is not back."""
    turned: frozenset[str] = NOBODY
    """Zones in which phases were disconnected, and the direction of rotation was not looked at since."""

    # ------------------------------------------------------------ questions

    def lockout(self, zone: str) -> Lockout:
        for lockout in self.lockouts:
            if lockout.zone == zone:
                return lockout
        return unopened(zone)

    def locked(self, machine: Machine, zone: str, name: str) -> bool:
        """This person's own lock is on every isolation point of the zone, and they did not leave it."""
        points = machine.zones[zone].points
        return bool(points) and name not in self.lockout(zone).left and all((p, name) in self.locks for p in points)

    def crew(self, machine: Machine, zone: str) -> frozenset[str]:
        """All whose own lock is on every isolation point of the zone."""
        names = {n for _, n in self.locks}
        return frozenset([name for name in names if self.locked(machine, zone, name)])

    def owners(self, machine: Machine, zone: str) -> frozenset[str]:
        """All whose lock is on some point of the zone and counts here."""
        if not self.locks:
            return NOBODY
        points, left = machine.zones[zone].points, self.lockout(zone).left
        return frozenset([n for p, n in self.locks if p in points and n not in left])

    def due(self, machine: Machine, zone: str, name: str, old: bool = False) -> Act | None:
        """The kind of confirmation that this person gives next in this zone; `None` when there is none for them."""
        lockout, z = self.lockout(zone), machine.zones[zone]
        if lockout.phase in RETURNING:
            return next((act for act, _ in order.due(machine, self, z, name, old)), None)
        powered = not old and not self.off & set(z.points)
        return lockout.next(z, name, self.crew(machine, zone), powered)

    def uncovered(self, machine: Machine, zone: str) -> frozenset[str]:
        """Those who joined a zone that was already dead, and for whom it must be tested again."""
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

    def ready(self, machine: Machine) -> bool:
        """Every zone closed, the power on and no hold in: what live work needs."""
        return self.closed and self.energised(machine) and not self.holds

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

    def lapse(self) -> Isolation:
        """At handover, resume, change of role and end of the case live work lapses; locks and proofs stay."""
        return self if self.live is None else replace(self, live=None)

    def returned(self, name: str) -> Isolation:
        """The isolation once somebody who was away is back in a new sitting: nothing is proved dead for them until they
        test again, from the meter's first proving on, and their live work is over. What another one is proving
        counts for them no more either. Their locks stay."""
        isolation = self
        for lockout in self.lockouts:
            theirs = lockout.phase is Phase.LOCKING and lockout.run(name)
            trail = lockout.without(*PROOF) if theirs else lockout.trail
            isolation = isolation._put(replace(lockout, trail=trail, covered=lockout.covered - {name}))
        return isolation.lapse() if self.live is not None and self.live.person == name else isolation

    def disturbed(self) -> Isolation:
        """The isolation once somebody came to the machine, or a danger was seen there: the last look before the power
        is taken again, and those who use the machine are told again."""
        isolation = self
        for lockout in self.lockouts:
            if lockout.phase is Phase.BACK:
                looked = replace(lockout, trail=lockout.without(Act.LAST_LOOK, Act.TOLD_BACK))
                isolation = isolation._put(looked)
        return isolation

    @property
    def unfinished(self) -> frozenset[str]:
        """Zones whose way back is not at its end: power on for a test, a hold in, something not back."""
        phases = {o.zone for o in self.lockouts if o.phase in (*STANDING, Phase.TESTING, Phase.HOLDS)}
        return frozenset(phases | {t.zone for t in self.taken} | self.turned)

    def doubted(self, machine: Machine) -> Isolation:
        """The isolation after a gap in the record: every zone that stands on its points is stopped as if it were open,
        with every hold that it may have in; locks stay."""
        isolation = self
        for lockout in self.lockouts:
            if lockout.phase in STANDING:
                isolation = isolation._put(replace(_stopped(lockout, None), entered=True))
                stored = machine.zones[lockout.zone].stored
                held = frozenset(s for s in stored if machine.stored[s].put_back is not None)
                isolation = replace(isolation, holds=isolation.holds | held)
        return isolation.lapse()

    def lost(self, machine: Machine, locks: Iterable[tuple[str, str]]) -> Isolation:
        """The isolation where nobody knows what was entered: these locks are on, every point may be off, every hold in,
        and every zone is stopped as if it were open."""
        holds = frozenset(s.id for s in machine.stored.values() if s.put_back is not None)
        isolation = replace(
            self, locks=frozenset(locks), off=frozenset(machine.points), holds=holds, live=None, lockouts=()
        )
        for zone in machine.zones:
            isolation = isolation._put(replace(_stopped(Lockout(zone), None), entered=True))
        return isolation

    def took_off(self, zone: str, things: Iterable[TakenOff]) -> Isolation:
        """The isolation after work in a zone that took these off, or put these earths on. They are back only when that
        is said of each by its name."""
        things = tuple(things)
        taken = self.taken.union(Taken(zone, t.what, t.earth) for t in things)
        turned = self.turned | {zone} if any(t.phases for t in things) else self.turned
        return replace(self, taken=taken, turned=turned)

    def owner_absent(self, machine: Machine, owner: str, points: Iterable[str], by: str) -> Isolation:
        """The isolation once the employer's procedure took the locks of somebody absent off these points, by the hands
        of `by`. No zone that stands on one of them is proved any more. Raises `Refused` where no such lock is on."""
        gone = frozenset((point, owner) for point in points)
        if not gone or not gone <= self.locks:
            raise Refused(f"No such lock of {owner} is on.")
        isolation = replace(self, locks=self.locks - gone)
        for lockout in self.lockouts:
            here = [p for p in machine.zones[lockout.zone].points if (p, owner) in gone]
            if here and lockout.phase in (Phase.LOCKING, Phase.DEAD):
                trail = lockout.without(*AFTER_LOCKS)
                isolation = isolation._put(replace(lockout, phase=Phase.LOCKING, trail=trail, covered=NOBODY))
            elif here and lockout.phase is Phase.BACK:
                off = (Confirmed(Act.LOCKS_OFF, p, by) for p in here)
                trail = (*lockout.without(Act.LAST_LOOK, Act.TOLD_BACK), *off)
                isolation = isolation._put(replace(lockout, trail=trail))
        return isolation._settled(machine).lapse()

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
        values: Mapping[str, float] | None = None,
        old: bool = False,
    ) -> Isolation:
        """The isolation after one confirmation. Raises `Refused` with one line that says what to do instead.

        `waiting`: stored energy whose label's wait is still running; nobody says of it that it is released. `values`:
        what the meter read at a test point, in volts, for each of its pairs. `old`: the entry is from a casebook that
        knew neither values nor the way back item by item."""
        if zone not in machine.zones:
            raise Refused(f"This machine has no zone {zone!r}.")
        if danger and act not in PAST_DANGER:
            raise Refused("A danger sign stands. Keep away and call.")
        isolation = self if self.live is None or self.live.person == person.name else self.lapse()
        if act is Act.LIVE_OVER:
            return self._live_over(zone)
        if act is Act.RETRACT and isolation.live is not None and isolation.live.zone == zone:
            return isolation.lapse()
        words.entitled(machine.zones[zone], act, person)
        if act is Act.LIVE:
            return isolation._live(machine, zone, person, reason.strip(), permit.strip())
        if act is Act.RELEASED and target in waiting:
            raise Refused(f"{machine.stored[target].title}: the wait on its label is not over. Wait it out first.")
        if act is Act.TESTED_DEAD and not old and target in machine.zones[zone].test_points:
            check_values(machine.test_points[target], values or {})
        return isolation.lapse()._move(machine, machine.zones[zone], act, target, person.name, reason.strip(), old)

    def _move(
        self, machine: Machine, zone: Zone, act: Act, target: str, name: str, reason: str, old: bool
    ) -> Isolation:
        lockout = self.lockout(zone.id)
        if act in UNASKED:
            return self._unasked(machine, zone, lockout, act, target, name, reason, old)
        if act is Act.PUT_BACK and lockout.phase not in STANDING:
            return self._put_back(machine, zone, lockout, target, name)
        due = self.due(machine, zone.id, name, old)
        if due is not (Act.RELEASED if act is Act.WAIT_BEGUN else act):
            anew = lockout.phase is Phase.DEAD and act is first_of_proof(zone) and name in self.crew(machine, zone.id)
            if not anew:
                raise Refused(words.not_now(machine, self, zone, due, name))
        if act in order.WAY_BACK:
            return self._way_back(machine, zone, lockout, Confirmed(act, target, name), old)
        if act is Act.TOLD and (why := words.unprovable(zone)):
            raise Refused(why)
        named = words.named(machine, zone, lockout, act, target, name, old)
        return self._forward(machine, zone, lockout, Confirmed(act, named, name), self.crew(machine, zone.id))

    def _unasked(
        self, machine: Machine, zone: Zone, lockout: Lockout, act: Act, target: str, name: str, reason: str, old: bool
    ) -> Isolation:
        if act in FINDINGS:
            return self._stop(machine, lockout, act)
        match act:
            case Act.OFF_AND_LOCKED:
                return self._lock(machine, zone, lockout, target, name)
            case Act.LOCKS_OFF:
                return self._locks_off(machine, zone, lockout, target, name, old)
            case Act.RETRACT:
                return self._retract(machine, zone, lockout, name)
            case Act.ISOLATE_AGAIN:
                return self._again(lockout, name, reason)
        return self._back(machine, zone, lockout, act)

    def _forward(
        self, machine: Machine, zone: Zone, lockout: Lockout, confirmed: Confirmed, crew: frozenset[str]
    ) -> Isolation:
        """One step nearer to dead, already known to be the one that is due."""
        if confirmed.act in PROOF and (lockout.phase is Phase.DEAD or not lockout.run(confirmed.person)):
            lockout = replace(lockout, trail=lockout.without(*PROOF), covered=crew)
        trail = (*lockout.trail, confirmed)
        entered = lockout.entered or confirmed.act is Act.OPENED
        changed = replace(lockout, phase=Phase.LOCKING, trail=trail, entered=entered)
        isolation = self
        if confirmed.act is Act.RELEASED and machine.stored[confirmed.target].put_back is not None:
            isolation = replace(self, holds=self.holds | {confirmed.target})
        return isolation._put(replace(changed, phase=Phase.DEAD, entered=True) if changed.proved(zone) else changed)

    def _lock(self, machine: Machine, zone: Zone, lockout: Lockout, target: str, name: str) -> Isolation:
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
        isolation = replace(self, off=self.off.union(points), locks=self.locks.union((p, name) for p in points))
        return isolation._put(replace(lockout, trail=trail, left=lockout.left - {name}))

    def _locks_off(
        self, machine: Machine, zone: Zone, lockout: Lockout, target: str, name: str, old: bool = False
    ) -> Isolation:
        mine = {p for p in zone.points if (p, name) in self.locks}
        if lockout.phase not in STANDING or not mine or name in lockout.left:
            raise Refused(f"No lock of yours is on for {zone.title}.")
        if target and target not in mine:
            raise Refused("Your lock is not on that point. Each person takes off only their own.")
        loose, kept, waits = map(set, order.sorted_locks(machine, self, zone, name, old))
        if lockout.phase is Phase.BACK:
            if order.due(machine, self, zone, name, old) != order.locks(machine, self, zone, name, old):
                raise Refused(words.not_now(machine, self, zone, self.due(machine, zone.id, name, old), name))
        elif not self.crew(machine, zone.id) - {name}:
            raise Refused("Nobody else's locks are on every point, so yours stay on. Start the return to service.")
        if target in kept:
            raise Refused("That lock also holds another zone. It stays on until that zone is back in service.")
        if target in waits or (waits and not loose):
            raise Refused(back_words.waits_for_hold(machine, self, zone))
        taken = {target} if target else loose
        left = lockout.left | {name} if taken == loose and not waits else lockout.left
        trail = lockout.trail
        if lockout.phase is Phase.BACK:
            # A last look counts only after the last lock, which may be one that came on for another zone since.
            trail = (*lockout.without(Act.LAST_LOOK, Act.TOLD_BACK), Confirmed(Act.LOCKS_OFF, target, name))
        if name in left:
            trail = tuple(c for c in trail if c.act is not Act.OFF_AND_LOCKED or c.person != name)
        isolation = replace(self, locks=self.locks - {(p, name) for p in taken})
        return isolation._put(replace(lockout, trail=trail, left=left))._settled(machine)

    def _way_back(self, machine: Machine, zone: Zone, lockout: Lockout, confirmed: Confirmed, old: bool) -> Isolation:
        """One step of the way back, of the kind that is due."""
        act, target = confirmed.act, confirmed.target
        if act is Act.POWER_ON and (old or not target):
            return self._all_on(machine, zone, lockout, old)
        named = tuple(t for _, t in order.due(machine, self, zone, confirmed.person, old))
        if target not in named:
            raise Refused("Say which one: " + ", ".join(back_words.titles(machine, act, named)) + ".")
        entered = lockout.entered and act is not Act.GUARDS_ON
        trail = () if lockout.phase is Phase.HOLDS else (*lockout.trail, confirmed)
        isolation = self._put(replace(lockout, trail=trail, entered=entered))
        match act:
            case Act.PUT_BACK:
                kept = frozenset(t for t in self.taken if (t.zone, t.what) != (zone.id, target))
                isolation = replace(isolation, taken=kept)
            case Act.HOLD_OUT:
                isolation = replace(isolation, holds=self.holds - {target})
            case Act.ROTATION:
                isolation = replace(isolation, turned=self.turned - {zone.id})
            case Act.POWER_ON:
                isolation = replace(isolation, off=self.off - {target})
                if not order.free_points(machine, isolation, zone):
                    return isolation._at_end(machine, zone, lockout)
        return isolation._rested(machine)

    def _all_on(self, machine: Machine, zone: Zone, lockout: Lockout, old: bool) -> Isolation:
        """Every point back on that no other zone stands on: where that is none or one, or in old casebooks."""
        free = order.free_points(machine, self, zone)
        if old:
            free = tuple(p for p in zone.points if not self.held(machine, zone.id, p))
            holds = {s for s in self.holds.intersection(zone.stored) if not order.minded(machine, self, zone.id, s)}
            taken = frozenset(t for t in self.taken if t.zone != zone.id)
            isolation = replace(self, holds=self.holds - holds, taken=taken, turned=self.turned - {zone.id})
        elif len(free) > 1:
            raise Refused("Switch each point on by itself, and confirm it by its name.")
        elif free and order.cold_in(machine, self, zone):
            raise Refused(back_words.waits_for_hold(machine, self, zone))
        else:
            isolation = self
        return replace(isolation, off=self.off.difference(free))._at_end(machine, zone, lockout)

    def _at_end(self, machine: Machine, zone: Zone, lockout: Lockout) -> Isolation:
        """The power is back as far as it may be: the end of the way back, or what is done under power."""
        return self._put(Lockout(zone.id, Phase.HOLDS, again=lockout.again))._rested(machine)

    def _rested(self, machine: Machine) -> Isolation:
        """No zone waits for holds or rotation that has none any more."""
        isolation = self
        for lockout in self.lockouts:
            zone = machine.zones[lockout.zone]
            if lockout.phase is not Phase.HOLDS or order.under_power_in(machine, isolation, zone):
                continue
            if zone.id not in isolation.turned:
                isolation = isolation._put(Lockout(zone.id, Phase.TESTING if lockout.again else Phase.NONE))
        return isolation

    def _put_back(self, machine: Machine, zone: Zone, lockout: Lockout, target: str, name: str) -> Isolation:
        """Something that was entered as taken off only after the covers were on: it was back by then."""
        kept = frozenset(t for t in self.taken if (t.zone, t.what) != (zone.id, target))
        if kept == self.taken:
            raise Refused(words.not_now(machine, self, zone, self.due(machine, zone.id, name), name))
        return replace(self, taken=kept)

    def _stop(self, machine: Machine, lockout: Lockout, act: Act) -> Isolation:
        if lockout.phase not in STANDING or (lockout.phase is Phase.LOCKING and not lockout.has(Act.SHUT_DOWN)):
            raise Refused("This zone is not locked out. Keep away, and call.")
        isolation = self
        for other in self.lockouts:
            same = other.zone == lockout.zone
            points = set(machine.zones[other.zone].points)
            doubtful = act is not Act.METER_FAILED and not points.isdisjoint(machine.zones[lockout.zone].points)
            proving = other.phase is Phase.DEAD or any(c.act in AFTER_LOCKS for c in other.trail)
            if same or (doubtful and proving):
                isolation = isolation._put(_stopped(other, act))
        return isolation

    def _back(self, machine: Machine, zone: Zone, lockout: Lockout, act: Act) -> Isolation:
        if act is Act.TEST_POWER and lockout.phase is not Phase.DEAD:
            raise Refused("Power for a test starts from a zone that is proved dead. Otherwise return to service.")
        if lockout.phase in (Phase.NONE, Phase.BACK, Phase.HOLDS):
            raise Refused("Only a zone that is locked out can be returned to service.")
        untouched = not lockout.entered and not self.off & set(zone.points) and not order.alone(machine, self, zone)
        if lockout.phase is Phase.TESTING or untouched:
            return self._put(Lockout(zone.id))
        again = act is Act.TEST_POWER
        return self._put(replace(lockout, phase=Phase.BACK, trail=(), covered=NOBODY, again=again, found=None))

    def _again(self, lockout: Lockout, name: str, reason: str) -> Isolation:
        if lockout.phase not in (Phase.TESTING, Phase.BACK, Phase.STOP, Phase.HOLDS):
            raise Refused("There is nothing to isolate again here.")
        if lockout.phase is Phase.STOP and not reason:
            raise Refused("Say what the site found and who decided that the proof may start again.")
        trail = (Confirmed(Act.ISOLATE_AGAIN, "", name),)
        return self._put(replace(lockout, phase=Phase.LOCKING, trail=trail, covered=NOBODY, again=False, found=None))

    def _retract(self, machine: Machine, zone: Zone, lockout: Lockout, name: str) -> Isolation:
        if lockout.phase is Phase.STOP:
            raise Refused("What stopped this zone cannot be taken back. Return to service, or begin the proof again.")
        if not lockout.trail:
            raise Refused("There is nothing to take back here.")
        last, rest = lockout.trail[-1], lockout.trail[:-1]
        if last.act is Act.OPENED or last.act is Act.ISOLATE_AGAIN:
            raise Refused("That cannot be taken back by a key. Return to service: tools out, guards on, people clear.")
        if lockout.phase is Phase.BACK:
            if last.act is Act.LOCKS_OFF:
                raise Refused("Locks are off already. Isolate again, or finish the return to service.")
            if last.act is Act.POWER_ON:
                raise Refused("That point is on again. Isolate again, or finish the return to service.")
            isolation = self
            if last.act is Act.HOLD_OUT:
                isolation = replace(self, holds=self.holds | {last.target})
            if last.act is Act.PUT_BACK:
                earth = any(c.act is Act.TOOLS_OUT for c in rest)
                isolation = replace(self, taken=self.taken | {Taken(zone.id, last.target, earth)})
            entered = lockout.entered or last.act is Act.GUARDS_ON
            return isolation._put(replace(lockout, trail=rest, entered=entered))
        if last.act is Act.RELEASED and last.target in self.holds:
            raise Refused("What holds it is in. Return to service, and take it out there by its name.")
        if last.act is Act.OFF_AND_LOCKED:
            if last.person != name:
                raise Refused(f"That lock is {last.person}'s. Only {last.person} can take it back.")
            if lockout.entered:
                raise Refused("The zone was opened under that lock. Return to service, then take it off.")
            if other := self._relied_on(machine, zone.id, last.target, name):
                raise Refused(f"{other} was proved or opened under that lock. Return it to service first.")
            locks = self.locks - {(last.target, name)}
            off = self.off if any(p == last.target for p, _ in locks) else self.off - {last.target}
            return replace(self, locks=locks, off=off)._put(replace(lockout, trail=rest))._settled(machine)
        if last.act is Act.TOLD:
            alone = [p for p in self.off.intersection(zone.points) if not self.held(machine, zone.id, p)]
            own = [p for p, n in self.locks if p in zone.points and not self.held(machine, zone.id, p, n)]
            if alone or own or order.alone(machine, self, zone):
                raise Refused("A point of this zone is off, or a hold is in. Return to service.")
            if lockout.entered:
                raise Refused("The zone was opened. Return to service: tools out, guards on, people clear.")
            return self._put(Lockout(zone.id))
        run = any(c.act in PROOF for c in rest)
        return self._put(replace(lockout, phase=Phase.LOCKING, trail=rest, covered=lockout.covered if run else NOBODY))

    def _relied_on(self, machine: Machine, zone: str, point: str, name: str) -> str:
        """The title of another zone in which somebody may be behind this person's lock on a shared point; empty when
        there is none."""
        for other in self.lockouts:
            z = machine.zones[other.zone]
            begun = other.phase is Phase.LOCKING and not other.entered and not any(c.act in PROOF for c in other.trail)
            apart = other.zone == zone or point not in z.points or name in other.left
            if other.phase in STANDING and not begun and not apart:
                return z.title
        return ""

    def _live(self, machine: Machine, zone: str, person: Person, reason: str, permit: str) -> Isolation:
        if self.live is not None:
            raise Refused("Live work is open already. Close up and confirm that it is over first.")
        if not machine.zones[zone].electrical:
            raise Refused("Live work is for electrical zones. This one is locked out.")
        if not self.ready(machine):
            raise Refused("Live work needs every zone closed, holds out and the power on. Return to service first.")
        if not reason or not permit:
            raise Refused("Say why it cannot be done dead, and name the site's permit.")
        return replace(self, live=LiveWork(person.name, zone, reason, permit))

    def _live_over(self, zone: str) -> Isolation:
        if self.live is None or self.live.zone != zone:
            raise Refused("No live work is open in this zone.")
        return self.lapse()

    def _settled(self, machine: Machine) -> Isolation:
        """After a lock is gone: its owner's proof is void wherever it counted, and where nobody's locks are on every
        point any more, everything that stood on them is."""
        isolation = self
        for lockout in self.lockouts:
            crew = self.crew(machine, lockout.zone)
            fallen = not crew and lockout.phase in (Phase.LOCKING, Phase.DEAD)
            trail = lockout.without(*AFTER_LOCKS) if fallen else lockout.trail
            trail = tuple(c for c in trail if c.act is not Act.OFF_AND_LOCKED or (c.target, c.person) in self.locks)
            phase = Phase.LOCKING if fallen else lockout.phase
            isolation = isolation._put(replace(lockout, phase=phase, trail=trail, covered=lockout.covered & crew))
        return isolation

    def _put(self, lockout: Lockout) -> Isolation:
        others = [o for o in self.lockouts if o.zone != lockout.zone]
        if lockout.phase is not Phase.NONE:
            others.append(lockout)
        return replace(self, lockouts=tuple(sorted(others, key=lambda o: o.zone)))


def _stopped(lockout: Lockout, found: Act | None) -> Lockout:
    return replace(lockout, phase=Phase.STOP, trail=(), covered=NOBODY, again=False, found=found)
