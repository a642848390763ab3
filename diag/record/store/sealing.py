"""The daily seal: one digest over every case that went on since the seal before, and over that seal.

A seal that is printed or copied elsewhere shows later whether a case's end was cut off and its head put right, a whole
chain made anew, or a case removed.
"""

from __future__ import annotations

from diag.record.digest import seal_digest
from diag.record.engines import statements as sql
from diag.record.engines.engine import Engine, Rows
from diag.record.errors import CasebookError

DAY = 86_400_000_000
"""Microseconds."""


def seal_if_due(engine: Engine, at: int) -> None:
    """Seals what was added before, with the first entry of another UTC day. Within a transaction.

    A clock that is a day behind another does not seal again: two such terminals would seal with every entry."""
    day = at // DAY
    if day_of(engine, engine.run(sql.DAY.replace("{lock}", ""))) in (day, day + 1):
        return
    known = day_of(engine, engine.run(sql.DAY))  # now nobody else can seal
    if known in (day, day + 1):
        return
    if known:
        seal(engine, at)
    engine.run(sql.NEXT_DAY, {"day": day})


def day_of(engine: Engine, rows: Rows) -> int:
    """The UTC day that is not sealed yet, by the row that keeps it. Raises `CasebookError` where that was taken out."""
    if not rows:
        raise CasebookError(
            f"The casebook {engine.shown} is damaged: its day was taken out. Run `diag cases --verify`."
        )
    return int(rows[0][0])


def seal(engine: Engine, at: int) -> None:
    """Seals all that was added since the last seal. Within a transaction."""
    heads = engine.run(sql.UNSEALED)
    if not heads:
        return
    last = engine.run(sql.LAST_SEAL)
    number, before = (last[0][0] + 1, bytes(last[0][2])) if last else (1, b"")
    digest = seal_digest(before, number, at, ((id, seq, bytes(d)) for _, id, _, seq, d in heads))
    engine.run(sql.ADD_SEAL, {"number": number, "at": at, "digest": digest})
    engine.many(
        sql.ADD_SEALED,
        [{"number": number, "no": n, "id": i, "name": a, "seq": s, "digest": bytes(d)} for n, i, a, s, d in heads],
    )
    engine.many(sql.HEAD_SEALED, [{"no": no, "seq": seq} for no, _, _, seq, _ in heads])
