"""Danger tags, and what somebody absent left on: what is asked, in its order, and what is entered. Nothing is granted
here; the case asks its rules of each entry."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from diag.case.phrases import listed
from diag.machine.model import Machine
from diag.safety.types import Person, Refused, folded, same_name
from diag.text import one_line
from diag.tui.questions import Answers, AskLines, ChooseOne, Line, Picked, Row

if TYPE_CHECKING:
    from diag.case.log.events import Event
    from diag.case.snapshot import CaseState
    from diag.tui.screens.over_case import OverCase

FOUND, DOWN, ABSENT, TOLD = "found", "down", "absent", "told"
"""What a row of the list begins with."""
LEAST = (60, 18)
"""Columns and rows below which nothing of an absent owner is entered, as nothing is confirmed at the gate."""
ALL, ELSEWHERE = "?all", "?elsewhere"

Left = tuple[str, str]
"""What somebody left on: `lock` or `tag`, and the isolation point."""


class TagsAndOwners:
    """One round of questions over a screen of a case."""

    def __init__(self, screen: OverCase) -> None:
        self._screen, self._machine = screen, screen.machine

    @property
    def _state(self) -> CaseState:
        return self._screen.state

    def begin(self) -> None:
        """What there is to enter."""
        self._screen.choose(what(self._state, self._machine, self._screen.session.clock()), self._chosen)

    def _chosen(self, picked: Picked) -> None:
        kind, _, rest = picked.id.partition(" ")
        if kind == FOUND:
            self._screen.choose(where(self._machine), self._hangs)
        elif kind == DOWN:
            self._down(rest)
        elif kind == TOLD:
            self._told(rest)
        else:
            self._absent(rest)

    # ------------------------------------------------------------ tags

    def _hangs(self, picked: Picked) -> None:
        point = "" if picked.id == ELSEWHERE else picked.id

        def found(answers: Answers) -> None:
            from diag.case.log.events import TagFound

            words, says, person = answers if not point else ("", *answers)
            self._enter(
                TagFound(person=person, point=point, where=words, says=says), f"A danger tag names {person}: it stands."
            )

        place = self._machine.points[point].title if point else ""
        self._screen.ask_lines(tag_lines(place), found, plain=True)

    def _down(self, point: str) -> None:
        from diag.case.log.events import TagDown

        name = self._state.person.name
        at = _at(self._machine, point)
        about = f"Your danger tag{at}. What did you see, so that it may come down? Take it down, then enter it."
        lines = AskLines("MY TAG IS DOWN", about, (Line("Seen"),))
        self._screen.ask_lines(
            lines,
            lambda said: self._enter(TagDown(person=name, point=point, how=said[0]), f"The tag{at} is down."),
        )

    # ------------------------------------------------------------ an absent owner

    def _absent(self, owner: str) -> None:
        from diag.case.log.owners import check_away, check_may_enter

        try:
            check_may_enter(self._state.person)
            check_away(self._state, owner, self._screen.session.clock())
        except Refused as error:
            self._screen.warn(str(error))
            return
        things = left_by(self._state, owner)
        if len(things) == 1:
            self._procedure(owner, things)
            return
        rows = [Row(ALL, f"all of these: {_listed(self._machine, things)}")]
        rows += [Row(str(n), _listed(self._machine, (thing,))) for n, thing in enumerate(things)]
        question = ChooseOne(f"WHAT OF {one_line(owner).upper()} COMES OFF?", tuple(rows), digits=True, marks=False)
        self._screen.choose(question, lambda p: self._procedure(owner, things if p.id == ALL else (things[int(p.id)],)))

    def _procedure(self, owner: str, things: Sequence[Left]) -> None:
        size = self._screen.size
        if size.width < LEAST[0] or size.height < LEAST[1]:
            self._screen.warn(f"This window is too small for that. Make it at least {LEAST[0]} by {LEAST[1]}.")
            return

        def event(said: Answers) -> Event:
            from diag.case.log.events import OwnerAbsent

            directed, off_site, tried, by, checked = said
            return OwnerAbsent(
                owner=owner,
                locks=tuple(point for kind, point in things if kind == "lock"),
                tags=tuple(point for kind, point in things if kind == "tag"),
                directed_by=directed,
                off_site=off_site,
                tried=tried,
                removed_by=by,
                checked=checked,
            )

        def confirm(said: Answers) -> None:
            question = is_off(self._machine, owner, things)
            self._screen.choose(question, lambda p: enter(said) if p.id == "off" else None)

        def enter(said: Answers) -> None:
            what_ = _listed(self._machine, things)
            self._enter(event(said), f"Off: {what_} of {owner}. Not proved; {owner} is to be told.")

        case = self._screen.session.case
        asks = procedure(self._machine, owner, things, self._state.person)

        def concerns(said: Answers) -> int | None:
            from diag.case.log.owners import MUST, WrongAnswer

            error = case.refusing(event(said))
            return list(MUST).index(error.field) if isinstance(error, WrongAnswer) else None

        refusal = lambda said: case.refusal(event(said))  # noqa: E731
        lines = AskLines(asks.title, asks.about, asks.lines, refusal, in_turn=True, concerns=concerns)
        self._screen.ask_lines(lines, confirm)

    def _told(self, owner: str) -> None:
        from diag.case.log.events import OwnerTold
        from diag.case.log.owners import taken_off

        told = (one for one in self._state.to_be_told if same_name(one.owner, owner))
        words = " ".join(taken_off(self._machine, one, "the") for one in told)
        lines = AskLines(
            f"{one_line(owner).upper()} KNOWS", f"{words} How was {owner} told, and by whom?", (Line("How"),)
        )
        self._screen.ask_lines(
            lines, lambda said: self._enter(OwnerTold(owner=owner, how=said[0]), f"{owner} knows it.")
        )

    def _enter(self, event: Event, words: str) -> None:
        self._screen.entered(self._screen.session.post(event), words)


# ---------------------------------------------------------------- what is asked


def what(state: CaseState, machine: Machine, at: datetime) -> ChooseOne:
    """What there is to enter of tags and absent owners; last, of those who are at work here `at` this time."""
    from diag.case.log.owners import at_work

    me = state.person.name
    rows: list[Row] = []
    here: list[Row] = []
    for owner in dict.fromkeys(one.owner for one in state.to_be_told):
        rows.append(Row(f"{TOLD} {owner}", f"{owner} has been told what was taken off"))
    for tag in state.tags:
        if same_name(tag.person, me):
            rows.append(Row(f"{DOWN} {tag.point}", f"my danger tag{_at(machine, tag.point)} is down"))
    for owner in owners(state):
        if not same_name(owner, me):
            beside = _listed(machine, left_by(state, owner))
            seen = at_work(state, owner, at)
            if seen is not None:
                beside = f"entered something at {seen.at.astimezone():%H:%M}"
            (rows if seen is None else here).append(Row(f"{ABSENT} {owner}", f"{owner} is absent", beside))
    rows += [Row(FOUND, "a danger tag hangs at this machine"), *here]
    return ChooseOne("TAGS, AND WHAT SOMEBODY ELSE LEFT ON", tuple(rows), digits=True, marks=False)


def owners(state: CaseState) -> tuple[str, ...]:
    """Everybody whose lock is on or whose tag stands."""
    found = {folded(name): name for name in (*(who for _, who in state.locks), *(tag.person for tag in state.tags))}
    return tuple(sorted(found.values()))


def left_by(state: CaseState, owner: str) -> tuple[Left, ...]:
    """The locks and tags of one owner, in the order in which they stand."""
    locks = tuple(("lock", point) for point, who in state.locks if same_name(who, owner))
    return (*locks, *(("tag", tag.point) for tag in state.tags if same_name(tag.person, owner)))


def where(machine: Machine) -> ChooseOne:
    """Where the tag hangs."""
    rows = [Row(p.id, p.title, p.where) for p in machine.points.values()]
    rows.append(Row(ELSEWHERE, "somewhere else", "it counts for every point"))
    return ChooseOne("WHERE DOES THE DANGER TAG HANG?", tuple(rows), digits=True, marks=False)


def tag_lines(place: str) -> AskLines:
    """What is on the tag; `place`: the isolation point that it hangs on, empty for elsewhere."""
    about = (
        "Leave it where it is. Only the person named on it takes it down. Until then that point is not switched on, "
        "and nothing is reset."
    )
    first = () if place else (Line("Where", example="where it hangs"),)
    name = Line("Name on it", example="as it is written, or: not readable")
    return AskLines(f"DANGER TAG{f' · {place}' if place else ''}", about, (*first, Line("It says", empty=True), name))


def procedure(machine: Machine, owner: str, things: Sequence[Left], me: Person) -> AskLines:
    """What the employer's procedure for an absent owner asks for, in its order."""
    about = (
        f"{owner}: {_listed(machine, things)}. Only by the employer's own procedure for an absent owner: this records "
        "it and grants nothing."
    )
    lines = (
        Line("Directed by", example="who, for the employer: a name"),
        Line("Not on site", example="how that was verified, and by whom"),
        Line("Tried to reach", example="how, and when"),
        Line("Taken off by", value=me.name if me.authorised else "", example="a name that was said here"),
        Line("All clear", example="who checked the area, and saw it"),
    )
    return AskLines("ABSENT OWNER", about, lines)


def is_off(machine: Machine, owner: str, things: Sequence[Left]) -> ChooseOne:
    """Before it is taken out of the record."""
    rows = (
        Row("on", "it is still on: leave the record as it is"),
        Row("off", "it is off: enter it", "no zone on that point is proved any more"),
    )
    title = f"IS IT OFF? {_listed(machine, things)} of {one_line(owner)}"
    return ChooseOne(title, rows, digits=True, marks=False, bare=True)


# ---------------------------------------------------------------- who comes back


def read_first(told: Sequence[tuple[str, str]], person: Person) -> ChooseOne | None:
    """What somebody who sits down has to know before anything else; None where that is nothing. `told`: owners, and
    what was taken off in words. A row's id is the name to go on with; one with `READ` has read it."""
    own, begun = folded(person.name), folded(person.name) + " "
    meant = next((owner for owner, _ in told if folded(owner) == own), "")
    meant = meant or next((owner for owner, _ in told if folded(owner).startswith(begun)), "")
    if not meant or not person.named:
        return None
    words = " ".join(text for owner, text in told if same_name(owner, meant))
    rows = [Row(meant, f"I am {meant}, and have read it")]
    if folded(meant) != own:
        rows.append(Row("", f"I am somebody else: {person.name}"))
    about = f"{words} No proof that stood on it counts any more. Speak to whoever did it before you work here."
    return ChooseOne("READ THIS FIRST", tuple(rows), digits=True, about=about, marks=False)


# ---------------------------------------------------------------- words


def stands(state: CaseState) -> str:
    """What the banner says of it, in a few words; empty where nothing stands."""
    if state.tags:
        return f"DANGER TAG: {one_line(state.tags[0].person)}"
    if state.to_be_told:
        return f"to be told: {one_line(state.to_be_told[0].owner)}"
    return ""


def _listed(machine: Machine, things: Iterable[Left]) -> str:
    words = {"lock": "lock", "tag": "danger tag"}
    return listed(f"{words[kind]}{_at(machine, point)}" for kind, point in things)


def _at(machine: Machine, point: str) -> str:
    return f" at {one_line(machine.points[point].title)}" if point in machine.points else ""
