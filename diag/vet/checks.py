"""Rules about checks: does each tell something, say what it needs, and ask for no more than it must?"""

from __future__ import annotations

from collections.abc import Iterator

from diag.machine.model import Access, Energy
from diag.vet import words
from diag.vet.table import Finding, Vetted, joined, rule


@rule(
    "idle-check",
    "warning",
    "It is only never advised; nobody is led astray by it.",
    bad="""
indications:
  rust: {question: Is the grille rusty?, usual: {"no": 9, "yes": 1}}
checks:
  look-rust: {gives: rust, do: Look at the grille, access: outside, minutes: 1}
""",
    good="""
indications:
  rust: {question: Is the grille rusty?, usual: {"no": 9, "yes": 1}}
checks:
  look-rust: {gives: rust, do: Look at the grille, access: outside, minutes: 1}
causes:
  filter-full: {shows: {rust: {"yes": sometimes}}}
""",
)
def idle_check(vetted: Vetted) -> Iterator[Finding]:
    """A written check whose answer is as likely under every cause tells nothing, unless it is a danger sign or a lamp
    test. Say under `shows` which causes it speaks for, or take it out."""
    machine, numbers = vetted.machine, vetted.numbers
    if numbers is None:
        return
    dangers = {id for danger in machine.dangers for id, _ in danger.when} | set(joined(vetted))
    for check in machine.checks.values():
        if not check.implied and all(id in numbers.idle and id not in dangers for id in check.gives):
            named = [c.id for c in machine.causes.values() if any(id in c.shows for id in check.gives)]
            do = f"{named[0]} names it only as it is normally" if named else "name it in 'shows'"
            text = f"'{check.id}' tells nothing: under every cause its answer is as likely; {do}"
            yield Finding(vetted.where(check.place), text)


@rule(
    "bare-check",
    "warning",
    "The lockout holds all the same; only what the person should know first is missing.",
    bad="""
checks:
  measure-drop:
    {gives: motor-wire, do: Measure the drop along the wire, access: live, zone: box, minutes: 5}
""",
    good="""
checks:
  measure-wire: {with: multimeter on continuity, caution: The wheel may still turn.}
""",
)
def bare_check(vetted: Vetted) -> Iterator[Finding]:
    """Work inside says what with, and what to watch out for: whoever opens the enclosure has read it before. Who may do
    it is always said, if only by default: electrician and engineer."""
    for check in vetted.machine.checks.values():
        if check.access is Access.OUTSIDE or check.implied:
            continue
        missing = [name for name, text in (("caution", check.caution), ("with", check.tool)) if not text]
        if missing:
            text = f"'{check.id}' needs access {check.access} and has no {' and no '.join(repr(m) for m in missing)}"
            yield Finding(vetted.where(check.place), text)


@rule(
    "needless-live",
    "warning",
    "Sometimes the live way is the only one that a role may take or the only one in time; then it may stay.",
    bad="""
checks:
  measure-supply-live:
    gives: ready-lamp
    do: Measure across the lamp
    with: multimeter on V a.c., CAT III
    access: live
    zone: box
    who: electrician
    minutes: 4
    caution: Live terminals within reach.
  see-lamp: {gives: ready-lamp, do: Look at the lamp, access: outside, minutes: 1}
""",
    good="""
checks:
  see-lamp: {gives: ready-lamp, do: Look at the lamp, access: outside, minutes: 1}
""",
)
def needless_live(vetted: Vetted) -> Iterator[Finding]:
    """Work on live parts is for what can be found in no other way (29 CFR 1910.333(a)(1), note).
    Where another check gives all of it dead or from outside, without needing more, take the live one out."""
    machine = vetted.machine
    for check in machine.checks.values():
        if check.access is not Access.LIVE:
            continue
        ways = []
        for id in check.gives:
            others = (
                c.id
                for c in machine.checks_for[id]
                if c.access is not Access.LIVE and set(c.who) & set(check.who) and set(c.needs) <= set(check.needs)
            )
            ways.append(next(others, ""))
        if all(ways):
            names = " and ".join(f"'{name}'" for name in dict.fromkeys(ways))
            text = f"'{check.id}' is live work for what {names} finds without; take it out"
            yield Finding(vetted.place("checks", check.id, "access", otherwise=check.place), text)


@rule(
    "wrong-energy",
    "error",
    "What it finds carries no evidence, and the lockout is gone through for nothing.",
    bad="""
checks:
  measure-wire: {access: live}
""",
    good="""
checks:
  measure-wire: {access: dead}
""",
)
def wrong_energy(vetted: Vetted) -> Iterator[Finding]:
    """A look that means something only with the energy off cannot be had on live parts: a meter on ohms would read
    nothing, and might not survive. Make its access dead, or write the energy that it needs."""
    for check in vetted.machine.checks.values():
        if check.access is Access.LIVE and check.energy is Energy.OFF:
            text = f"'{check.id}' means something only with the energy off, and its access is live; make it dead"
            yield Finding(vetted.place("checks", check.id, "access", otherwise=check.place), text)


@rule(
    "live-hands",
    "warning",
    "It goes by words; turning a voltage on for a test is no work at a live part.",
    bad="""
checks:
  measure-supply: {do: Tighten the incoming terminals and measure between them}
""",
    good="""
checks:
  measure-supply: {do: Measure between the two incoming terminals}
""",
)
def live_hands(vetted: Vetted) -> Iterator[Finding]:
    """On live parts one looks and measures, and no more (29 CFR 1910.333(a)(1), note 2, names testing). To
    tighten, bridge, seat or replace something there is work for a remedy or a check with the access dead."""
    for check in vetted.machine.checks.values():
        word = words.mends(check.do) if check.access is Access.LIVE else ""
        if word:
            place = vetted.place("checks", check.id, "do", otherwise=check.place)
            yield Finding(place, f"'{check.id}' has access live and says '{word}'; do that dead")
