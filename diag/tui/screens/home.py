"""The first screen: find the machine by typing, or go on with a case that was left open.

It paints before anything is read: the list of machines and the casebook come from a thread, a moment later.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual import on, work
from textual.app import ComposeResult
from textual.widgets import Input

from diag.safety.types import Person
from diag.tui.helps import HOME
from diag.tui.keys import HELP_F1, QUIT, Key, bindings
from diag.tui.screens.base import Room
from diag.tui.screens.who import WhoScreen
from diag.tui.session import CannotOpen, Desk, Sitting
from diag.tui.widgets.keybar import KeyBar
from diag.tui.widgets.picklist import PickList, Row
from diag.tui.widgets.status import Status
from diag.tui.widgets.written import Written, line, text
from diag.tui.words import ago, clean

if TYPE_CHECKING:
    from diag.machine.find import Listed

OPEN = Key("open", "enter", "↵", "open", "Open what is marked.")
DOWN = Key("move(1)", "down,ctrl+n", "↑↓", "move", "Mark another row.")
UP = Key("move(-1)", "up,ctrl+p", "", "", "")
CLEAR = Key("clear", "escape", "esc", "clear", "Empty the line.")
TABLE = (OPEN, DOWN, CLEAR, HELP_F1, QUIT)

CAUTION = (
    "This never replaces the site's own lockout procedure, local codes, the machine's labels or licensed practice. "
    "It knows only what people enter."
)


class HomeScreen(Room):
    """Machines and open cases."""

    HELP_DATA = HOME
    TABLE = TABLE
    BINDINGS = bindings("home", (*TABLE, UP))

    def __init__(self, desk: Desk) -> None:
        super().__init__(id="home")
        self.desk = desk
        self._titles: dict[str, str] = {}

    def compose(self) -> ComposeResult:
        yield Written(line(("diag", ".loud"), "   from what a stopped machine shows to its cause"), classes="head")
        yield Input(placeholder="Which machine? Type a few letters", compact=True, id="home-line", max_length=80)
        yield PickList(id="home-list")
        yield Written(text(CAUTION, ".quiet"), id="caution")
        yield Status(id="home-status")
        yield KeyBar(TABLE, id="keys")

    def on_mount(self) -> None:
        self.query_one("#home-line", Input).focus()

    def on_screen_resume(self) -> None:
        self.call_after_refresh(self._look)

    # ------------------------------------------------------------ the list

    @work(thread=True, exclusive=True, group="look", exit_on_error=False)
    def _look(self) -> None:
        machines = self.desk.machines()
        titles = {m.id: m.title for m in machines}
        rows = tuple(self._row(m, self.desk.standing(m) if m.standing else "") for m in machines)
        self.call_later(self._fill, titles, rows, "" if rows else f"No machines in {self.desk.knowledge}.")
        try:
            cases = self.desk.open_cases()
        except CannotOpen as error:
            self.call_later(self._fill, titles, rows, str(error))
            return
        now = self.desk.clock()
        left = tuple(
            Row(
                f"case:{c.id}",
                f"{titles.get(c.machine, c.machine)} · case {c.id}",
                f"{clean(c.person)}, {ago(c.last, now)}" + (", LOCKS ON" if c.locks else ""),
                "CASES LEFT OPEN",
            )
            for c in cases
        )
        self.call_later(self._fill, titles, left + rows, "")
        if any(not m.standing and not m.problem for m in machines):
            # An approval counts only when it still holds, and that takes reading the machine: after the list is there.
            rows = tuple(self._row(m, "" if m.problem else self.desk.standing(m)) for m in machines)
            self.call_later(self._fill, titles, left + rows, "")

    def _row(self, machine: Listed, standing: str) -> Row:
        beside = machine.problem or " · ".join(filter(None, (standing, machine.place)))
        return Row(f"machine:{machine.id}", machine.title, beside, "MACHINES")

    def _fill(self, titles: dict[str, str], rows: tuple[Row, ...], wrong: str) -> None:
        if not self.is_mounted:
            return
        self._titles = titles
        self.query_one(PickList).fill(rows)
        if wrong:
            self.query_one(Status).warn(wrong)

    @on(Input.Changed, "#home-line")
    def narrow(self, event: Input.Changed) -> None:
        self.query_one(PickList).narrow(event.value)

    @on(Input.Submitted, "#home-line")
    def submitted(self) -> None:
        self.action_open()

    @on(PickList.Taken)
    def clicked(self, event: PickList.Taken) -> None:
        self._open(event.id)

    # ------------------------------------------------------------ actions

    def action_move(self, step: int | str) -> None:
        self.query_one(PickList).move(int(step))

    def action_clear(self) -> None:
        self.query_one("#home-line", Input).value = ""

    def action_open(self) -> None:
        row = self.query_one(PickList).marked
        if row is not None:
            self._open(row.id)

    def _open(self, id: str) -> None:
        kind, _, name = id.partition(":")
        self.query_one(Status).hint("")
        if kind == "case":
            start(self, self.desk, case=name)
        else:
            start(self, self.desk, machine=name, title=self._titles.get(name, name))

    def wrong(self, why: str) -> None:
        """A machine or a case could not be opened."""
        self.query_one(Status).warn(why)


def start(home: HomeScreen, desk: Desk, *, machine: str = "", case: str = "", title: str = "") -> None:
    """Ask who it is, while the machine is read behind the screen; then the case."""

    def who(person: Person | None) -> None:
        if person is not None:
            home.query_one(Status).hint("Reading the machine …")
            home.run_worker(lambda: sit(person), thread=True, exclusive=True, group="sit", exit_on_error=False)

    def sit(person: Person) -> None:
        try:
            sitting = desk.resume(case, person) if case else desk.open(machine, person)
        except CannotOpen as error:
            home.call_later(home.wrong, str(error))
        else:
            home.call_later(seat, sitting)

    def seat(sitting: Sitting) -> None:
        from diag.tui.screens.case import CaseScreen

        home.query_one(Status).hint("")
        home.app.push_screen(CaseScreen(sitting))

    home.run_worker(lambda: desk.warm(machine), thread=True, exclusive=True, group="warm", exit_on_error=False)
    if not title and machine:
        title = next((m.title for m in desk.machines() if m.id == machine), machine)
    home.app.push_screen(WhoScreen(title or f"case {case}"), who)
