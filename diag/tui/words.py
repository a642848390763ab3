"""Numbers and names as they are written on a screen."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime, timedelta

from diag.case.words import answered
from diag.machine.model import Access, Role

ACCESS = {
    Access.OUTSIDE: "○ outside",
    Access.DEAD: "■ locked out",
    Access.LIVE: "◆ live work",
}
"""Access in words, with the sign that the safety banner uses for it."""

UNITS = {"degC": "°C", "ohm": "Ω", "kohm": "kΩ", "Mohm": "MΩ"}

SHORTEST = 12
"""Characters that a title keeps, however long what was found is."""

FULL, PARTS = "█", " ▏▎▍▌▋▊▉"


def clean(text: str) -> str:
    """One line of it, without what steers a terminal. Text comes from files and persons, and may hold anything."""
    return " ".join("".join(c if unicodedata.category(c)[0] != "C" else " " for c in text).split())


def plain(name: str) -> str:
    """A name of the files as words: `back-at-once` is `back at once`."""
    return clean(name.replace("-", " "))


def cut(text: str, width: int) -> str:
    """At most `width` characters of it, the last an ellipsis where something was left out."""
    if len(text) <= width:
        return text
    return text[: max(width - 1, 0)].rstrip() + "…" if width > 0 else ""


def told_apart(texts: Sequence[str], width: int) -> list[str]:
    """Each text in at most `width` characters; those that would look alike lose their middle, not their end."""
    short = [cut(text, width) for text in texts]
    return [squeezed(t, width) if t != s and short.count(s) > 1 else s for t, s in zip(texts, short, strict=True)]


def squeezed(text: str, width: int) -> str:
    """At most `width` characters of it, with an ellipsis in the place of its middle."""
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


def percent(share: float) -> str:
    """Whole percents in four characters; `<1%` and `>99%` where rounding would say never or surely."""
    whole = round(share * 100)
    if whole == 0 and share > 0:
        return " <1%"
    if whole == 100 and share < 1:
        return ">99%"
    return f"{whole:3d}%"


def found(title: str, state: str, said: str, width: int, after: str = "") -> str:
    """A fact in one line of that width: its title gives way, what was found does not."""
    shows = plain(state)
    if said and said != state:
        shows = f"{clean(said)} ({shows})"
    tail = shows + (f" · {after}" if after else "")
    return cut(answered(cut(clean(title), max(width - len(tail) - 2, SHORTEST)), tail), width)


def bar(share: float, width: int) -> str:
    """A share of 1 as a bar, by eighths of a character; never empty above 0."""
    eighths = max(round(min(max(share, 0.0), 1.0) * width * 8), int(share > 0))
    whole, part = divmod(eighths, 8)
    return (FULL * whole + PARTS[part].strip()).ljust(width)


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
    """The same as one to four signs, `+` for and `−` against; `·` when it says nothing."""
    size = abs(decibans)
    if size < SAYS_NOTHING:
        return "·"
    return ("+" if decibans > 0 else "−") * min(1 + int(size // 5), 4)


def clock(at: datetime) -> str:
    """The time of day where this computer stands."""
    return at.astimezone().strftime("%H:%M")


def day(at: datetime) -> str:
    """Day and time where this computer stands."""
    return at.astimezone().strftime("%d %b %H:%M")


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
    """What is left until a time, as minutes and seconds; empty when it has passed."""
    seconds = int((until - now).total_seconds())
    return f"{seconds // 60}:{seconds % 60:02d}" if seconds > 0 else ""


def now() -> datetime:
    return datetime.now(UTC)


def roles(who: Iterable[Role]) -> str:
    """`anyone`, or the roles with `or` between."""
    names = [role.value for role in who]
    if len(names) == len(Role):
        return "anyone"
    return " or ".join(names) if names else "nobody"


def unit(name: str) -> str:
    """A unit with its sign where it has one."""
    return UNITS.get(name, clean(name))
