"""Words for physical work, in texts that the gate does not see.

A tree's `do`, a reset and a question are for outside only, and so is what a check or a remedy with access outside says.
A text like "open the cover" there leads people past the gate. The list is English only, and only as good as a list of
words can be: the rule warns, and the proof trusts the declared access.
"""

from __future__ import annotations

import re
from typing import Final

_VERB: Final = (
    r"(?:re)?open|remove|reach|unscrew|unplug|undo|unbolt|unlock|dismantle|disassemble|disconnect|loosen|unwire|"
    r"take (?:\w+ ){0,3}?(?:off|out|apart)|pull (?:\w+ ){0,3}?(?:off|out)|lift (?:\w+ ){0,3}?off|bridge|jumper|bypass|"
    r"put (?:your |a )?(?:hand|arm)"
)
_HOUSING: Final = (
    r"cabinets?|enclosures?|covers?|doors?|box(?:es)?|housings?|panels?|flaps?|guards?|lids?|fuses?|terminals?|"
    r"wires?|plugs?|connectors?|modules?|cables?"
)
_ANYWHERE: Final = re.compile(rf"\b(?:{_VERB})\b", re.IGNORECASE)
_STATE_WORD: Final = re.compile(
    r"\b(?:is|are|was|were|be|stands?|stood|left|found|kept|stays?|or|it|half|all|everything|not|fully|wide) $",
    re.IGNORECASE,
)
_ASKED: Final = re.compile(
    rf"(?:^|[.:;,?] |\b(?:and|then|you|to|please|after|first|when|if you) )((?:{_VERB}))\b", re.IGNORECASE
)
_BEGINS: Final = r"(?:^|[.:;,] |\b(?:and|then|to|please|first) )"
"""Where an instruction begins: at the start, behind a sign, or behind one of these words."""
_AT_HOUSING: Final = re.compile(rf"{_BEGINS}((?:{_VERB})(?: [\w-]+){{0,4}}? (?:{_HOUSING}))\b", re.IGNORECASE)
_PART: Final = (
    r"(?:[\w-]+ ){0,3}(?:fuses?|terminals?|wires?|wiring|cables?|connections?|joints?|contactors?|relays?|breakers?|"
    r"coils?|modules?|amplifiers?|drives?|motors?|belts?|bearings?|couplings?|brakes?|chains?|gears?|rollers?|pulleys?|"
    r"shafts?|sprockets?)"
)
_EXCHANGE: Final = r"replace|change|renew|exchange|swap|pull|tighten|retighten|loosen|solder|crimp|rewire|grease"
_WORKS: Final = re.compile(rf"{_BEGINS}((?:{_EXCHANGE}|measure) {_PART})\b", re.IGNORECASE)
_MENDS: Final = re.compile(
    rf"{_BEGINS}((?:{_EXCHANGE}|fit|refit|seat|reseat) {_PART}|(?:re)?tighten|loosen|solder|crimp|unwire|disconnect|"
    r"reconnect|unscrew|bridge|jumper|bypass|defeat|short out)\b",
    re.IGNORECASE,
)
_INSIDE: Final = re.compile(
    r"\b(?:inside|in the (?:cabinet|enclosure|box|housing)|behind (?:the|a) (?:cover|door|panel|guard|flap))\b",
    re.IGNORECASE,
)
_TRIED: Final = re.compile(
    r"\b(?:press(?:ed|ing)?(?! in\b)|asked to|starts?|started|runs?|running|turns?|turning|moves?|moving|spins?|"
    r"rotates?|rings?|hums?|flows?|blows?|comes? (?:on|back|up|out)|picks? up|(?:goes?|go) (?:in|out|up|down|on))\b",
    re.IGNORECASE,
)
_UNTRIED: Final = re.compile(r"\bby hand\b|\bbefore\b|\bwhen it stopped\b|\bdid\b|\bwas\b", re.IGNORECASE)
_CHARGED: Final = re.compile(
    r"\bcapacitors?\b|\bd\.?c\.?[ -](?:bus|link)\b|\bbatter(?:y|ies)\b|\buninterruptible\b", re.IGNORECASE
)
_SEEN_THROUGH: Final = re.compile(r"window|glass|from (?:the )?outside|as seen|without opening", re.IGNORECASE)


def told(text: str) -> str:
    """The first word of physical work in an instruction; empty when there is none. "is open" tells of a state."""
    for found in _ANYWHERE.finditer(text):
        if not _STATE_WORD.search(text[: found.start()]) and not _is_adjective(text, found):
            return found[0]
    return ""


def _is_adjective(text: str, found: re.Match[str]) -> bool:
    """`the open guard`: an article right before it."""
    return found[0].lower() == "open" and bool(
        re.search(r"\b(?:the|an|any|each) $", text[: found.start()], re.IGNORECASE)
    )


def asked(text: str) -> str:
    """The first word of physical work that a question tells a person to do; "Is the guard open?" only asks."""
    return _first(_ASKED, text)


def at_work(text: str) -> str:
    """Work that an action from outside asks for: at a housing or its wires (opening a valve is not), or on what an
    enclosure or a guard protects hands from: `Replace the fuse`, `tighten the belt`. Having it done by others does not
    count: `Have the fuse renewed`."""
    return _first(_AT_HOUSING, text) or _first(_WORKS, text)


def mends(text: str) -> str:
    """What an instruction asks for beyond looking and measuring: `tighten`, `Replace the relay`."""
    return _first(_MENDS, text)


def _first(work: re.Pattern[str], text: str) -> str:
    found = work.search(text)
    return found[1] if found else ""


def inside(text: str) -> str:
    """Words of a place behind an enclosure; empty when it is seen through a window."""
    found = _INSIDE.search(text)
    return "" if found is None or _SEEN_THROUGH.search(text) else found[0]


def charged(title: str) -> str:
    """A word by which stored energy is electrical: `D.c. bus of the drive`; empty for a spring or a raised load."""
    found = _CHARGED.search(title)
    return found[0] if found else ""


def tried(text: str) -> str:
    """The first word by which a question asks what the machine does when it is tried: `When START is pressed, does the
    drum turn?`. Empty for what is moved by hand, for what was before, and for what only stands there."""
    found = _TRIED.search(text)
    return found[0] if found and not _UNTRIED.search(text) else ""
