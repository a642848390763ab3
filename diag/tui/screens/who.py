"""Who is at the keys: name, role, and the person's own word on locking out and live work."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from time import monotonic
from typing import TYPE_CHECKING, Any, ClassVar

from textual import events, on
from textual.app import App, ComposeResult
from textual.content import Content
from textual.screen import Screen
from textual.widgets import Input
from textual.widgets.input import Selection

from diag.machine.model import Role
from diag.safety.types import Person
from diag.tui import remember
from diag.tui.helps import WHO, Help
from diag.tui.keys import HELP_F1, Key, bindings
from diag.tui.screens.base import STYLES
from diag.tui.screens.choose import Choose, Picked
from diag.tui.widgets.keybar import KeyBar
from diag.tui.widgets.picklist import Row
from diag.tui.widgets.status import Status
from diag.tui.widgets.written import CURSOR, Written, clickable, line, lines, text
from diag.tui.words import clean

if TYPE_CHECKING:
    from diag.tui.session import Sitting

ROLES = (
    (Role.OPERATOR, "runs the machine; looks from outside, and calls"),
    (Role.ELECTRICIAN, "measures and repairs, inside too when locked out"),
    (Role.ENGINEER, "as the electrician, and programs, settings, saved data"),
)

AT_ONCE = 0.2
"""Seconds between two letters that are typed in one go."""

OPERATOR = Key("role(0)", "1", "1", "operator", "Your role is operator.")
ELECTRICIAN = Key("role(1)", "2", "2", "electrician", "Your role is electrician.")
ENGINEER = Key("role(2)", "3", "3", "engineer", "Your role is engineer.")
LOCKS = Key("authorised", "a", "a", "authorised", "Say, or say no longer, that you are authorised to lock out here.")
LIVE = Key("qualified", "l", "l", "live work", "Say, or say no longer, that you are qualified to work near live parts.")
SAME = Key("same", "s", "s", "same as last time", "Role, authorised and qualified as you said them the last time.")
ROLE_NAME = Key("role_name", "r", "r", "no name", "Go by your role where no name is wanted, or none can be typed.")
NAME = Key("name", "n", "n", "name", "Type your name.")
GO = Key("go", "enter", "↵", "go on", "From the name to the role; then on, as it stands.")
BACK = Key("back", "escape", "esc", "back", "Back without a change.")
TABLE = (OPERATOR, ELECTRICIAN, ENGINEER, LOCKS, LIVE, SAME, NAME, ROLE_NAME, GO, BACK, HELP_F1)


class WhoScreen(Screen[Person]):
    """Gives the person, or nothing when it was left. Two keys, `s` and Enter, for whoever was here the last time."""

    COMPONENT_CLASSES = STYLES
    AUTO_FOCUS = ""
    HELP_DATA: ClassVar[Help] = WHO
    BINDINGS = bindings("who", TABLE)

    def __init__(self, place: str, name: str = "", present: Person | None = None) -> None:
        """`place`: what is to be worked on, for the heading; `name`: typed already; `present`: who has the keys and
        wants to change what they said of themselves."""
        super().__init__(id="who")
        self._place, self._present = place, present
        self._last = None if present else remember.last()
        self._name = present.name if present else name or (self._last.name if self._last else "")
        self._role = present.role if present else None
        self._authorised = present is not None and present.authorised
        self._qualified = present is not None and present.qualified
        self._typed_at = 0.0
        self._typed = bool(name)
        """The name that stands was typed by whoever is here now."""

    def compose(self) -> ComposeResult:
        yield Written(line(("WHO IS AT THE MACHINE", ".loud"), f"   {clean(self._place)}"), classes="head")
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
        if self._name:
            self.set_focus(None)
            if self._present is not None:
                self.query_one(Status).hint("Say what has changed, then Enter.")
            elif self._is_last():
                self.query_one(Status).hint("s takes everything as you said it the last time; Enter goes on.")
        else:
            self.query_one("#who-name", Input).focus()

    def _keys(self) -> Iterable[Key]:
        if self.query_one("#who-name", Input).has_focus:
            return (GO, BACK, HELP_F1)
        hidden = set() if self._is_last() else {SAME}
        if self._name or self._role is None:
            hidden.add(ROLE_NAME)
        if self._role in (None, Role.OPERATOR):
            hidden |= {LOCKS, LIVE}
        return [key for key in TABLE if key not in hidden]

    def _is_last(self) -> bool:
        return self._last is not None and self._last.name == self._name

    def _show(self) -> None:
        rows: list[Content] = [text("Your role", ".quiet")]
        for n, (role, about) in enumerate(ROLES):
            chosen = role is self._role
            mark = line((f"  {n + 1} ", ".key"), ("●" if chosen else "○", ".key" if chosen else ".quiet"), " ")
            name = line((role.value, CURSOR if chosen else ".strong"), " " * (12 - len(role.value)))
            rows.append(clickable(line(mark, name, (about, ".quiet")), ("screen.role", (n,))))
        rows += [Content(""), text("Your own word; the site decides who is", ".quiet")]
        if self._role is Role.OPERATOR:
            rows.append(text("    Operators do not lock out and do not go inside.", ".quiet"))
            rows.append(Content(""))
        elif self._role is None:
            rows.append(text("    Asked once the role is chosen.", ".quiet"))
            rows.append(Content(""))
        else:
            words = ("authorised to lock out", "qualified for work near live parts")
            for key, on, word, action in zip(
                "al", (self._authorised, self._qualified), words, ("authorised", "qualified"), strict=True
            ):
                box = "[x]" if on else "[ ]"
                row = line((f"  {key} ", ".key"), f"{box} ", (word, ".strong" if on else ""))
                rows.append(clickable(row, (f"screen.{action}", ())))
        rows += [Content(""), self._summary()]
        self.query_one("#who-form", Written).write(lines(rows))
        self.query_one(KeyBar).show(self._keys())

    def _summary(self) -> Content:
        if not self._name and self._role is not None:
            by_role = line(("r ", ".key"), f"go by the role: {_nameless(self._role)}")
            return line(("Type your name, then Enter.  ", ".quiet"), clickable(by_role, ("screen.role_name", ())))
        if not self._name:
            return text("Type your name, then Enter.", ".quiet")
        if self._role is None and self.query_one("#who-name", Input).has_focus:
            return text("Enter, then your role.", ".quiet")
        if self._role is None:
            return text("Choose your role with 1, 2 or 3.", ".quiet")
        words = [self._role.value]
        if self._authorised:
            words.append("authorised to lock out")
        if self._qualified:
            words.append("qualified for live work")
        return clickable(
            line(("↵ ", ".key"), "I am ", (self._name, ".strong"), ", ", ", ".join(words), "."), ("screen.go", ())
        )

    # ------------------------------------------------------------ actions

    @on(Input.Changed, "#who-name")
    def named(self, event: Input.Changed) -> None:
        self._name = clean(event.value)[: remember.LONGEST]
        self._typed = self._typed or self.query_one("#who-name", Input).has_focus
        self._show()

    @on(events.DescendantFocus)
    @on(events.DescendantBlur)
    def other_focus(self) -> None:
        self._show()

    @on(Input.Submitted, "#who-name")
    def name_done(self) -> None:
        if self._name:
            self.set_focus(None)
            self.call_after_refresh(self._show)

    def action_name(self) -> None:
        if self._late("n"):
            return
        field = self.query_one("#who-name", Input)
        field.selection = Selection(0, len(field.value))
        self.set_focus(field)

    def action_role(self, number: int | str) -> None:
        self.set_focus(None)
        self._role = ROLES[int(number)][0]
        if self._role is Role.OPERATOR:
            self._authorised = self._qualified = False
        self._show()

    def on_key(self, event: events.Key) -> None:
        """A letter that is no key here begins a name, and so does a capital: nobody goes on as whoever was here last
        because they typed past a name that stood there already. Whoever changes their own word keeps their name."""
        if self._present is not None and not self.query_one("#who-name", Input).has_focus:
            return
        letter = event.character or ""
        if event.is_printable and self._late(letter):
            event.stop()
        elif letter.isalpha() and (letter.isupper() or event.key not in self.active_bindings):
            event.stop()
            self._letter(letter)

    def _letter(self, letter: str) -> None:
        """A letter that does nothing here: the first one of a name, unless a name was typed here that it would wipe
        out."""
        if self._name and self._typed and not self.query_one("#who-name", Input).has_focus:
            self.query_one(Status).hint(f"{letter} does nothing here. {self._name} stands; n changes the name.")
        else:
            self._begin_name(letter)

    def _begin_name(self, letter: str) -> None:
        field = self.query_one("#who-name", Input)
        field.value = letter
        field.selection = Selection.cursor(len(letter))
        self.set_focus(field)
        self._typed_at = monotonic()

    def _late(self, letter: str) -> bool:
        """A letter of a name that was typed so fast that it came here before the field had the keys: it is typed."""
        field = self.query_one("#who-name", Input)
        if self.focused is not field or monotonic() - self._typed_at > AT_ONCE:
            return False
        field.insert_text_at_cursor(letter)
        self._typed_at = monotonic()
        return True

    def action_authorised(self) -> None:
        if self._late("a"):
            return
        if self._role is None and not self._typed:
            self._begin_name("a")
        elif self._role is None:
            self.query_one(Status).hint("First your role: 1 operator, 2 electrician, 3 engineer.")
        elif self._role is Role.OPERATOR:
            self.query_one(Status).hint("a is for electricians and engineers: operators do not go inside.")
        else:
            self._authorised = not self._authorised
            self._show()

    def action_qualified(self) -> None:
        if self._late("l"):
            return
        if self._role is None and not self._typed:
            self._begin_name("l")
        elif self._role is None:
            self.query_one(Status).hint("First your role: 1 operator, 2 electrician, 3 engineer.")
        elif self._role is Role.OPERATOR:
            self.query_one(Status).hint("l is for electricians and engineers: operators do not go inside.")
        else:
            self._qualified = not self._qualified
            self._show()

    def action_role_name(self) -> None:
        if not self._late("r") and self._role is not None and not self._name:
            self.query_one("#who-name", Input).value = _nameless(self._role)

    def action_same(self) -> None:
        if not self._late("s") and self._last is not None and self._is_last():
            self._role, self._authorised, self._qualified = (
                self._last.role,
                self._last.authorised,
                self._last.qualified,
            )
            self._show()

    def action_go(self) -> None:
        if not self._name:
            self.query_one("#who-name", Input).focus()
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


def _nameless(role: Role) -> str:
    """What stands in the record in place of a name."""
    return f"{role.value} on shift"


def hand_over(app: App[Any], sitting: Sitting, done: Callable[[str, str], None]) -> None:
    """Somebody else takes the keys: from the people of this case by digit, or new. `done` is told what was done and
    what went wrong, one of them empty."""

    def take(person: Person | None) -> None:
        if person is None:
            return
        wrong = sitting.take_over(person)
        done("" if wrong else f"{person.name}, {person.role.value}, has the keys.", wrong)

    def chosen(picked: Picked | None) -> None:
        if picked is None:
            return
        title = sitting.case.machine.title
        known = sitting.people.get(picked.typed or picked.id)
        if known is not None and known.name == present.name:
            app.push_screen(WhoScreen(title, present=present), take)
        elif known is not None:
            take(known)
        else:
            app.push_screen(WhoScreen(title, picked.typed), take)

    present = sitting.case.state.person
    rows = tuple(
        Row(p.name, p.name + (": change what I may do" if p.name == present.name else ""), said(p))
        for p in sitting.people.values()
    )
    new = "a digit, or type a new name"
    app.push_screen(Choose("WHO TAKES THE KEYS?", (*rows, Row("", "somebody else …")), digits=True, free=new), chosen)


def said(person: Person) -> str:
    """What a person said of themselves, in a few words."""
    words = [person.role.value]
    if person.authorised:
        words.append("locks out")
    if person.qualified:
        words.append("live")
    return ", ".join(words)
