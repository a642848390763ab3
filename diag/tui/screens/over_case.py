"""What all screens of one open case share: its banner, the boxes over it, and who has the keys."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from textual import events
from textual.screen import Screen

from diag.case.log.owners import taken_off
from diag.case.phrases import named as named_of
from diag.case.snapshot import CaseState
from diag.safety.types import Banner, folded, same_name
from diag.text import one_line
from diag.tui.case_session import CHANGED
from diag.tui.questions import Answers, AskLines, ChooseOne, Given, Picked, Row
from diag.tui.screens.ask import Ask
from diag.tui.screens.base import BaseScreen
from diag.tui.screens.choose import Choose
from diag.tui.screens.people import said, same_person
from diag.tui.screens.tags_and_owners import TagsAndOwners, read_first, stands
from diag.tui.storing import NOT_YET, STORING, Entry
from diag.tui.widgets.banner import BannerBar
from diag.tui.widgets.status import Status

if TYPE_CHECKING:
    from diag.case.log.stored import Stream
    from diag.safety.types import Person
    from diag.tui.case_session import CaseSession


HARMLESS = (
    "escape", "tab", "shift+tab", "up", "down", "left", "right", "pageup", "pagedown", "home", "end", "t", "m", "q",
    "ctrl+q", "f1", "question_mark",
)  # fmt: skip
"""Keys that enter nothing, whatever they are aimed at."""
ON_THE_WAY = tuple(key for key in HARMLESS if key not in ("escape", "m"))
"""Those that may be pressed while an entry is being stored: they leave nobody without word of what came of it."""
HERE, LEAD, BESIDE, BACK, GONE = "?here", "?lead", "?beside", "?back", "?gone"
"""Rows of the list of people that are no names."""


ROOM_FOR_BOTH = 120
"""Columns from which a danger tag's name has room beside a label's wait."""
WAIT = "label's wait"


def never(given: object, wrong: str) -> None:
    """Nothing is asked again."""


CHANGED_BELOW = "Not entered: somebody changed something at the machine meanwhile. Look again first."

NOT_PROTECTED = "Come out; you are not protected."
TAKEN_OFF = Banner("✖", "STOP, your lock was taken off", NOT_PROTECTED, "stop")
"""For the owner of a lock or tag that was taken off as absent, at a terminal of their own."""
NOT_FOLLOWING = Banner("▲", "NOT FOLLOWING", "Locks stay on. Come out. Begin nothing inside.", "stop")
"""The casebook does not answer, so that nobody knows here what others do at the machine."""


class OverCase(BaseScreen):
    """A screen of one open case, with a banner at its top."""

    def __init__(self, session: CaseSession, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.session, self.machine = session, session.case.machine

    @property
    def state(self) -> CaseState:
        return self.session.case.state

    def left_behind(self) -> str:
        return self.session.left_behind()

    def unhurried(self) -> bool:
        return self.session.unhurried()

    # ------------------------------------------------------------ painting

    def paint(self) -> None:
        """Paints what the case says now."""
        raise NotImplementedError

    def on_mount(self) -> None:
        self.set_interval(1.0, self._second)

    def on_screen_resume(self) -> None:
        """Something may have been entered on another screen."""
        if self.is_mounted and self.query("#banner"):
            self.paint()

    # ------------------------------------------------------------ what is entered here

    def entered(self, entry: Entry, words: str | Callable[[], str], then: Callable[[], object] = bool) -> None:
        """Paints what came of an entry; says why it was refused, or else what was done, and goes on with `then`. While
        it is still being stored, that is said."""
        if not entry.over:
            self.hint(STORING)
            self.when_stored(entry, lambda: self.entered(entry, words, then))
        elif entry.wrong:
            self.told(entry.wrong, warns=True)
        else:
            self.told(words if isinstance(words, str) else words())
            then()

    def told(self, words: str, *, warns: bool = False) -> None:
        """Paints what is so now, and says what was done or refused."""
        self.paint()
        if warns:
            self.warn(words)
        else:
            self.query_one(Status).say(words)

    def when_stored(self, entry: Entry, then: Callable[[], object]) -> None:
        """Goes on once an entry is stored, or could not be. The screen is followed and painted meanwhile."""

        def look() -> None:
            if self.session.entries.settle().over:
                then()
                if entry.lost:
                    entry.again()
            else:
                self.when_stored(entry, then)

        self.session.entries.when_stored(lambda: self.call_later(look))

    # ------------------------------------------------------------ what others enter

    @property
    def under_keys(self) -> object:
        """What the keys act on now, to be compared."""
        return None

    def take_in(self, news: Stream) -> None:
        """Others have entered something: it is painted at once on every screen of this case. Where it changed what
        stands under the keys, none is taken until it can have been read."""
        screens = [screen for screen in self.app.screen_stack if isinstance(screen, OverCase)]
        before, knew = [screen.under_keys for screen in screens], self.state.to_be_told
        words = self.session.take_in(news)
        if not words:
            return
        name = self.state.person.name
        off = [one for one in self.state.to_be_told if one not in knew and same_name(one.owner, name)]
        if off:
            words = " ".join((*(taken_off(self.machine, one, as_absent=True) for one in off), NOT_PROTECTED))
        if self.session.storing:
            words = f"{words} {STORING}"
        for screen in screens:
            screen.taken_in(words, warns=bool(off))
        if [screen.under_keys for screen in screens] != before:
            self.session.has_changed()

    def taken_in(self, words: str, *, warns: bool = False) -> None:
        """Paints what others have entered; `words` say what it was."""
        self.paint()
        if self.session.came_out and not warns:
            self.query_one(Status).stop(words)
        else:
            self.told(words, warns=warns)

    async def on_key(self, event: events.Key) -> None:
        self.not_taken(event)

    def not_taken(self, event: events.Key) -> bool:
        """Whether this key was aimed at what stood there before: then that is told, and nothing else takes it."""
        if event.key in (ON_THE_WAY if self.session.storing else HARMLESS) or not self.aimed_before():
            return False
        event.stop()
        event.prevent_default()
        return True

    def aimed_before(self) -> bool:
        """Whether a key comes so soon after an unannounced change that it was aimed at what stood there before, or
        while an entry is being stored. Then that is told."""
        if self.session.storing:
            self.hint(NOT_YET)
            return True
        if self.session.just_changed:
            self.hint(CHANGED)
            return True
        return False

    def more(self) -> str:
        """What else belongs on the second row of the banner: a countdown, a warning."""
        return ""

    def paint_banner(self) -> None:
        state = self.state
        title, asset = one_line(self.machine.title), one_line(self.machine.asset)
        case, about = f"{state.id} · {asset}" if asset else state.id, title
        if not same_name(state.lead.name, state.person.name):
            about = f"in hand: {one_line(state.lead.name)} · {title}"
        banner = NOT_FOLLOWING if self.session.lost() else self._bared() or state.banner
        more, stand = self.more(), stands(state)
        if more and state.tags:
            # A narrow row has no room for the name beside the wait; the tag itself is never left out.
            stand = stand if self.size.width >= ROOM_FOR_BOTH else "DANGER TAG"
            more = f"{stand} · {more.replace(WAIT, 'wait')}"
        more = more or stand
        self.query_one(BannerBar).show(banner, state.person, case, about, more, self.session.badges)

    def _bared(self) -> Banner | None:
        """For whoever sits here while something of theirs was taken off as absent, until they know it."""
        state = self.state
        if state.danger or not any(same_name(one.owner, state.person.name) for one in state.to_be_told):
            return None
        return TAKEN_OFF

    def _second(self) -> None:
        if self.session.tick():
            # A proof of dead has become too old: what could be confirmed a second ago may be closed now.
            self.paint()
            self.session.has_changed()
        elif self.is_current and self.state.countdown is not None:
            self.count_down()
        elif self.session.follows:
            self.paint_banner()

    def hint(self, words: str) -> None:
        """Says in the line of status what may be done."""
        self.query_one(Status).hint(words)

    def count_down(self) -> None:
        """A second of a label's wait has passed."""
        self.paint_banner()

    # ------------------------------------------------------------ boxes

    def ask(
        self,
        box: Screen[Given],
        then: Callable[[Given], object],
        *,
        plain: bool = False,
        again: Callable[[Given, str], Screen[Given] | None] = never,
    ) -> None:
        """Opens a box. `then` is given what is answered in it, and is not called where it is left. What was answered
        while others changed what may be done at the machine is not taken, but for a `plain` fact, note or call.
        `again`: the box once more with what was answered, and why that could not be stored."""
        seen = self.session.touched

        def take(given: Given | None) -> None:
            self.unhurried()
            if given is not None and not plain and self.session.touched != seen:
                self.told(CHANGED_BELOW, warns=True)
            elif given is not None:
                before = self.session.entries.entry
                then(given)
                entry = self.session.entries.entry
                if entry is not before:
                    entry.again = lambda: once_more(entry.wrong, given)
                if entry is not before and entry.over and entry.lost:
                    entry.again()

        def once_more(wrong: str, given: Given) -> None:
            same = again(given, wrong)
            if same is not None:
                self.ask(same, then, plain=plain, again=again)

        self.app.push_screen(box, take)

    def choose(self, question: ChooseOne, then: Callable[[Picked], object]) -> None:
        """Opens a list to choose from."""

        def box(question: ChooseOne) -> Choose:
            if question.bare:
                self.session.has_changed()
            return Choose(question, self.unhurried, self.session.early)

        self.ask(box(question), then, again=lambda picked, wrong: box(question.again(picked, wrong)))

    def ask_lines(self, question: AskLines, then: Callable[[Answers], object], *, plain: bool = False) -> None:
        """Opens lines to type in."""
        self.ask(Ask(question), then, plain=plain, again=lambda answers, wrong: Ask(question.again(answers, wrong)))

    def action_person(self) -> None:
        """Who is at this terminal: the same person with other words, somebody else, or somebody for one entry."""
        me, lead, host = self.state.person, self.state.lead, self.session.host
        rows = [Row(HERE, f"{me.name}: change what I may do", said(me))]
        for name in self.session.lately:
            if not same_name(name, me.name):
                here = self.session.sat.get(folded(name))
                rows.append(Row(name, name, said(here.person) if here else "at another terminal"))
        gone = self._here_before()
        if host is not None:
            rows = [Row(BACK, f"{host.person.name} goes on; {me.name} enters nothing")]
        elif not same_name(lead.name, me.name):
            rows.append(Row(LEAD, "take this case in hand", f"{lead.name} has it now"))
        rows += [Row(BESIDE, "somebody beside me makes one entry …"), Row("", "somebody else …")]
        if gone and host is None:
            rows.append(Row(GONE, f"somebody who was here before … ({len(gone)})", "or type the name"))
        free = "a digit, or type a name"
        question = ChooseOne("WHO IS AT THIS TERMINAL?", tuple(rows), digits=True, free=free, rest=gone)
        self.ask(Choose(question), self._who_chosen, plain=True)

    def _here_before(self) -> tuple[Row, ...]:
        """Who took part in this case, but not lately."""
        lately = {folded(name) for name in (*self.session.lately, self.state.person.name)}
        return tuple(Row(name, name, "was here before") for name in self.session.people if folded(name) not in lately)

    def _who_chosen(self, picked: Picked) -> None:
        if picked.id == GONE:
            before = ChooseOne("WHO WAS HERE BEFORE?", self._here_before(), digits=True)
            self.ask(Choose(before), self._who_chosen, plain=True)
        elif picked.id == BACK:
            self.session.give_back()
            self.told(f"{self.state.person.name} goes on.")
        elif picked.id == LEAD:
            self._read_first(self.state.person, self._take_over)
        elif picked.id == BESIDE:
            self._say_who("", None, self._for_one_entry)
        elif picked.id == HERE:
            self._say_who("", self.state.person, self._change)
        elif here := self.session.sat.get(folded(picked.words)):
            self._read_first(here.person, self._take_over)
        else:
            # What somebody may do is said anew by whoever comes to a terminal, whatever they said at another one.
            self._say_who(picked.words, None, self._take_over)

    def _say_who(self, name: str, present: Person | None, then: Callable[[Person], None]) -> None:
        from diag.tui.screens.who import WhoScreen

        def named(person: Person) -> None:
            known = () if present is not None else self.session.people.values()
            locks = [(named_of(self.machine, point), who) for point, who in self.state.locks]
            question = same_person(person, known, locks, self.state.person.name)
            if question is None:
                self._read_first(person, then)
            else:
                go_on = lambda picked: self._read_first(replace(person, name=picked.id), then)  # noqa: E731
                self.ask(Choose(question), go_on, plain=True)

        self.ask(WhoScreen(self.machine.name, name, present, remembered=False), named, plain=True)

    def _read_first(self, person: Person, then: Callable[[Person], None]) -> None:
        """Whoever has to know that something of theirs was taken off reads it before they get the keys."""
        told = tuple((one.owner, taken_off(self.machine, one)) for one in self.state.to_be_told)
        question = read_first(told, person)

        def read(picked: Picked) -> None:
            if not picked.id:
                then(person)
                return
            knows = replace(person, name=picked.id)
            self.entered(self.session.knows(knows), f"{knows.name} has read it.", lambda: then(knows))

        if question is None:
            then(person)
        else:
            self.ask(Choose(question, self.unhurried), read, plain=True)

    def action_tags(self) -> None:
        """Danger tags, and what somebody absent left on."""
        if not self.aimed_before():
            TagsAndOwners(self).begin()

    def _take_over(self, person: Person) -> None:
        self.entered(self.session.take_over(person), f"{person.name}, {person.role.value}, has the case in hand.")

    def _change(self, person: Person) -> None:
        self.entered(self.session.say_anew(person), f"{person.name}: {said(person)}.")

    def _for_one_entry(self, person: Person) -> None:
        host = self.state.person.name
        self.session.for_one_entry(person)
        self.told(f"{person.name} makes one entry; then {host} goes on.")
