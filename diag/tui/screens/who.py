"""Who is at the keys: name, role, and the person's own word on locking out and live work."""

from __future__ import annotations

from collections.abc import Iterable
from time import monotonic
from typing import ClassVar

from textual import events, on
from textual.app import ComposeResult
from textual.content import Content
from textual.screen import Screen
from textual.widgets import Input
from textual.widgets.input import Selection

from diag.machine.model import Role
from diag.safety.types import Person, nameless
from diag.text import one_line
from diag.tui import last_person as remember
from diag.tui.key_table import HELP_F1, Key, bindings
from diag.tui.screen_help import WHO, Help
from diag.tui.screens.base import STYLES
from diag.tui.widgets.keybar import KeyBar
from diag.tui.widgets.status import Status
from diag.tui.widgets.written import CURSOR, Written, clickable, line, lines, text

ROLES = (
    (Role.OPERATOR, "runs the machine; looks from outside, and calls"),
    (Role.ELECTRICIAN, "measures and repairs, inside too when locked out"),
    (Role.ENGINEER, "as the electrician, and programs, settings, saved data"),
)

WORDS = (
    ("authorised to lock out", "for every step of a lockout"),
    ("qualified for work near live parts", "to open and test, or work live"),
)
"""What a person says of themselves, and what it is needed for."""
LONGEST_WORD = max(len(words) for words, _ in WORDS)
AS_A_NAME = 1.0
"""Seconds after `s` within which a letter goes on with a name that begins with it: `sven`."""
AT_ONCE = 0.2
"""Seconds between two letters that are typed in one go."""

OPERATOR = Key("role(0)", "1", "1", "operator", "Your role is operator.")
ELECTRICIAN = Key("role(1)", "2", "2", "electrician", "Your role is electrician.")
ENGINEER = Key("role(2)", "3", "3", "engineer", "Your role is engineer.")
LOCKS = Key("authorised", "a", "a", "authorised", "Say that you are authorised to lock out here, or take that back.")
LIVE = Key("qualified", "l", "l", "live work", "Say that you are qualified to work near live parts, or take that back.")
SAME = Key("same", "s", "s", "same as last time", "Role, authorised and qualified as you said them the last time.")
ROLE_NAME = Key(
    "role_name", "r", "r", "no name", "Go by your role alone, where no name is wanted or none can be typed."
)
NAME = Key("name", "backspace", "⌫", "name", "Type another name.")
GO = Key("go", "enter", "↵", "go on", "Go from the name to the role, and then on.")
BACK = Key("back", "escape", "esc", "back", "Back without a change.")
TABLE = (OPERATOR, ELECTRICIAN, ENGINEER, LOCKS, LIVE, SAME, NAME, ROLE_NAME, GO, BACK, HELP_F1)


class WhoScreen(Screen[Person]):
    """Gives the person, or nothing when it was left. A person who was here last time needs two keys: `s` and Enter."""

    COMPONENT_CLASSES = STYLES
    AUTO_FOCUS = ""
    HELP_DATA: ClassVar[Help] = WHO
    BINDINGS = bindings("who", TABLE)

    def __init__(self, place: str, name: str = "", present: Person | None = None, *, remembered: bool = True) -> None:
        """`place`: what is to be worked on, for the heading; `name`: typed already; `present`: who has the keys and
        wants to change what they said of themselves."""
        super().__init__(id="who")
        self._place, self._present = place, present
        self._last = remember.last() if remembered and present is None else None
        self._name = present.name if present else name or (self._last.name if self._last else "")
        self._role = present.role if present else None
        self._authorised = present is not None and present.authorised
        self._qualified = present is not None and present.qualified
        self._typed_at = 0.0
        self._same_at = -AS_A_NAME
        self._said_as_last = False
        """Role and word are those of the last time."""
        self._typed = bool(name)
        """The name was typed by the person who is here now."""

    def compose(self) -> ComposeResult:
        yield Written(line(("WHO IS AT THE MACHINE", ".loud"), f"   {one_line(self._place)}"), classes="head")
        yield Written(text("Your name"), classes="ask")
        yield Input(
            self._name,
            placeholder="first and last name",
            compact=True,
            id="who-name",
            max_length=remember.LONGEST,
            select_on_focus=False,
        )
        yield Written(id="who-form")
        yield Status(id="who-status")
        yield KeyBar(id="keys")

    def on_mount(self) -> None:
        self._show()
        if not self._name:
            self._field.focus()
            return
        self.set_focus(None)
        if self._present is not None:
            self._hint("Say what has changed, then Enter.")
        elif self._is_last():
            self._hint("s takes everything as you said it the last time; Enter goes on.")

    @property
    def _field(self) -> Input:
        return self.query_one("#who-name", Input)

    def _hint(self, words: str) -> None:
        self.query_one(Status).hint(words)

    def _keys(self) -> Iterable[Key]:
        if self._field.has_focus:
            return (GO, BACK, HELP_F1)
        inside = self._role not in (None, Role.OPERATOR)
        nameless = self._role is not None and not self._name
        open_now = {SAME: self._is_last(), ROLE_NAME: nameless, LOCKS: inside, LIVE: inside}
        return [key for key in TABLE if open_now.get(key, True)]

    def _is_last(self) -> bool:
        return self._last is not None and self._last.name == self._name

    @on(events.DescendantFocus)
    @on(events.DescendantBlur)
    def _show(self) -> None:
        rows: list[Content] = [text("Your role", ".quiet")]
        for n, (role, about) in enumerate(ROLES):
            chosen = role is self._role
            mark = line((f"  {n + 1} ", ".key"), ("●" if chosen else "○", ".key" if chosen else ".quiet"), " ")
            name = line((role.value, CURSOR if chosen else ".strong"), " " * (12 - len(role.value)))
            rows.append(clickable(line(mark, name, (about, ".quiet")), ("screen.role", (n,))))
        rows += [Content(""), text("Your own word; the site decides who is", ".quiet")]
        if self._role is None or self._role is Role.OPERATOR:
            words = (
                "Operators do not lock out and do not go inside." if self._role else "Asked once the role is chosen."
            )
            rows += [text(f"    {words}", ".quiet"), Content("")]
        else:
            says = (("a", self._authorised, "authorised"), ("l", self._qualified, "qualified"))
            for (key, on_, action), (words, wanted) in zip(says, WORDS, strict=True):
                row = line((f"  {key} ", ".key"), "[x] " if on_ else "[ ] ", (words, ".strong" if on_ else ""))
                row = line(row, " " * (LONGEST_WORD - len(words)), (f"  {wanted}", ".quiet"))
                rows.append(clickable(row, (f"screen.{action}", ())))
        rows += [Content(""), self._summary()]
        self.query_one("#who-form", Written).write(lines(rows))
        self.query_one(KeyBar).show(self._keys())

    def _summary(self) -> Content:
        if not self._name and self._role is not None:
            by_role = line(("r ", ".key"), f"go by the role: {nameless(self._role)}")
            return line(("Type your name, then Enter.  ", ".quiet"), clickable(by_role, ("screen.role_name", ())))
        if not self._name:
            return text("Type your name, then Enter.", ".quiet")
        if self._role is None:
            return text(
                "Enter, then your role." if self._field.has_focus else "Choose your role with 1, 2 or 3.", ".quiet"
            )
        said = [self._role.value]
        if self._authorised:
            said.append("authorised to lock out")
        if self._qualified:
            said.append("qualified for live work")
        go_on = line(("↵ ", ".key"), "I am ", (self._name, ".strong"), ", ", ", ".join(said), ".")
        return clickable(go_on, ("screen.go", ()))

    # ------------------------------------------------------------ actions

    @on(Input.Changed, "#who-name")
    def named(self, event: Input.Changed) -> None:
        self._name = one_line(event.value)[: remember.LONGEST]
        if self._said_as_last and not self._is_last():
            self._said_as_last = False
            self._say_nothing()
        self._typed = self._typed or self._field.has_focus
        self._show()

    @on(Input.Submitted, "#who-name")
    def name_done(self) -> None:
        self.set_focus(None)
        if not self._name:
            self._hint("Choose your role; then r goes by it alone. Or type your name.")
        self.call_after_refresh(self._show)

    def action_name(self) -> None:
        self._field.selection = Selection(0, len(self._field.value))
        self.set_focus(self._field)

    def action_role(self, number: int | str) -> None:
        self.set_focus(None)
        self._role = ROLES[int(number)][0]
        if self._role is Role.OPERATOR:
            self._authorised = self._qualified = False
        self._show()

    def on_key(self, event: events.Key) -> None:
        """A letter that is no key here begins a name, and so does a capital: nobody goes on as whoever was here last
        because they typed past a name that stood there already. Whoever changes their own word keeps their name. So
        does whoever typed a name here, which a stray letter would wipe out."""
        in_field, letter = self._field.has_focus, event.character or ""
        if self._present is not None and not in_field:
            return
        if not in_field and letter.isalpha() and monotonic() - self._same_at < AS_A_NAME:
            event.stop()
            self._say_nothing()
            self._begin_name(f"s{letter}")
        elif event.is_printable and self._late(letter):
            event.stop()
        elif letter.isalpha() and (letter.isupper() or event.key not in self.active_bindings):
            event.stop()
            if self._name and self._typed and not in_field:
                self._hint(f"{letter} does nothing here. {self._name} stands; ⌫ changes the name.")
            else:
                self._begin_name(letter)

    def _say_nothing(self) -> None:
        """What was said of somebody holds for nobody else."""
        self._role, self._authorised, self._qualified = None, False, False

    def _begin_name(self, letter: str) -> None:
        self._field.value = letter
        self._field.selection = Selection.cursor(len(letter))
        self.set_focus(self._field)
        self._typed_at = monotonic()

    def _late(self, letter: str) -> bool:
        """A letter of a name that was typed so fast that it came here before the field had the keys: it is typed."""
        if self.focused is not self._field or monotonic() - self._typed_at > AT_ONCE:
            return False
        self._field.insert_text_at_cursor(letter)
        self._typed_at = monotonic()
        return True

    def action_authorised(self) -> None:
        if self._may_say("a"):
            self._authorised = not self._authorised
            self._show()

    def action_qualified(self) -> None:
        if self._may_say("l"):
            self._qualified = not self._qualified
            self._show()

    def _may_say(self, letter: str) -> bool:
        """Whether this letter is a person's word on lockout or live work; else it begins a name, or is told what it is
        for."""
        if self._late(letter):
            return False
        if self._role is None and not self._typed:
            self._begin_name(letter)
        elif self._role is None:
            self._hint("First your role: 1 operator, 2 electrician, 3 engineer.")
        elif self._role is Role.OPERATOR:
            self._hint(f"{letter} is for electricians and engineers: operators do not go inside.")
        else:
            return True
        return False

    def action_role_name(self) -> None:
        if self._late("r"):
            return
        if self._role is not None and not self._name:
            self._field.value = nameless(self._role)
        elif self._typed or self._role is not None or self._present is not None:
            self._hint(f"r is for whoever goes without a name. {self._name} stands; ⌫ changes the name.")
        else:
            self._begin_name("r")

    def action_same(self) -> None:
        last = self._last
        if not self._late("s") and last is not None and self._is_last():
            self._role, self._authorised, self._qualified = last.role, last.authorised, last.qualified
            self._said_as_last, self._same_at = True, monotonic()
            self._show()

    def action_go(self) -> None:
        if not self._name:
            self._field.focus()
            self.query_one(Status).warn("Type your name first.")
        elif self._role is None:
            self.query_one(Status).warn("Choose your role first: 1 operator, 2 electrician, 3 engineer.")
        else:
            person = Person(self._name, self._role, self._authorised, self._qualified)
            remember.keep(person)
            self.dismiss(person)

    def action_back(self) -> None:
        self.dismiss(None)

    def action_help(self) -> None:
        from diag.tui.screens.help import HelpScreen

        self.app.push_screen(HelpScreen(self.HELP_DATA, TABLE))
