"""Altering a casebook as somebody would who has the tools for it."""

from __future__ import annotations

from diag.record.casebook import Casebook
from diag.record.digest import entry_digest
from diag.record.store.sealing import seal


def damage(book: Casebook, statement: str) -> None:
    """Runs a statement with whatever the database would refuse it by put aside."""
    engine = book.engine
    if engine.dialect == "sqlite":
        triggers = engine.run("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
        before = [f"DROP TRIGGER {name}" for name, _ in triggers]
        after = [text for _, text in triggers]
        assert engine._db is not None  # type: ignore[attr-defined]
        engine._db.execute("PRAGMA foreign_keys = OFF")  # type: ignore[attr-defined]
    else:
        before = [
            "ALTER TABLE event DISABLE TRIGGER USER",
            "ALTER TABLE event DROP CONSTRAINT IF EXISTS event_no_fkey",
        ]
        after = ["ALTER TABLE event ENABLE TRIGGER USER"]

    def work() -> None:
        for text in (*before, statement, *after):
            engine.run(text)

    engine.write(work, lambda _: False)


def put_right(book: Casebook, no: int, seq: int, *, only: bool = False) -> None:
    """Makes the digests anew from an entry on, the head's too; of that entry `only`, and of nothing behind it."""
    engine = book.engine
    ((id,),) = engine.run("SELECT id FROM head WHERE no = :no", {"no": no})
    ((before,),) = engine.run("SELECT digest FROM event WHERE no = :no AND seq = :seq", {"no": no, "seq": seq - 1})
    rows = engine.run(
        "SELECT seq, at, who, kind, stamp, body FROM event WHERE no = :no AND seq >= :seq ORDER BY seq",
        {"no": no, "seq": seq},
    )
    digest = bytes(before)
    for row in rows[: 1 if only else None]:
        digest = entry_digest(digest, id, *row)
        value = f"x'{digest.hex()}'" if engine.dialect == "sqlite" else f"'\\x{digest.hex()}'"
        damage(book, f"UPDATE event SET digest = {value} WHERE no = {no} AND seq = {row[0]}")
        if not only:
            damage(book, f"UPDATE head SET digest = {value} WHERE no = {no}")


def seal_anew(book: Casebook) -> None:
    """Puts one seal over all that is there in the place of those that there were."""
    for statement in ("DELETE FROM seal", "DELETE FROM sealed", "UPDATE head SET sealed = 0"):
        damage(book, statement)
    book.engine.write(lambda: seal(book.engine, 1_800_000_000_000_000), lambda _: False)
