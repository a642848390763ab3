"""Whether the casebook still says what was recorded, by its chains, by its seals, and by digits kept outside it.

The chain shows that an entry was changed, exchanged or taken out, or the last one cut off. Where somebody also puts the
heads right, or makes a whole chain anew, or takes out a case with everything in the casebook that names it, only a seal
or digits that were printed or copied elsewhere show it. Nothing here shows who typed, or whether a clock was right.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Literal

from diag.record.copies.moving import TABLES
from diag.record.copies.version_1 import BROUGHT
from diag.record.digest import SHOWN, entry_digest, genesis, mark_of, seal_digest, shown
from diag.record.engines import statements as sql
from diag.record.engines.engine import Engine
from diag.record.entry import Derive, moment
from diag.record.store.followed import followed
from diag.record.store.reading import entries_of, forgotten, marks_in
from diag.record.store.sealing import DAY
from diag.record.verify.beside import Beside, Of, Tables

BACKWARDS = 2_000_000
"""Microseconds that a time may lie before the one of the entry before without more than a remark."""
AT_ONCE = 200
"""Cases that are read at once."""

LISTS = frozenset({"machine", "touch", "lock_on", "danger_on", "reset_done", "rest", "book", "said"})
"""Tables that all else can be verified without."""
By = Literal["chain", "seal", "lists", "digits"]


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is not as it was recorded."""

    by: By
    """What shows it."""
    case: str
    """Empty where it is no case's."""
    seq: int
    """0 where it is no single entry."""
    text: str
    """One sentence."""


@dataclass(frozen=True, slots=True)
class Verified:
    """What was looked at, and what was found."""

    cases: int
    entries: int
    seals: int
    digits: int
    """How many of the digits that were given are those of an entry or a seal."""
    faults: tuple[Fault, ...]
    remarks: tuple[str, ...]
    """What may be as it should: times that run backwards, and what was forgotten."""
    last_seal: str
    """The digits of the last seal; empty where there is none."""


def verify(engine: Engine, kept: Iterable[str] = (), derive: Derive | None = None) -> Verified:
    """Verifies every case. `kept`: digits as they were printed, 16 or more, spaces between them or not; `CASE SEQ` may
    stand before them. `derive`: works out what a list says of a case; without it, that is not compared."""
    with engine.snapshot():
        there = {str(row[0]) for row in engine.run(sql.PRESENT[engine.dialect])}
        missing = sorted({*TABLES, *LISTS} - there)
        faults = [Fault("lists", "", 0, f"The table {table} was taken out.") for table in missing]
        if not LISTS.issuperset(missing):
            return Verified(0, 0, 0, 0, tuple(faults), (), "")
        return _Verifying(engine, tuple(kept), derive, faults, there).verify()


class _Verifying:
    def __init__(
        self, engine: Engine, kept: tuple[str, ...], derive: Derive | None, faults: list[Fault], there: set[str]
    ) -> None:
        self._engine, self._derive, self._faults, self._there = engine, derive, faults, there
        self._cases: list[Of] = []
        self._sealed_to = {no: (seq, number) for no, seq, number in engine.run(sql.SEALED_UP_TO)}
        self._unsealed: dict[int, list[tuple[int, int]]] = {}
        """Seq and time of the entries of a case that no seal holds."""
        self._remarks: list[str] = []
        self._entries = 0
        self._wanted = [_Kept.of(text) for text in kept]
        self._gone = {str(mark): int(at) for mark, at in engine.run(sql.FORGOTTEN)}
        self._persons: dict[str, bool] = {}
        self._names: dict[str, str] = {}
        for mark, salt, name, account in engine.run(sql.PERSONS):
            self._persons[mark] = mark_of(bytes(salt), name, account) == mark
            self._names[mark] = name
        for mark in self._gone.keys() & self._persons.keys():
            text = f"The name of {forgotten(mark)[10:]} is said to be forgotten, and is there."
            self._faults.append(Fault("chain", "", 0, text))

    def verify(self) -> Verified:
        cases, no = 0, 0
        while heads := self._engine.run(sql.CHAINS, {"no": no, "limit": AT_ONCE}):
            self._some(no, heads)
            self._numbers(no, [head[0] for head in heads])
            cases, no = cases + len(heads), heads[-1][0]
        for (stray,) in self._engine.run(sql.STRAYS):
            self._faults.append(Fault("chain", "", 0, f"The head of the case with number {stray} was taken out."))
        seals = self._seals()
        self._beside()
        for wanted in self._wanted:
            if not wanted.found:
                why = "what they were printed from was changed or taken out"
                text = f"Nothing has the digits {wanted.text!r} any more: {why}."
                self._faults.append(Fault("digits", wanted.case, wanted.seq, text))
        found = sum(bool(wanted.found) for wanted in self._wanted)
        last = shown(bytes(seals[-1][2])) if seals else ""
        faults = tuple(dict.fromkeys(self._faults))
        return Verified(cases, self._entries, len(seals), found, faults, tuple(self._remarks), last)

    def _some(self, before: int, heads: Sequence[Sequence[Any]]) -> None:
        span = {"from": before, "to": heads[-1][0]}
        texts: dict[int, dict[tuple[int, str], bool]] = {}
        for no, seq, mark, salt, words in self._engine.run(sql.TEXT_MARKS, span):
            texts.setdefault(no, {})[seq, mark] = mark_of(bytes(salt), words) == mark
        links: dict[int, list[Sequence[Any]]] = {}
        for link in self._engine.run(sql.LINKS, span):
            links.setdefault(link[0], []).append(link)
        for head in heads:
            self._case(head, links.get(head[0], []), texts.get(head[0], {}))

    def _case(self, head: Sequence[Any], links: Sequence[Sequence[Any]], texts: dict[tuple[int, str], bool]) -> None:
        no, id, name, born, year, machine, count, digest, sealed, *outline = head
        faults, named = len(self._faults), set[tuple[int, str]]()
        before, last, time = genesis(id, born, year, machine), 0, 0
        if name != born and not (outline[4] and name.startswith(f"{born}.")):
            self._fault(name, 0, f"Case {name} was opened as {born}.")
        for _, seq, at, who, kind, stamp, body, own in links:
            self._entries += 1
            if seq != last + 1:
                self._missing(name, last + 1, seq - 1)
            elif entry_digest(before, id, seq, at, who, kind, stamp, body) != bytes(own):
                self._fault(
                    name,
                    seq,
                    f"Entry {seq} of case {name} was replaced, or its person, time or words were changed."
                    if last == 0 or not self._broken(name, last)
                    else f"Entry {seq} of case {name} does not follow from the one before.",
                )
            if at < time:
                away = f"{(time - at) / 1e6:.1f} s"
                much = " (the clock was set back)" if time - at > BACKWARDS else ""
                self._remarks.append(f"Entry {seq} of case {name} is {away} earlier than the one before{much}.")
            named |= self._apart(name, seq, who, body, texts)
            for wanted in self._wanted:
                wanted.look(bytes(own), name, seq)
            before, last, time = bytes(own), seq, at
        if last < count:
            self._missing(name, last + 1, count)
        elif last > count or before != bytes(digest):
            self._fault(name, last, f"The head of case {name} does not belong to its last entry, {last}.")
        for (seq, mark), sound in texts.items():
            if not sound:
                self._fault(name, seq, f"The words of entry {seq} of case {name} were changed.")
            elif (seq, mark) not in named:
                self._fault(name, seq, f"Words stand at entry {seq} of case {name} that are not its own.")
        self._sealed_part(no, name, count, sealed, links)
        over = bool(outline[4]) if len(self._faults) > faults else self._outlined(no, name, links, outline)
        stamps = ((link[1], link[2], followed(link[5])) for link in links)
        kept = tuple((seq, at, found) for seq, at, found in stamps if found.revs or found.so is not None)
        self._cases.append(Of(no, name, over, kept))

    def _outlined(self, no: int, name: str, links: Sequence[Sequence[Any]], outline: Sequence[Any]) -> bool:
        """Whether a case is over, and what its line in lists says, by its entries; times, person, end."""
        opened, last, who, ended, over, cause, remedy, minutes = outline
        if not links:
            return bool(over)
        if (opened, last) != (links[0][2], links[-1][2]):
            self._lists(name, 0, f"The list of cases has case {name} begin or go on at another time than its entries.")
        if self._derive is None:
            return bool(over)
        entries = entries_of(self._engine, no, name)
        derived = self._derive(entries)

        def latest(field: str, first: Any) -> Any:
            told = (getattr(one, field) for one in reversed(derived))
            return next((value for value in told if value is not None), first)

        right = {
            "the person": (latest("lead", entries[0].who), self._names.get(who) or forgotten(who)),
            "the end": (latest("ended", ""), ended),
            "the cause": (latest("cause", ""), cause),
            "the remedy": (latest("remedy", ""), remedy),
            "the minutes": (latest("minutes", 0), minutes),
        }
        is_over = bool(latest("over", False))
        if is_over is not bool(over):
            self._lists(name, 0, f"The list of cases has case {name} {'over' if over else 'open'}, its entries not.")
        brought = any(entry.stamp.version == BROUGHT for entry in entries)  # of those it was never kept alike
        for what, (told, kept) in {} if brought else right.items():
            if told != kept:
                self._lists(name, 0, f"The list of cases has {what} of case {name} otherwise than its entries.")
        return is_over

    def _sealed_part(self, no: int, name: str, count: int, sealed: int, links: Sequence[Sequence[Any]]) -> None:
        """How far the head says that its case is sealed, and what is not."""
        held, _ = self._sealed_to.get(no, (0, 0))
        if sealed != held:
            text = f"Case {name} is marked as sealed up to entry {sealed}, and the seals hold {held} of its entries."
            self._faults.append(Fault("seal", name, 0, text))
        elif sealed > count:
            text = f"Case {name} is marked as sealed up to entry {sealed}, and ends with entry {count}."
            self._faults.append(Fault("seal", name, 0, text))
        if not any(f'"version":"{BROUGHT}"' in link[5] for link in links):
            self._unsealed[no] = [(link[1], link[2]) for link in links if link[1] > held]

    def _numbers(self, before: int, numbers: Sequence[int]) -> None:
        """In a file cases have numbers without gaps; a database leaves some out."""
        if self._engine.dialect != "sqlite":
            return
        for last, no in pairwise((before, *numbers)):
            if no > last + 1:
                self._lists("", 0, f"What had number {last + 1} among the cases was taken out.")

    def _beside(self) -> None:
        """The lists beside the entries, and what should be sealed by now."""
        rows = {t: self._engine.run(statement) if t in self._there else [] for t, statement in sql.ALL_OF.items()}
        day = rows.pop("book")
        beside = Beside(Tables(**rows), self._cases)
        for name, seq, text in beside.wrong():
            self._lists(name, seq, text)
        self._remarks += beside.remarks
        if not day:
            self._lists("", 0, "The casebook's day was taken out, so nothing can be entered.")
            return
        for case in self._cases:
            later = None
            for seq, at in reversed(self._unsealed.get(case.no, []) if case.no in beside.here else []):
                later = at if later is None else min(later, at)
                if later // DAY not in (day[0][0], day[0][0] - 1):
                    text = f"Entry {seq} of case {case.name}, of {moment(at):%Y-%m-%d}, is under no seal."
                    self._faults.append(Fault("seal", case.name, seq, text))
                    break

    def _lists(self, case: str, seq: int, text: str) -> None:
        self._faults.append(Fault("lists", case, seq, text))

    def _apart(
        self, name: str, seq: int, who: str, body: str, texts: dict[tuple[int, str], bool]
    ) -> set[tuple[int, str]]:
        """Names and texts that stand apart: unchanged, or forgotten as the casebook says."""
        try:
            marks = [("$person", who), *marks_in(json.loads(body))]
        except (ValueError, RecursionError):
            marks = [("$person", who)]
        named = {(seq, mark) for kind, mark in marks if kind == "$text"}
        for kind, mark in marks:
            there = mark in self._persons if kind == "$person" else (seq, mark) in texts
            if mark in self._gone and not there:
                what = "name" if kind == "$person" else "text"
                when = f"{moment(self._gone[mark]):%Y-%m-%d}"
                self._remarks.append(f"A {what} in entry {seq} of case {name} was forgotten on {when}.")
            elif kind == "$person" and not self._persons.get(mark, False):
                said = "was changed" if mark in self._persons else "was taken out"
                self._fault(name, seq, f"The name of {forgotten(mark)[10:]} at entry {seq} of case {name} {said}.")
            elif kind == "$text" and not there:
                self._fault(name, seq, f"Words of entry {seq} of case {name} were taken out.")
            elif kind == "$text" and mark in self._gone:
                self._fault(name, seq, f"Words of entry {seq} of case {name} are said to be blanked, and are there.")
        return named

    def _seals(self) -> list[tuple[Any, ...]]:
        seals, before, number = self._engine.run(sql.SEALS), b"", 0
        for number_now, at, digest in seals:
            if number_now != number + 1:
                self._faults.append(Fault("seal", "", 0, f"Seal {number + 1} was taken out."))
            rows = self._engine.run(sql.ALL_SEALED, {"number": number_now})
            own = seal_digest(before, number_now, at, ((row[0], row[2], bytes(row[3])) for row in rows))
            if own != bytes(digest):
                day = f"{moment(at):%Y-%m-%d}"
                self._faults.append(
                    Fault("seal", "", 0, f"Seal {number_now} of {day} does not hold what it was made of.")
                )
            for id, name, seq, sealed, id_now, digest_now in rows:
                self._sealed(number_now, name, seq, id == id_now, bytes(sealed), digest_now and bytes(digest_now))
            for wanted in self._wanted:
                wanted.look(bytes(digest), "", number_now)
            before, number = bytes(digest), number_now
        for lost in range(
            number + 1, min(max((n for _, n in self._sealed_to.values()), default=0), number + AT_ONCE) + 1
        ):
            self._faults.append(Fault("seal", "", 0, f"Seal {lost} was taken out."))
        return seals

    def _sealed(self, number: int, name: str, seq: int, there: bool, sealed: bytes, now: bytes | None) -> None:
        """A case as a seal holds it, against the case as it is now."""
        if not there:
            text = f"Case {name} was taken out: seal {number} holds {seq} entries of it."
        elif now is None:
            text = f"Entries of case {name} were cut off: seal {number} holds {seq} of them."
        elif now != sealed:
            text = f"The entries of case {name} were made anew up to entry {seq}, which seal {number} holds otherwise."
        else:
            return
        self._faults.append(Fault("seal", name, seq, text))

    def _missing(self, name: str, first: int, last: int) -> None:
        for seq in range(first, min(last, first + 20) + 1):
            self._fault(name, seq, f"Entry {seq} of case {name} was taken out.")

    def _broken(self, name: str, seq: int) -> bool:
        return bool(self._faults) and (self._faults[-1].case, self._faults[-1].seq) == (name, seq)

    def _fault(self, case: str, seq: int, text: str) -> None:
        self._faults.append(Fault("chain", case, seq, text))


@dataclass(slots=True)
class _Kept:
    """Digits that were kept outside."""

    text: str
    case: str
    seq: int
    digits: str
    found: str = ""

    @classmethod
    def of(cls, text: str) -> _Kept:
        """Raises ValueError where these are no digits of a digest."""
        match = re.fullmatch(r"(?:([^\s:]*[^\s0-9a-fA-F:]\S*)[ :]+(\d{1,9})[ :]+)?([0-9a-fA-F ]+)", text.strip())
        digits = match[3].replace(" ", "").lower() if match else ""
        if match is None or len(digits) < SHOWN:
            raise ValueError(f"{text!r} is none: it takes {SHOWN} digits, 0 to 9 and a to f, as they were printed")
        return cls(text.strip(), match[1] or "", int(match[2] or 0), digits)

    def look(self, digest: bytes, case: str, seq: int) -> None:
        if digest.hex().startswith(self.digits) and self.case in ("", case, "seal") and self.seq in (0, seq):
            self.found = f"entry {seq} of case {case}" if case else f"seal {seq}"
