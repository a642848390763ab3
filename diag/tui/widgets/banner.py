"""The safety banner: the state of the lockout in words and a sign, what it allows, and who is at the keys."""

from __future__ import annotations

from datetime import datetime

from textual.content import Content
from textual.geometry import Size

from diag.case.snapshot import CaseState
from diag.machine.model import Machine
from diag.safety.types import Banner, Person
from diag.text import cut, one_line
from diag.tui.looks.wording import left
from diag.tui.widgets.written import CURSOR, Written, clickable, line, lines, text

LEVELS = ("energised", "locking", "dead", "live", "stop", "danger")
GATE = ("screen.gate", ())
PERSON = ("screen.person", ())
SHORTEST = 12
"""Characters below which the machine's title is left out."""
ROOM_FOR_CASE = 16
"""Characters for the case's name beside whoever is here."""
ZONE = 20
"""The most characters of a zone's title that stand beside its wait."""


class BannerBar(Written):
    """Two rows at the top of every screen of a case, three where names are long. Its class follows the level; its
    meaning never does."""

    _shown: tuple[Banner, Person, str, str, str, tuple[str, ...]] | None = None

    def show(
        self,
        banner: Banner,
        person: Person,
        case: str,
        about: str,
        more: str = "",
        badges: tuple[str, ...] = (),
    ) -> None:
        """`case`: its name; `about`: who has it in hand, and the machine; `more`: what else belongs on the second row
        (a countdown); `badges`: a warning about the machine's file, the longest way first. Its shortest way is always
        there in full; the longer ones take no room from anything else.

        The person with their role and the case's name are never cut: what finds no room stands on a third row."""
        shown = (banner, person, case, about, more, badges)
        if shown != self._shown:
            self._shown, before = shown, self._tall(self.content_size.width)
            for level in LEVELS:
                self.set_class(level == banner.level, f"-{level}")
            self.refresh(layout=self._tall(self.content_size.width) != before)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        return self._tall(width)

    def _tall(self, width: int) -> int:
        return len(self._rows(width))

    def draw(self) -> Content:
        return lines(self._rows(self.content_size.width))

    def _rows(self, width: int) -> list[Content]:
        if self._shown is None:
            return [Content(""), Content("")]
        banner, person, case, about, more, badges = self._shown
        first, below = _first(banner, person, badges, width)
        second = line("  ", one_line(banner.allows))
        if more:
            second = line(second, "  ", (cut(more, max(width - len(second) - 2, 0)), ".loud"))
        room, name = width - len(second) - 2, f"case {one_line(case)}"
        if below or room < len(name):
            below = [*below, text(f" · {name}" if below else name)]
            rest = width - sum(map(len, below)) - 3
            return [first, second, _spread(Content(""), line(*below, _cut(about, rest)), width)]
        return [first, _spread(second, line(name, _cut(about, room - len(name) - 3)), width)]


def _cut(about: str, room: int) -> str:
    """As much of it as is worth saying."""
    return f" · {cut(one_line(about), room)}" if room >= SHORTEST else ""


def _first(banner: Banner, person: Person, badges: tuple[str, ...], width: int) -> tuple[Content, list[Content]]:
    """The first row, and who is here where there is no room for them on it."""
    left = clickable(text(f"{banner.symbol} {one_line(banner.title)}", ".loud"), GATE)
    room = max(width - len(left) - 2, 0)
    free = room - (len(badges[-1]) + 3 if badges else 0)
    ways = _who(person)
    who = next((way for way in ways if len(way) <= free), "")
    if badges:
        badge = next((b for b in badges if len(b) + 3 <= room - len(who)), badges[-1])
        left = line(left, " ", (f" {badge} ", CURSOR))
    if who:
        return _spread(left, clickable(text(who), PERSON), width), []
    below = width - ROOM_FOR_CASE
    who = ways[-1] if len(ways[-1]) <= below else cut(one_line(person.name), below)
    return left, [clickable(text(who), PERSON)]


def _who(person: Person) -> tuple[str, str]:
    """Who is at the keys, the longest way first."""
    name, role = one_line(person.name), person.role.value
    words = [role, *["locks out"] * person.authorised, *["live"] * person.qualified]
    return f"{name} · {', '.join(words)}", f"{name} · {role}"


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
