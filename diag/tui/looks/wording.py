"""Numbers and names as they are written on a screen."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta

from diag.case.phrases import answered
from diag.case.phrases import plain as plain
from diag.machine.model import Access, Role
from diag.text import cut, one_line

ACCESS = {
    Access.OUTSIDE: "○ outside",
    Access.DEAD: "■ locked out",
    Access.LIVE: "◆ live work",
}
"""Access in words, with the sign that the safety banner uses for it."""

UNITS = {"degC": "°C", "ohm": "Ω", "kohm": "kΩ", "Mohm": "MΩ"}

SHORTEST = 12
"""Characters that a title keeps, however long the finding beside it is."""


def told_apart(texts: Sequence[str], width: int) -> list[str]:
    """Each text in at most `width` characters. Texts that would then look alike lose their middle, not their end."""
    short = [cut(text, width) for text in texts]
    return [squeezed(t, width) if t != s and short.count(s) > 1 else s for t, s in zip(texts, short, strict=True)]


def squeezed(text: str, width: int) -> str:
    """The text in at most `width` characters, with an ellipsis in place of its middle."""
    if len(text) <= width or width < 8:
        return cut(text, width)
    tail = (width - 1) * 3 // 5
    end = text[-tail:]
    if text[-tail - 1] != " " and " " in end[: tail // 2]:
        end = end[end.index(" ") :]
    end = end.lstrip()
    return f"{text[: width - 1 - len(end)].rstrip()}…{end}"


def minutes(value: float) -> str:
    """`0.2 min`, `12 min`."""
    return f"{value:.1f} min" if value < 10 and value != round(value) else f"{value:.0f} min"


def found(title: str, state: str, said: str, width: int, after: str = "") -> str:
    """A fact in one line of that width. Where room is short the title is cut, and what was found is not."""
    shows = plain(state)
    if said and said != state:
        shows = f"{one_line(said)} ({shows})"
    tail = shows + (f" · {after}" if after else "")
    return cut(answered(cut(one_line(title), max(width - len(tail) - 2, SHORTEST)), tail), width)


SAYS_NOTHING = 1.0
WEIGHTS = ((5.0, "a little"), (10.0, "clearly"), (15.0, "strongly"))


def weight(decibans: float) -> str:
    """How much a fact speaks for or against a cause, in words. Steps of five decibans, after Jeffreys' scale (1961)."""
    size = abs(decibans)
    if size < SAYS_NOTHING:
        return "says nothing"
    word = next((word for limit, word in WEIGHTS if size < limit), "very strongly")
    return f"{word} {'for' if decibans > 0 else 'against'}"


def marks(decibans: float) -> str:
    """The same as one to four signs: `+` for the cause, `−` against it, `·` when it says nothing."""
    size = abs(decibans)
    if size < SAYS_NOTHING:
        return "·"
    return ("+" if decibans > 0 else "−") * min(1 + int(size // 5), 4)


def clock(at: datetime) -> str:
    """The time of day in this computer's time zone."""
    return at.astimezone().strftime("%H:%M")


def ago(at: datetime, now: datetime) -> str:
    """How long ago, roughly."""
    gone = max(now - at, timedelta(0))
    if gone < timedelta(minutes=1):
        return "just now"
    if gone < timedelta(hours=1):
        return f"{gone.seconds // 60} min ago"
    if gone < timedelta(days=1):
        return f"{gone.seconds // 3600} h ago"
    return f"{gone.days} days ago" if gone.days > 1 else "yesterday"


def left(until: datetime, now: datetime) -> str:
    """The minutes and seconds left until a time; empty when it has passed."""
    seconds = int((until - now).total_seconds())
    return f"{seconds // 60}:{seconds % 60:02d}" if seconds > 0 else ""


def roles(who: Iterable[Role]) -> str:
    """`anyone`, or the roles with `or` between."""
    names = [role.value for role in who]
    if len(names) == len(Role):
        return "anyone"
    return " or ".join(names) if names else "nobody"


def unit(name: str) -> str:
    """A unit with its sign where it has one."""
    return UNITS.get(name, one_line(name))


def reach(role: str, call: Mapping[Role, str]) -> str:
    """A role and how to reach it, from the machine file."""
    try:
        found = call.get(Role(role), "")
    except ValueError:
        return role
    return f"{role}, {found}" if found else role
