"""Whether what is kept of a machine beside the entries agrees with their stamps, looked at each time it is read.

It takes a few looks into indexes. The digests are not worked out here: that somebody changed the entries too, `verify`
shows.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from diag.record.engines import statements as sql
from diag.record.engines.engine import Engine
from diag.record.entry import Entry
from diag.record.errors import contradicts
from diag.record.store.followed import REPAIRED, Standing, followed, rest_digits


def proved_rest(engine: Engine, machine: str, until: int) -> tuple[int, str]:
    """The state number of the last rest of a machine up to a number, and what is carried on from it. Where its entry
    does not say the same, it is 0 and nothing: then all that was entered at the machine counts. Where a repair comes
    later, it is the number before that, and nothing."""
    for rev, carried, stamp in engine.run(sql.REST, {"machine": machine, "rev": until}):
        found = followed(stamp)
        if found.revs.get(machine) == rev and found.rest == rest_digits(str(carried)):
            return (int(rev) - 1, "") if carried == REPAIRED else (int(rev), str(carried))
    return 0, ""


def repaired(engine: Engine, machine: str) -> int:
    """The state number of the entry with which what stands at a machine begins anew after a repair; 0 without one."""
    for rev, stamp in engine.run(sql.REPAIRS, {"machine": machine}):
        found = followed(stamp)
        if found.revs.get(machine) == rev and found.rest == rest_digits(REPAIRED):
            return int(rev)
    return 0


def check_stream(
    engine: Engine,
    machine: str,
    rev: int,
    span: tuple[int, int],
    own: Iterable[Entry],
    touches: Mapping[int, int],
    others: Sequence[tuple[int, Entry]],
) -> None:
    """Raises `Contradicts` where the stream of a case would lack an entry, or have one that touched nothing.

    `rev`: the machine's state number; `span`: those that the stream begins and ends at; `touches`: from the seq of
    the case's own entries to the numbers that they gave; `others`: what other cases did, by its number. What was before
    a repair need not be whole."""
    rest, until = span
    begin = max(repaired(engine, machine) - 1, 0)
    numbers = [*touches.values(), *(number for number, _ in others)]
    after = min(max(rest, begin), until)
    whole = _without_gaps([number for number in numbers if number > after], after, until) and until <= rev
    told = all(entry.revs.get(machine) == number for number, entry in others if number > begin)
    since = [entry for entry in own if entry.rev > begin or touches.get(entry.seq, 0) > begin]
    ours = all(entry.revs.get(machine) == touches.get(entry.seq) and entry.rev <= rev for entry in since)
    if not (whole and told and ours and _not_ahead(engine, machine, rev)):
        raise contradicts(engine.shown, machine)


def check_machine(engine: Engine, machine: str) -> None:
    """Raises `Contradicts` where the state number of a machine, what touched it since its last rest, its locks or its
    danger signs are not what the entries say."""
    with engine.snapshot():
        rows = engine.run(sql.REV.replace("{lock}", ""), {"machine": machine})
        rev = int(rows[0][0]) if rows else 0
        rest, _ = proved_rest(engine, machine, rev)
        since = engine.run(sql.TOUCHED_SINCE, {"machine": machine, "after": rest})
        stamps = [followed(row[4]) for row in since]
        sound = _without_gaps([row[0] for row in since], rest, rev) and _not_ahead(engine, machine, rev)
        sound = sound and all(f.revs.get(machine) == row[0] for f, row in zip(stamps, since, strict=True))
        if sound and all(found.known for found in stamps):
            standing = Standing()
            for found, (_, no, seq, at, _) in zip(stamps, since, strict=True):
                standing.take(machine, found, (no, seq, at))
            of = {"machine": machine}
            locks = engine.run(sql.STANDING_LOCKS + " WHERE machine = :machine", of)
            dangers = engine.run(sql.STANDING_DANGERS + " WHERE machine = :machine", of)
            sound = {tuple(row[1:]) for row in locks} == {(*key, *entry) for key, entry in standing.locks.items()}
            sound = sound and {tuple(row[1:]) for row in dangers} == {(s, *e) for s, e in standing.dangers.items()}
    if not sound:
        raise contradicts(engine.shown, machine)


def _without_gaps(numbers: Sequence[int], after: int, last: int) -> bool:
    """Whether these are all numbers behind one, up to another. None of them is there twice."""
    return len(numbers) == last - after and max(numbers, default=after) == last


def _not_ahead(engine: Engine, machine: str, rev: int) -> bool:
    """Whether no case of the machine has an entry of a later state than the machine's."""
    ends = (*engine.run(sql.OPEN_ENDS, {"machine": machine}), *engine.run(sql.ENDED_ENDS, {"machine": machine}))
    return all(followed(stamp).rev <= rev for (stamp,) in ends)
