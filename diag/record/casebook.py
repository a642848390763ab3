"""The casebook: every entry of every case, in one SQLite file or one PostgreSQL database that is only ever added to.

It stores entries and gives them back, and knows nothing of what one means: whoever hands an entry in says with it what
follows from it (`Derived`), and which of its words are names and free text, so that these can be forgotten.

An entry is on the disk before `append` returns, so what a screen shows as recorded survives a kill or a power cut. Two
terminals on one case never overwrite each other: the case's digest and the number of the entry guard it, and the second
one is told. Where entries touch a machine, its state number guards them too.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Self

from diag.record.address import VARIABLE, Address, WrongAddress, address, default_path, not_a_file
from diag.record.digest import shown
from diag.record.engines import statements as sql
from diag.record.entry import CaseHead, Derive, Entry, NewEntry, Stale, Standing, Stored, Stream, micros
from diag.record.errors import Away, CasebookError, Conflict, Full, InDoubt, Moved, NotThere, OnlyRead
from diag.record.store import reading
from diag.record.store.agreeing import check_machine, repaired
from diag.record.store.appending import StaleMachine, append, is_stored, machine_rev, open_case

if TYPE_CHECKING:
    from diag.record.engines.engine import Engine

__all__ = [
    "VARIABLE",
    "Away",
    "Casebook",
    "CasebookError",
    "Conflict",
    "Full",
    "InDoubt",
    "Moved",
    "NotThere",
    "OnlyRead",
    "default_path",
    "not_a_file",
]


class Casebook:
    """All cases of a laptop or of a plant. Safe to use from several threads and by several programs at once.

    Raises `CasebookError` from every method when it is not ours, not readable or not writable.
    """

    def __init__(
        self, where: Address | None = None, *, named_by: str = VARIABLE, only_read: bool = False, create: bool = True
    ) -> None:
        """`where`: a file, or the address of a database (`postgresql://...`); None for this user's own file.

        `named_by`: the option or the variable that names another casebook, for the messages. `only_read`: nothing is
        made, brought up or added. `create`: whether to make one where there is none; else `NotThere` is raised."""
        try:
            place = default_path() if where is None else address(where)
        except WrongAddress as error:
            raise CasebookError(f"The casebook cannot be opened: {error}.") from None
        self.address = place
        self.engine = _engine(place, named_by, only_read=only_read, create=create)

    @property
    def shown(self) -> str:
        """What messages call it."""
        return self.engine.shown

    @property
    def path(self) -> Path | None:
        """Its file; None where it is a database."""
        return self.address if isinstance(self.address, Path) else None

    def close(self) -> None:
        """Lets go of it. Everything that was added stands in the file itself then, not in the log beside it."""
        self.engine.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    # ------------------------------------------------------------ adding

    def begin(self, names: Iterable[str], machine: str, entries: Sequence[NewEntry]) -> str:
        """Opens a case under the first of `names` that is free, with its first entries; all or nothing. Gives the name.

        What the entries touch is not compared."""
        added = self.engine.write(
            lambda: open_case(self.engine, iter(names), machine, entries), lambda done: is_stored(self.engine, done)
        )
        return added.name

    def append(self, case: str, entries: NewEntry | Sequence[NewEntry], *, after: int) -> Stored | Stale:
        """Adds entries to one case behind entry `after`, all or none; they are on the disk when this returns.

        Gives `Stale`, with nothing recorded, where a machine that they touch is not in the state that the person saw.
        Raises `Conflict` where another entry stands behind `after` by now, and KeyError for an unknown case."""
        several = (entries,) if isinstance(entries, NewEntry) else tuple(entries)
        for entry in several:
            micros(entry.at)  # a clock that cannot be right is told before anything is asked of the database
        no = self._no(case)
        try:
            added = self.engine.write(
                lambda: append(self.engine, no, case, several, after), lambda done: is_stored(self.engine, done)
            )
        except StaleMachine as stale:
            return stale.stale
        if any(entry.derived.over for entry in several):
            self.engine.settle()
        return added.stored

    def rebuild(self, derive: Derive) -> int:
        """Works out anew what follows from the entries of every case; how many cases."""
        from diag.record.store.rebuilding import rebuild

        return rebuild(self.engine, derive)

    # ------------------------------------------------------------ reading

    def entries(self, case: str, after: int = 0) -> tuple[Entry, ...]:
        """The entries of a case behind entry `after`, in order. Raises KeyError for an unknown case."""
        return reading.entries_of(self.engine, self._no(case), case, after)

    def case(self, case: str) -> CaseHead:
        """A case as lists show it. Raises KeyError."""
        return reading.head_of(self.engine, self._no(case))

    def cases(
        self,
        *,
        machine: str = "",
        only_open: bool = False,
        cause: str = "",
        before: tuple[int, int] | None = None,
        limit: int = 50,
    ) -> tuple[CaseHead, ...]:
        """A page of cases, the one with the latest entry first; `before` is the cursor of the last one seen. `cause`
        asks for the cases that are over and had it."""
        return reading.heads(self.engine, machine=machine, only_open=only_open, cause=cause, before=before, limit=limit)

    def all_cases(self, *, machine: str = "", only_open: bool = False) -> tuple[CaseHead, ...]:
        """Every case, the one with the latest entry first."""
        return tuple(reading.all_heads(self.engine, machine=machine, only_open=only_open))

    def count(self) -> int:
        """How many cases there are."""
        return int(self.engine.run(sql.COUNT)[0][0])

    def search(self, words: str, limit: int = 20) -> tuple[CaseHead, ...]:
        """Cases in which all of these words were said, the newest first; `*` at the end stands for any ending."""
        return reading.search(self.engine, words, limit)

    # ------------------------------------------------------------ following

    def changed(self) -> bool:
        """Whether anything may have been added since this was last asked; True the first time. It takes microseconds.

        Raises `Moved` and `Away`: then nothing that a screen shows is followed any more."""
        return self.engine.changed()

    def machine_rev(self, machine: str) -> int:
        """The state number of a machine; 0 for one that no entry has touched yet."""
        return machine_rev(self.engine, machine)

    def machine_entries(self, machine: str, after: int = 0) -> tuple[tuple[int, Entry], ...]:
        """State number and entry, for all that touched a machine behind state number `after`, in the order in which it
        was recorded."""
        return reading.touching(self.engine, machine, after)

    def stream(self, case: str, *, whole: bool = False, to_end: bool = False) -> Stream:
        """The entries of a case and those of other cases that touched its machine, in one order for everybody: by the
        machine's state number, and no clock. It begins at the machine's last rest before the case, or with `whole` at
        its first entry; with `to_end` it goes no further than a case that is over. Raises KeyError for an unknown
        case."""
        return reading.stream(self.engine, self._no(case), whole=whole, to_end=to_end)

    def place(self, case: str) -> tuple[int, int]:
        """The number of the case's last entry, and the state number of its machine. While both stay, so does its
        stream. Raises KeyError."""
        return reading.place_of(self.engine, self._no(case))[1:]

    def check(self, machine: str) -> None:
        """Raises `Contradicts` where what is kept of a machine beside its entries is not what the entries say."""
        check_machine(self.engine, machine)

    def begins(self, machine: str) -> int:
        """The state number behind which everything at a machine counts: 0, or the one before its last repair."""
        return max(repaired(self.engine, machine) - 1, 0)

    def locks(self, machine: str) -> tuple[Standing, ...]:
        """The locks that are on at a machine."""
        return reading.standing(self.engine, sql.LOCKS, machine=machine)

    def dangers(self, machine: str) -> tuple[Standing, ...]:
        """The signs of danger that stand at a machine."""
        return reading.standing(self.engine, sql.DANGERS, machine=machine)

    def resets(self, machine: str, since: datetime) -> tuple[Standing, ...]:
        """The resets of a machine since then, those that were said by mistake among them."""
        return reading.standing(self.engine, sql.RESETS, machine=machine, since=micros(since))

    def digits(self, case: str) -> tuple[int, str, str]:
        """The number of a case's last entry, its digits for a sheet, and those of the last seal; empty without one.
        Raises KeyError."""
        head, seals = self.case(case), self.engine.run(sql.LAST_SEAL)
        return head.seq, shown(head.digest), shown(bytes(seals[0][2])) if seals else ""

    def _no(self, case: str) -> int:
        return reading.number_of(self.engine, case)


def _engine(place: Address, named_by: str, *, only_read: bool, create: bool) -> Engine:
    if isinstance(place, str):
        from diag.record.engines.postgres_engine import PostgresEngine

        return PostgresEngine(place, only_read=only_read, create=create)
    from diag.record.copies.version_1 import bring_up
    from diag.record.engines.sqlite_engine import SqliteEngine

    return SqliteEngine(place, named_by, only_read=only_read, create=create, bring=bring_up)
