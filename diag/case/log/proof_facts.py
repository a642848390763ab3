"""What shows that a cause is cured: the proof facts of a remedy or a cause, and how far they are found."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from diag.machine.model import Cause, Kind, Machine, ProofStep

PAST = (Kind.QUESTION, Kind.HISTORY)
"""Kinds that tell of what was, and are no proof that it is over."""
Wanted = Mapping[str, tuple[str, ...]]
"""Indication to the states, any of which shows that it is cured."""


def of_remedy(machine: Machine, remedy: str, wrong: Mapping[str, str]) -> Wanted:
    """What proves a remedy; `wrong`: everything that was seen off its normal state in the stop.

    One remedy may be for several causes, and which one it was need not be known: then what all of them name proves it,
    and what some of them name and was seen wrong."""
    causes = [machine.causes[c] for c in machine.causes_of.get(remedy, ())]
    if len(causes) == 1:
        return of_cause(machine, causes[0], wrong)
    together = _together(causes)
    shared = {i for i in together if all(i in cause.proof for cause in causes)}
    kept = {i: states for i, states in together.items() if i in shared or i in wrong}
    return kept or together or normal_again(machine, wrong)


def of_cause(machine: Machine, cause: Cause | None, wrong: Mapping[str, str]) -> Wanted:
    """What proves that a cause is gone. For one that is not in the file, or that names no proof, it is that everything
    that was seen wrong is normal again."""
    return cause.proof if cause is not None and cause.proof else normal_again(machine, wrong)


def first(machine: Machine, remedy: str) -> tuple[ProofStep, ...]:
    """What is done before a remedy's proof is looked at: of each cause that it is for, in order, each thing once."""
    causes = (machine.causes[c] for c in machine.causes_of.get(remedy, ()))
    return tuple({step.do: step for cause in causes for step in cause.proof_first}.values())


def normal_again(machine: Machine, wrong: Mapping[str, str]) -> Wanted:
    """Everything that was seen off its normal state, and can be again; what tells of the past is left out."""
    return {i: (ind.normal,) for i in wrong if (ind := machine.indications[i]).kind not in PAST}


def found(wanted: Wanted, now: Mapping[str, str]) -> tuple[tuple[str, tuple[str, ...], str], ...]:
    """Each proof fact: indication, states that prove, and the state found (or empty)."""
    return tuple((i, states, now.get(i, "")) for i, states in wanted.items())


def holds(proof: Iterable[tuple[str, tuple[str, ...], str]]) -> bool:
    """Every proof fact is found and proves; nothing proves nothing."""
    facts = tuple(proof)
    return bool(facts) and all(state in states for _, states, state in facts)


def _together(causes: Iterable[Cause]) -> dict[str, tuple[str, ...]]:
    together: dict[str, tuple[str, ...]] = {}
    for cause in causes:
        for i, states in cause.proof.items():
            kept = tuple(s for s in together.get(i, states) if s in states)
            together[i] = kept or together[i]
    return together
