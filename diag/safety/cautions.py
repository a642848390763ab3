"""The standing cautions, in plain words, for the gate, the handover sheet and the README. Each names its source."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Caution:
    """One thing to keep in mind, and where it comes from."""

    text: str
    source: str


SITE_FIRST = Caution(
    "Not a lockout procedure: the site's own, local codes, the machine's labels and licensed practice come first.",
    "29 CFR 1910.147(c)(4)",
)
WORD_ONLY = Caution(
    "The program knows only what people confirm. It sees no switch, no lock and no voltage.",
    "common practice",
)
CONTROLS = Caution(
    "Push buttons, selectors and interlocks do not isolate.",
    "29 CFR 1910.147(b); 1910.333(b)(2)(ii)(B)",
)
STAYS_LIVE = Caution(
    "With the main switch off, some circuits may stay live, and other machines may feed in.",
    "IEC 60204-1 5.3.5",
)
STORED = Caution(
    "Capacitors, springs, air and raised loads hold energy. Wait as the label says, then test; waiting is no proof.",
    "29 CFR 1910.147(d)(5); IEC 60204-1 6.2.4",
)
PROVE = Caution(
    "Prove the meter on a known source, test every point, then prove it again.",
    "29 CFR 1910.333(b)(2)(iv)(B); HSG85; GS38",
)
OWN_LOCK = Caution(
    "Your own lock on every point, for as long as you work. Nobody takes off anybody else's.",
    "29 CFR 1910.147(e)(3), (f)(3)",
)
EARTHING = Caution(
    "Where the site requires it, earth and short-circuit, and cover live parts nearby. That is not recorded here.",
    "EN 50110-1 6.2",
)
LIVE = Caution(
    "Work live only on what can be measured in no other way, by a qualified person, under the site's permit.",
    "29 CFR 1910.333(a)(1), (c)(2)",
)
RESET = Caution(
    "After a fuse or a breaker has operated, find the cause before you switch on again.",
    "29 CFR 1910.334(b)(2)",
)
OPERATOR = Caution(
    "Operators look, use the normal controls, and call. They open nothing and bypass nothing.",
    "common practice",
)

CAUTIONS = (SITE_FIRST, WORD_ONLY, CONTROLS, STAYS_LIVE, STORED, PROVE, OWN_LOCK, EARTHING, LIVE, RESET, OPERATOR)
"""All of them, the most important first."""

AT_THE_GATE = (SITE_FIRST, CONTROLS, STAYS_LIVE, STORED, PROVE, OWN_LOCK, EARTHING)
"""The cautions for a person who is about to lock out."""
