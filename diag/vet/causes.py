"""Rules about causes, remedies and examples."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping

from diag.machine.model import Access, Cause, Indication, Role
from diag.vet.table import Finding, Vetted, some

Signature = frozenset[tuple[str, frozenset[tuple[str, float]]]]


def no_remedy(vetted: Vetted) -> Iterator[Finding]:
    """Finding a cause that nothing is known against helps nobody."""
    for cause in vetted.machine.causes.values():
        if cause.remedy is None:
            yield Finding(vetted.where(cause.place), f"'{cause.id}' has no remedy")


def no_proof(vetted: Vetted) -> Iterator[Finding]:
    """Without a proof nobody can say that it is cured. A stop by design ends when the machine runs."""
    for cause in vetted.machine.causes.values():
        if cause.remedy is not None and not cause.proof and not cause.by_design:
            yield Finding(vetted.where(cause.place), f"nothing proves that '{cause.id}' is cured; write 'proof'")


def unseen(vetted: Vetted) -> Iterator[Finding]:
    """A cause whose signature is that of a healthy machine cannot be found."""
    for cause in vetted.machine.causes.values():
        if not signature(cause, vetted.machine.indications):
            yield Finding(vetted.where(cause.place), f"'{cause.id}' shows nothing; it could not be found")


def twins(vetted: Vetted) -> Iterator[Finding]:
    """Causes that no check can tell apart. Where one remedy serves both, nobody needs to."""
    same: dict[tuple[Signature, float], list[Cause]] = defaultdict(list)
    for cause in vetted.machine.causes.values():
        mark = signature(cause, vetted.machine.indications)
        if mark:
            same[mark, cause.quiet].append(cause)
    for causes in same.values():
        first, *others = causes
        for other in others:
            if first.remedy is None or other.remedy is None or first.remedy.id != other.remedy.id:
                text = f"'{other.id}' shows the same as '{first.id}'; no check tells them apart"
                yield Finding(vetted.where(other.place), text)


def signature(cause: Cause, indications: Mapping[str, Indication]) -> Signature:
    """What a cause shows, apart from what is normal anyway. Sums above 1 are levelled, as in the semantics."""
    found = []
    for id, row in cause.shows.items():
        total = max(1.0, sum(row.values()))
        off = {(state, round(p / total, 6)) for state, p in row.items() if p > 0.0}
        if any(state != indications[id].normal for state, _ in off) or indications[id].usual:
            found.append((id, frozenset(off)))
    return frozenset(found)


def operator_inside(vetted: Vetted) -> Iterator[Finding]:
    """An operator is never sent past an enclosure (common practice; IEC 60050 195-04, ordinary persons)."""
    for check in vetted.machine.checks.values():
        if check.access is not Access.OUTSIDE and Role.OPERATOR in check.who:
            place = vetted.place("checks", check.id, "who")
            yield Finding(place, f"'{check.id}' needs access {check.access} and is offered to an operator")
    for remedy in vetted.machine.remedies.values():
        if remedy.access is not Access.OUTSIDE and Role.OPERATOR in remedy.who:
            shared = remedy.id in vetted.written.maps["remedies"]
            path = ("who",) if shared else ("remedy", "who")
            place = vetted.place("remedies" if shared else "causes", remedy.id, *path)
            yield Finding(place, f"'{remedy.id}' needs access {remedy.access} and is offered to an operator")


def unused_remedy(vetted: Vetted) -> Iterator[Finding]:
    for id, causes in vetted.machine.causes_of.items():
        if not causes:
            yield Finding(vetted.place("remedies", id), f"no cause names the remedy '{id}'")


def no_example(vetted: Vetted) -> Iterator[Finding]:
    """Counted, in one line."""
    shown = {example.cause for example in vetted.machine.examples}
    without = [id for id in vetted.machine.causes if id not in shown]
    if without:
        text = f"{len(without)} of {len(vetted.machine.causes)} causes have no example: {some(without)}"
        yield Finding(vetted.top, text)
