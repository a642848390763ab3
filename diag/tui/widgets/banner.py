"""The safety banner: the state of the lockout in words and a sign, what it allows, and who is at the keys."""

from __future__ import annotations

from datetime import datetime

from textual.content import Content

from diag.case.snapshot import State
from diag.machine.model import Machine
from diag.safety.types import Banner, Person
from diag.tui.widgets.written import CURSOR, Written, clickable, line, lines, text
from diag.tui.words import clean, cut, left

LEVELS = ("energised", "locking", "dead", "live", "stop", "danger")
GATE = ("screen.gate", ())
PERSON = ("screen.person", ())
ZONE = 20
"""Most characters of a zone's title beside its wait."""


class BannerBar(Written):
    """Two rows at the top of every screen of a case. Its class follows the level; its meaning never does."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._banner: Banner | None = None
        self._person: Person | None = None
        self._place = ""
        self._more = ""
        self._badges: tuple[str, ...] = ()

    def show(self, banner: Banner, person: Person, place: str, more: str = "", badges: tuple[str, ...] = ()) -> None:
        """`place`: the machine; `more`: what else belongs on the second row (a countdown); `badges`: a warning about
        the machine's file, the longest way first. Its shortest way is always there in full; the longer ones take no
        room from anything else."""
        self._banner, self._person, self._place, self._more = banner, person, place, more
        self._badges = badges
        for level in LEVELS:
            self.set_class(level == banner.level, f"-{level}")
        self.refresh()

    def on_resize(self) -> None:
        self.refresh()

    def draw(self) -> Content:
        if self._banner is None or self._person is None:
            return Content("\n")
        width = self.content_size.width
        return lines((self._first(width), self._second(width)))

    def _first(self, width: int) -> Content:
        assert self._banner is not None
        left = clickable(text(f"{self._banner.symbol} {clean(self._banner.title)}", ".loud"), GATE)
        room = max(width - len(left) - 2, 0)
        least = len(self._badges[-1]) + 3 if self._badges else 0
        who = next((w for w in self._who() if len(w) <= room - least), cut(self._who()[-1], max(room - least, 0)))
        right = clickable(text(who), PERSON)
        if self._badges:
            badge = next((b for b in self._badges if len(b) + 3 <= room - len(who)), self._badges[-1])
            left = line(left, " ", (f" {badge} ", CURSOR))
        return _spread(left, right, width)

    def _second(self, width: int) -> Content:
        assert self._banner is not None
        left = line("  ", clean(self._banner.allows))
        if self._more:
            left = line(left, "  ", (self._more, ".loud"))
        return _spread(left, text(cut(clean(self._place), max(width - len(left) - 2, 0))), width)

    def _who(self) -> tuple[str, str, str]:
        """Who is at the keys, the longest way first."""
        assert self._person is not None
        name, role = clean(self._person.name), self._person.role.value
        words = [role]
        if self._person.authorised:
            words.append("locks out")
        if self._person.qualified:
            words.append("live")
        return f"{name} · {', '.join(words)}", f"{name} · {role}", name


def wait(machine: Machine, state: State, now: datetime) -> str:
    """What is left of the longest wait on a label; empty when all are over. Beside a zone that is dead it says which
    other zone it is of."""
    end = state.countdown
    rest = left(end, now) if end is not None else ""
    if not rest:
        return ""
    of = next((z.title for z in machine.zones.values() if any(state.waits.get(s) == end for s in z.stored)), "")
    return (f"{cut(clean(of), ZONE)}: " if state.banner.level == "dead" else "") + f"label's wait {rest}"


def _spread(left: Content, right: Content, width: int) -> Content:
    return line(left, " " * max(width - len(left) - len(right), 1), right)
