"""The safety banner: the state of the lockout in words and a sign, what it allows, and who is at the keys."""

from __future__ import annotations

from datetime import datetime

from textual.content import Content

from diag.case.snapshot import CaseState
from diag.machine.model import Machine
from diag.safety.types import Banner, Person
from diag.text import cut, one_line
from diag.tui.looks.wording import left
from diag.tui.widgets.written import CURSOR, Written, clickable, line, lines, text

LEVELS = ("energised", "locking", "dead", "live", "stop", "danger")
GATE = ("screen.gate", ())
PERSON = ("screen.person", ())
ZONE = 20
"""The most characters of a zone's title that stand beside its wait."""


class BannerBar(Written):
    """Two rows at the top of every screen of a case. Its class follows the level; its meaning never does."""

    _shown: tuple[Banner, Person, str, str, tuple[str, ...]] | None = None

    def show(self, banner: Banner, person: Person, place: str, more: str = "", badges: tuple[str, ...] = ()) -> None:
        """`place`: the machine; `more`: what else belongs on the second row (a countdown); `badges`: a warning about
        the machine's file, the longest way first. Its shortest way is always there in full; the longer ones take no
        room from anything else."""
        shown = (banner, person, place, more, badges)
        if shown != self._shown:
            self._shown = shown
            for level in LEVELS:
                self.set_class(level == banner.level, f"-{level}")
            self.refresh()

    def draw(self) -> Content:
        if self._shown is None:
            return Content("\n")
        banner, person, place, more, badges = self._shown
        width = self.content_size.width
        second = line("  ", one_line(banner.allows))
        if more:
            second = line(second, "  ", (cut(more, max(width - len(second) - 2, 0)), ".loud"))
        room = max(width - len(second) - 2, 0)
        return lines((_first(banner, person, badges, width), _spread(second, text(cut(one_line(place), room)), width)))


def _first(banner: Banner, person: Person, badges: tuple[str, ...], width: int) -> Content:
    left = clickable(text(f"{banner.symbol} {one_line(banner.title)}", ".loud"), GATE)
    room = max(width - len(left) - 2, 0)
    free = room - (len(badges[-1]) + 3 if badges else 0)
    ways = _who(person)
    who = next((way for way in ways if len(way) <= free), cut(ways[-1], max(free, 0)))
    if badges:
        badge = next((b for b in badges if len(b) + 3 <= room - len(who)), badges[-1])
        left = line(left, " ", (f" {badge} ", CURSOR))
    return _spread(left, clickable(text(who), PERSON), width)


def _who(person: Person) -> tuple[str, str, str]:
    """Who is at the keys, the longest way first."""
    name, role = one_line(person.name), person.role.value
    words = [role, *["locks out"] * person.authorised, *["live"] * person.qualified]
    return f"{name} · {', '.join(words)}", f"{name} · {role}", name


def wait(machine: Machine, state: CaseState, now: datetime) -> str:
    """What is left of the longest wait on a label; empty when all are over. Beside a zone that is dead it says which
    other zone it is of."""
    end = state.countdown
    rest = left(end, now) if end is not None else ""
    if not rest:
        return ""
    of = next((z.title for z in machine.zones.values() if any(state.waits.get(s) == end for s in z.stored)), "")
    return (f"{cut(one_line(of), ZONE)}: " if state.banner.level == "dead" else "") + f"label's wait {rest}"


def _spread(left: Content, right: Content, width: int) -> Content:
    return line(left, " " * max(width - len(left) - len(right), 1), right)
