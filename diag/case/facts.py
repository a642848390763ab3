"""The facts of a case as evidence: what counts, what is wrong, what proves, what disagrees. Pure, over what `fold`
keeps, but for `lamp_tests`, which sets facts aside."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from diag.case.contacts import disagreements
from diag.case.folded import DECIDES
from diag.case.lamps import FAILED, as_evidence, tested
from diag.case.snapshot import Disagreement, Fact
from diag.machine.model import Energy, Kind, Machine


@dataclass(slots=True)
class Noted:
    """A fact as it was folded, with what the snapshot does not show."""

    fact: Fact
    proves: bool
    """It was found after a remedy, as its proof, and is no evidence of the stop."""


def lamp_tests(machine: Machine, facts: Iterable[Noted], standing: Mapping[str, str]) -> None:
    """What a lamp shows that failed its test is no evidence, whichever came first."""
    for noted in facts:
        fact, ind = noted.fact, machine.indications[noted.fact.indication]
        if fact.counts and ind.kind is Kind.LAMP and tested(ind, standing) is False:
            noted.fact = replace(fact, counts=False, why=FAILED)


def evidence(machine: Machine, facts: Iterable[Noted], standing: Mapping[str, str]) -> tuple[Fact, ...]:
    """The latest look at each indication in each round, by round and in the machine's own order, so that the same
    facts give the same figures in whatever order they were entered. In round 1 a fact found before gives way."""
    usable = [n.fact for n in facts if n.fact.counts and not n.proves]
    usable.sort(key=lambda f: (f.round, not f.before, f.seq))
    latest = {(f.round, f.indication): f for f in usable}
    order = {id: n for n, id in enumerate(machine.indications)}
    found = sorted(latest.values(), key=lambda f: (f.round, order[f.indication]))
    return tuple(replace(f, seen=as_evidence(machine.indications[f.indication], f.seen, standing)) for f in found)


def wrong(machine: Machine, facts: Iterable[Noted]) -> dict[str, str]:
    """Everything that was seen off its normal state in this stop, with the state last seen so."""
    seen = (n.fact for n in facts if n.fact.counts and not n.proves)
    return {f.indication: f.state for f in seen if f.state != machine.indications[f.indication].normal}


def proving(machine: Machine, facts: Iterable[Noted], round: int, stirred: int) -> dict[str, str]:
    """The last round proves; what needs the power off was found before it came back, and still does. `stirred`: the
    round since the last change but one of energy."""
    found = {}
    for noted in facts:
        fact = noted.fact
        if fact.before or not fact.counts:
            continue
        off = machine.indications[fact.indication].energy is Energy.OFF
        if fact.round >= (stirred if off else round):
            found[fact.indication] = fact.state
    return found


def protective(machine: Machine, facts: Sequence[Noted]) -> bool:
    """A fact that is as likely as not a device that has operated."""
    for noted in facts:
        fact, ind = noted.fact, machine.indications[noted.fact.indication]
        most = max(fact.seen.values())
        if any(ind.state(s).protective and p >= most / DECIDES for s, p in fact.seen.items()):
            return True
    return False


def disagree(machine: Machine, standing: Iterable[Fact], round: int) -> tuple[Disagreement, ...]:
    """Lamps and contacts that report one thing and were seen in this round not to agree; a lamp that failed its lamp
    test says nothing."""
    latest = {f.indication: f for f in standing}
    states = {i: f.state for i, f in latest.items()}
    name = machine.indications
    now = {
        i: f.state for i, f in latest.items() if f.counts and f.round == round and tested(name[i], states) is not False
    }
    return tuple(
        Disagreement(contact, lamp, f"{name[lamp].title} and {name[contact].title}: {named.name}", named.causes)
        for contact, lamp, named in disagreements(machine, now)
    )
