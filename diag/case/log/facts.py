"""The facts of a case as evidence: what counts, what is wrong, what proves, what disagrees."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from diag.case.log.events import GAP
from diag.case.log.projection import DECIDES
from diag.case.observe.from_contact import disagreements
from diag.case.observe.from_lamp import FAILED, as_evidence, tested
from diag.case.snapshot import Disagreement, Fact
from diag.machine.model import Danger, Energy, Indication, Kind, Machine, Role

LOST = (
    "Entries of this machine are lost, so nobody knows what stands there. Keep away, and call. Each isolation point, "
    "lock and cover is looked at before it is said to be safe."
)


def lamp_tests(machine: Machine, facts: Iterable[Fact], current: Mapping[str, str]) -> tuple[Fact, ...]:
    """The facts, those set aside that come from a lamp which failed its test, whichever came first."""

    def failed(fact: Fact) -> bool:
        ind = machine.indications[fact.indication]
        return fact.counts and ind.kind is Kind.LAMP and tested(ind, current) is False

    return tuple(replace(fact, counts=False, why=FAILED) if failed(fact) else fact for fact in facts)


def evidence(machine: Machine, facts: Iterable[Fact], current: Mapping[str, str]) -> tuple[Fact, ...]:
    """The latest look at each indication in each round, by round and in the machine's own order, so that the same
    facts give the same figures in whatever order they were entered. In round 1 a fact found before gives way."""
    usable = sorted(_of_the_stop(facts), key=lambda f: (f.round, not f.before, f.seq))
    latest = {(f.round, f.indication): f for f in usable}
    order = {id: n for n, id in enumerate(machine.indications)}
    found = sorted(latest.values(), key=lambda f: (f.round, order[f.indication]))
    return tuple(replace(f, seen=as_evidence(machine.indications[f.indication], f.seen, current)) for f in found)


def wrong(machine: Machine, facts: Iterable[Fact]) -> dict[str, str]:
    """Everything that was seen off its normal state in this stop, with the state last seen so."""
    return {f.indication: f.state for f in _of_the_stop(facts) if f.state != machine.indications[f.indication].normal}


def _of_the_stop(facts: Iterable[Fact]) -> Iterable[Fact]:
    return (fact for fact in facts if fact.counts and not fact.proves)


def proving(
    machine: Machine, facts: Iterable[Fact], round: int, untried_round: int, last_physical_change_round: int
) -> dict[str, str]:
    """What the last round shows, which alone proves. A trial made for the proof, such as a test of the stops, says what
    happened, and the next trial does not undo it; it proves from `untried_round` on, which began with the last change
    that was no such trial. What needs the power off was found before the power came back, and still proves;
    `last_physical_change_round` began with the last change that was neither a trial nor one of energy."""

    def since(fact: Fact) -> int:
        if machine.indications[fact.indication].energy is Energy.OFF:
            return last_physical_change_round
        return untried_round if fact.trial else round

    return {f.indication: f.state for f in facts if f.counts and not f.before and f.round >= since(f)}


def protective(machine: Machine, facts: Iterable[Fact]) -> bool:
    """Whether a fact is, as likely as not, a protective device that has operated."""
    return any(operated(machine.indications[fact.indication], fact.seen) for fact in facts)


def sign_named(machine: Machine, name: str) -> Danger:
    """The danger sign of that name; one that the file does not have (any more) says only that it stands."""
    for sign in machine.dangers:
        if sign_name(sign) == name:
            return sign
    if name == GAP:
        return Danger(when=_read(name), stop=LOST, call=Role.ELECTRICIAN)
    return Danger(when=_read(name), stop=f"A danger stands: {name}. Keep away, and call.", call=Role.ENGINEER)


def sign_name(danger: Danger) -> str:
    """What a sign of danger is called among those that stand."""
    return " and ".join(f"{indication}: {' or '.join(states)}" for indication, states in danger.when)


def _read(name: str) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """A name apart again."""
    parts = (part.partition(": ") for part in name.split(" and "))
    return tuple((indication, tuple(states.split(" or "))) for indication, _, states in parts)


def operated(ind: Indication, seen: Mapping[str, float]) -> bool:
    """Whether what was seen is as likely as not a protective device that has operated."""
    most = max(seen.values())
    return any(s in ind.state_ids and ind.state(s).protective and p >= most / DECIDES for s, p in seen.items())


def disagree(machine: Machine, current: Iterable[Fact], round: int) -> tuple[Disagreement, ...]:
    """Lamps and contacts that report one thing and were seen in this round not to agree; a lamp that failed its lamp
    test says nothing. `current` holds the latest fact of each indication."""
    current, name = tuple(current), machine.indications
    states = {f.indication: f.state for f in current}
    here = (f for f in current if f.counts and f.round == round)
    now = {f.indication: f.state for f in here if tested(name[f.indication], states) is not False}
    return tuple(
        Disagreement(contact, lamp, f"{name[lamp].title} and {name[contact].title}: {named.name}", named.causes)
        for contact, lamp, named in disagreements(machine, now)
    )
