"""Working out anew, from the entries alone, what follows from them."""

from __future__ import annotations

from diag.record.engines import statements as sql
from diag.record.engines.engine import Engine
from diag.record.entry import Derive, Derived, micros
from diag.record.store.appending import follow_standing, follow_words, head_values, marks_by
from diag.record.store.reading import entries_of, label_of


def rebuild(engine: Engine, derive: Derive) -> int:
    """Rebuilds every case, in one transaction; how many."""
    return engine.write(lambda: _rebuild(engine, derive), lambda _: False)


def _rebuild(engine: Engine, derive: Derive) -> int:
    numbers = [row[0] for row in engine.run(sql.ALL_NOS, {"all": 1})]
    for statement in sql.NO_STANDING:
        engine.run(statement)
    standing: dict[tuple[int, int], tuple[int, str, str, Derived]] = {}
    for no in numbers:
        standing |= rebuild_case(engine, no, derive)
    for no, seq in engine.run(sql.TOUCHES):
        if (found := standing.get((no, seq))) is not None:
            at, name, mark, derived = found
            follow_standing(engine, no, seq, at, derived, marks_by(engine, name, mark))
    return len(numbers)


def rebuild_case(engine: Engine, no: int, derive: Derive) -> dict[tuple[int, int], tuple[int, str, str, Derived]]:
    """Rebuilds what follows from one case for lists and for searching. Within a transaction.

    Gives what would change the machines, by number and seq: the time, the person's name and mark, and what follows."""
    entries = entries_of(engine, no, label_of(engine, no))
    engine.run(sql.WORDS[engine.dialect]["drop"], {"no": no})
    whos = [row[2] for row in engine.run(sql.ENTRIES, {"no": no, "after": 0})]
    engine.run(sql.OUTLINE, {"no": no, "lead": whos[0] if whos else ""})
    standing = {}
    for entry, who, derived in zip(entries, whos, derive(entries), strict=True):
        engine.run(sql.OUTLINED, {"no": no, **head_values(derived, marks_by(engine, entry.who, who))})
        follow_words(engine, no, derived)
        if derived.locked or derived.unlocked or derived.dangers or derived.made_safe or derived.resets is not None:
            standing[no, entry.seq] = micros(entry.at), entry.who, who, derived
    return standing
