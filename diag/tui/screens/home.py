"""The first screen: find the machine by typing, or go on with a case that was left open.

It paints before anything is read: the list of machines and the casebook come from a thread, a moment later.
"""

from __future__ import annotations

from functools import partial
from threading import Event
from time import monotonic
from typing import TYPE_CHECKING

from textual import on, work
from textual.app import ComposeResult
from textual.widgets import Input
from textual.worker import get_current_worker

from diag.machine.assets import parted, recorded_as, spelled
from diag.text import one_line
from diag.tui.app_context import AppContext, CannotOpen
from diag.tui.key_table import HELP_F1, PAGES, QUIT, Key, bindings
from diag.tui.looks.wording import ago
from diag.tui.questions import Row
from diag.tui.screen_help import HOME
from diag.tui.screens.base import BaseScreen
from diag.tui.screens.sitting_down import SittingDown
from diag.tui.widgets.keybar import KeyBar
from diag.tui.widgets.picklist import PickList
from diag.tui.widgets.status import Status
from diag.tui.widgets.written import Written, line, text

if TYPE_CHECKING:
    from diag.case.log.stored import CaseLine
    from diag.machine.find import Listed

OPEN = Key("open", "enter", "↵", "open", "Open what is marked.")
DOWN = Key("move(1)", "down,ctrl+n", "↑↓", "move", "Mark another row.")
UP = Key("move(-1)", "up,ctrl+p", "", "", "")
CLEAR = Key("clear", "escape", "esc", "clear", "Empty the line.")
FIRST = 0.3
"""Seconds for which the casebook waits for the words beside the machines; then both are loaded side by side."""
MACHINE = "machine:"
"""How the name of a machine's row begins."""
STEP = 0.1
"""Seconds between two times that what was read is shown."""
NOT_READ = "not read yet"
"""Stands beside a machine until its approval was looked at."""
TABLE = (OPEN, DOWN, CLEAR, HELP_F1, PAGES, QUIT)

CAUTION = (
    "This never replaces the site's own lockout procedure, local codes, the machine's labels or licensed practice. "
    "It knows only what people enter."
)


def row_of(machine: str, asset: str) -> str:
    """The name of the row of a machine, or of one of its assets."""
    return MACHINE + recorded_as(machine, asset)


class HomeScreen(BaseScreen):
    """Machines and open cases."""

    HELP_DATA = HOME
    TABLE = TABLE
    BINDINGS = bindings("home", (*TABLE, UP))

    def __init__(self, context: AppContext) -> None:
        super().__init__(id="home")
        self.context = context
        self._machines: dict[str, Listed] = {}
        """By the name of their row; one that serves several assets has a row for each."""
        self._cases: tuple[Row, ...] = ()
        self._approvals: dict[str, str] = {}
        """How far a machine's file may be trusted, in words, for those that were read since they were listed."""
        self._in_sight: tuple[str, ...] = ()
        self._wrong = ""
        """Why no cases could be read the last time."""
        self._told = Event()
        """The words beside every machine in sight are there."""
        self._reading: frozenset[Listed] = frozenset()
        """Those whose approval is being read."""

    def compose(self) -> ComposeResult:
        yield Written(line(("diag", ".loud"), "   from what a stopped machine shows to its cause"), classes="head")
        yield Input(placeholder="Which machine? Type a few letters", compact=True, id="home-line", max_length=80)
        yield PickList(id="home-list", waiting="Looking for machines …")
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
        """Lists the machines, then the cases that were left open."""
        from diag.machine.find import places

        machines = self.context.machines()
        self._told.clear()
        self.call_later(self._list, machines)
        # The casebook is slow to load, and would hold up the words beside the machines.
        self._told.wait(FIRST if machines else 0.0)
        wrong = "" if machines else f"No machines in {places(self.context.knowledge)}."
        try:
            cases = self.context.open_cases()
        except CannotOpen as error:
            cases, wrong = (), str(error)
        self.call_later(self._add_cases, cases, wrong)

    def _list(self, machines: tuple[Listed, ...]) -> None:
        """Machines were listed. What was read of an approval counts no more: a file may have changed meanwhile."""
        self._reading = frozenset()
        self._machines = {row_of(m.id, asset): m for m in machines for asset in m.assets or ("",)}
        self._approvals = {m.id: self.context.approval(m) for m in machines if m.approval}
        self._fill()

    def _add_cases(self, cases: tuple[CaseLine, ...], wrong: str) -> None:
        now = self.context.clock()
        rows = []
        for c in cases:
            stands = f"{', DANGER' if c.danger else ''}{', DANGER TAG' if c.tags else ''}"
            stands += f"{', LOCKS ON' if c.locks else ''}{', OWNER TO BE TOLD' if c.to_be_told else ''}"
            stands += ", LOCKS NOT KNOWN" if c.doubtful else ""
            beside = f"{one_line(c.person)}, {ago(c.last, now)}{stands}"
            title = self._title(row_of(c.machine, c.asset))
            rows.append(Row(f"case:{c.id}", f"{title} · case {c.id}", beside, "CASES LEFT OPEN"))
        self._cases = tuple(rows)
        self._fill()
        if self.is_mounted and (wrong or self.query_one(Status).warns(self._wrong)):
            self.query_one(Status).show("warn" if wrong else "hint", wrong)
        self._wrong = wrong

    def _fill(self) -> None:
        if self.is_mounted:
            rows = (*self._cases, *(self._row(id, m) for id, m in self._machines.items()))
            self.query_one(PickList).fill(rows)
            self._read_approvals()

    def _row(self, id: str, machine: Listed) -> Row:
        beside = (self._approvals.get(machine.id, NOT_READ), machine.place)
        return Row(id, self._title(id), machine.problem or " · ".join(filter(None, beside)), "MACHINES")

    @on(PickList.Seen)
    def seen(self, event: PickList.Seen) -> None:
        self._in_sight = event.ids
        self._read_approvals()

    def _read_approvals(self) -> None:
        """An approval counts only while it holds, and that takes reading the machine: for the rows in sight alone."""
        in_sight = dict.fromkeys(self._machines[id] for id in self._in_sight if id in self._machines)
        wanted = tuple(m for m in in_sight if m.id not in self._approvals and not m.problem)
        if not self._reading.issuperset(wanted):
            self._reading = frozenset(wanted)
            read = partial(self._read, self._machines, wanted)
            self.run_worker(read, thread=True, exclusive=True, group="approvals", exit_on_error=False)
        elif self._in_sight and not wanted:
            self._told.set()

    def _read(self, machines: dict[str, Listed], wanted: tuple[Listed, ...]) -> None:
        worker, read, told = get_current_worker(), dict[str, str](), monotonic()
        for machine in wanted:
            if worker.is_cancelled:
                return
            read[machine.id] = self.context.approval(machine)
            if machine is wanted[-1] or monotonic() - told > STEP:
                self.call_later(self._have_read, machines, read)
                read, told = {}, monotonic()

    def _have_read(self, machines: dict[str, Listed], read: dict[str, str]) -> None:
        if machines is self._machines:
            self._approvals |= read
            self._fill()

    def _title(self, row: str) -> str:
        """What to call the machine of a row, with its asset as its file spells it, or as the record does."""
        found = self._machines.get(row)
        machine, asset = parted(row.removeprefix(MACHINE))
        if found is None:
            return f"{machine}, {asset}" if asset else machine
        return f"{found.title}, {spelled(found.assets, asset)}" if asset else found.title

    @on(Input.Changed, "#home-line")
    def narrow(self, event: Input.Changed) -> None:
        self.query_one(PickList).narrow(event.value)

    @on(PickList.Taken)
    def clicked(self, event: PickList.Taken) -> None:
        self._open(event.id)

    # ------------------------------------------------------------ actions

    def action_move(self, step: int | str) -> None:
        self.query_one(PickList).move(int(step))

    def action_clear(self) -> None:
        self.query_one("#home-line", Input).value = ""

    @on(Input.Submitted, "#home-line")
    def action_open(self) -> None:
        row = self.query_one(PickList).marked
        if row is not None:
            self._open(row.id)

    def _open(self, id: str) -> None:
        kind, _, name = id.partition(":")
        self.query_one(Status).hint("")
        if kind == "case":
            SittingDown(self, self.context, case=name).begin()
        else:
            machine, asset = parted(name)
            SittingDown(self, self.context, machine=machine, asset=asset, title=self._title(id)).begin()
