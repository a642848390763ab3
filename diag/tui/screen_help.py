"""The help of every screen, as data: what the screen is for, its keys from the key tables, and what the signs mean."""

from __future__ import annotations

from dataclasses import dataclass

from diag.machine.model import Kind
from diag.tui.looks.signs import CANNOT_TELL, CLOSED, DARK, FLASH_ON, HIGH, LIT, OPEN, TRIPPED, UNSEEN


@dataclass(frozen=True, slots=True)
class Help:
    """A title, a few plain sentences, and pairs of sign and meaning."""

    title: str
    about: tuple[str, ...]
    signs: tuple[tuple[str, str], ...] = ()


SITE = "The site's own lockout procedure, local codes, the machine's labels and licensed practice come first."

PANEL_SIGNS = (
    (UNSEEN[Kind.LAMP], "a lamp that nobody has looked at yet"),
    (LIT, "lit"),
    (DARK, "dark"),
    (FLASH_ON, "flashing; a digit beside it counts the flashes, ~ is flicker, / two colours in turn"),
    (CLOSED + " " + OPEN, "contact closed or as it should be; open or not as it should be"),
    (HIGH, "contact that closes badly: high resistance"),
    (TRIPPED, "a protective device has operated"),
    (CANNOT_TELL, "nobody could tell"),
)

ACCESS_SIGNS = (
    ("○", "from outside, everything closed"),
    ("■", "inside, locked out and proved dead"),
    ("◆", "inside and live, under the site's permit, by a qualified person"),
)

HOME = Help(
    "Find the machine",
    (
        "Type a few letters of the machine's name or place; the list narrows as you type.",
        "Cases that were left open stand above the machines. Enter opens what is marked.",
        SITE,
    ),
)

PAGES = Help(
    "The written pages",
    ("Questions and answers, what to do when something is wrong, the keys, and how to write a machine's file.",),
)

WHO = Help(
    "Who is at the machine",
    (
        "Your name stands beside everything that you enter. Your role decides what is offered to you.",
        "You say yourself whether you are authorised and qualified, apart from your role; the site decides who is.",
        "Your name is remembered at this terminal, so that Enter is enough next time.",
    ),
)

CASE = Help(
    "The case",
    (
        "Mark what the machine shows: a digit answers what the strip above the footer names. "
        "That is the next thing to do, until you walk over the panel with the arrows: then it is what you walk to.",
        "Readings and display codes are typed: Enter, the value as the meter shows it (23.9, 23,9 V, 1k2), Enter. "
        "A code may be typed without the first Enter; a letter that is also a key waits a moment for the rest of it.",
        "You may answer in any order. Everything can be taken back, and everything is stored as you enter it.",
        "Signs in For and against: + speaks for the cause, − against it; more signs speak more strongly.",
        SITE,
    ),
    PANEL_SIGNS + ACCESS_SIGNS,
)

GATE = Help(
    "Lockout",
    (
        "Each step is confirmed by the person who did it, with the time. Enter confirms the step that is marked.",
        "A finding (voltage, a meter that does not prove, a movement) stops the zone at once.",
        "Stored energy is confirmed as released when its label's wait is over, not before. The countdown alone permits "
        "nothing: the label first, then the meter.",
        "This records what people confirm. It sees no switch, no lock and no voltage.",
        SITE,
    ),
)

FINISH = Help(
    "Finish",
    (
        "Cured: the proof of the remedy was seen after it was done. Running: it runs, the cause was not found. "
        "Handed over: somebody else goes on; say who.",
        "Locks that are on stay on, and the sheet says whose they are.",
    ),
)

CHOOSE = Help("Choose from a list", ("Type to narrow the list. Up and down move, Enter takes, Escape leaves it.",))

ASK = Help(
    "Type an answer", ("Enter takes it; Escape leaves everything as it was. An error loses nothing that you typed.",)
)

RESET = Help(
    "Reset",
    (
        "A reset wipes out what the machine shows, so note that first. "
        "Resets are counted, and the limit of the machine file holds.",
        "After a fuse or a breaker has operated there is no reset until the cause is found.",
    ),
)

ABOUT = Help("In full", ("All that the machine file says about this. Escape closes it.",), ACCESS_SIGNS)

SEGMENTS = Help(
    "Draw what the display shows",
    (
        "Make each digit of the drawing look like the display: type a figure, then light or darken single segments. "
        "The small drawing names them. A click on a segment does the same.",
        "Draw what you see, not what it should be. A half-lit character tells more than a guess.",
        "Below stands what it may be, in the order of what is known so far. "
        "Only what was seen is stored; the order is worked out again with each fact.",
        "A display of one digit that shows its code in steps: begin anywhere, and enter each step as it comes, "
        "the dark gap too.",
    ),
    (
        ("█ ┄", "a segment that is lit; one that is dark"),
        ("?", "a digit that could not be read; in a code, any one character"),
        ("[abg]", "segments that are lit but make no character"),
        ("▲", "the digit that the keys act on"),
    ),
)

TAPPING = Help(
    "Tap along with a lamp",
    (
        "Tap once each time the lamp lights, and go on over its pauses: the number of flashes and the length of the "
        "pause tell the states apart. A missed or doubled tap does no harm.",
        "The bars show how well the taps fit each state that the file gives this lamp. They do not say how likely "
        "the state is; the other facts are weighed with them after Enter.",
        "Where two states differ only in how long they light, hold instead: j when it lights, k when it goes "
        "dark, or the mouse pressed while it is lit.",
        "Tap the key and do not hold it down: a key that is held down repeats by itself.",
    ),
    (("┃", "a tap, on the line of the last six seconds; █ is a press"), *PANEL_SIGNS[1:4]),
)
