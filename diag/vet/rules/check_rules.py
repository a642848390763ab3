"""Rules about checks: does each tell something, say what it needs, and ask for no more than it must?"""

from __future__ import annotations

from collections.abc import Iterator

from diag.machine.model import Access, Energy
from diag.vet.vetted import work_words as words
from diag.vet.vetted.rule import Finding, Vetted, joined, rule


@rule(
    "idle-check",
    "warning",
    "Such a check is simply never advised; it leads nobody astray.",
    bad="""
indications:
  rust: {question: Is the grille rusty?, usual: {"no": 9, "yes": 1}}
checks:
  look-rust: {gives: rust, do: Look at the grille, access: outside, minutes: 1}
""",
    more="""
causes:
  filter-full: {shows: {rust: {"yes": sometimes}}}
""",
)
def idle_check(vetted: Vetted) -> Iterator[Finding]:
    """A check whose answer is equally likely under every cause tells nothing, unless it is a danger sign or a lamp
    test. Say under `shows` which causes it speaks for, or take it out."""
    machine, idle = vetted.machine, vetted.numbers.idle
    dangers = {id for danger in machine.dangers for id, _ in danger.when} | set(joined(vetted))
    for check in machine.checks.values():
        if not check.implied and all(id in idle and id not in dangers for id in check.gives):
            named = [c.id for c in machine.causes.values() if any(id in c.shows for id in check.gives)]
            do = f"'{named[0]}' names only its normal state" if named else "name it in 'shows'"
            text = f"'{check.id}' tells nothing: its answer is equally likely under every cause; {do}"
            yield vetted.finding(check, text)


@rule(
    "bare-check",
    "warning",
    "The lockout holds regardless; what is missing is what the person should know beforehand.",
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
    """A check inside an enclosure names its tool and what to watch out for, so that people have read both before they
    open it. Who may do it is always known: by default an electrician or an engineer."""
    for check in vetted.machine.checks.values():
        if check.access is Access.OUTSIDE or check.implied:
            continue
        missing = [name for name, text in (("caution", check.caution), ("with", check.tool)) if not text]
        if missing:
            text = f"'{check.id}' needs access {check.access} and has no {' and no '.join(repr(m) for m in missing)}"
            yield vetted.finding(check, text)


@rule(
    "needless-live",
    "warning",
    "Sometimes the live check is the only one that a role may do, or the only one that is quick enough; then keep it.",
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
    """Work on live parts is for what can be found in no other way (29 CFR 1910.333(a)(1), note). Where other checks
    give all of it dead or from outside, and need no more, take the live one out."""
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
            text = f"'{check.id}' is live work for what {names} finds without it; take it out"
            yield vetted.finding(check, text, "access")


@rule(
    "wrong-energy",
    "error",
    "What it finds carries no evidence, and people go through the gate for nothing.",
    bad="""
checks:
  measure-wire: {access: live}
""",
    mend=("live", "dead"),
)
def wrong_energy(vetted: Vetted) -> Iterator[Finding]:
    """A check that means something only with the energy off cannot be done on live parts: a meter on ohms would read
    nothing, and might not survive. Make its access dead, or write the energy that it needs."""
    for check in vetted.machine.checks.values():
        if check.access is Access.LIVE and check.energy is Energy.OFF:
            text = f"'{check.id}' means something only with the energy off, and its access is live; make it dead"
            yield vetted.finding(check, text, "access")


@rule(
    "live-hands",
    "warning",
    "The rule goes by words, and some are harmless: to turn a voltage on for a test is not work on a live part.",
    bad="""
checks:
  measure-supply: {do: Tighten the incoming terminals and measure between them}
""",
    mend=("Tighten the incoming terminals and measure between them", "Measure between the two incoming terminals"),
)
def live_hands(vetted: Vetted) -> Iterator[Finding]:
    """On live parts people look and measure, and do no more (29 CFR 1910.333(a)(1), note 2, names testing). Tightening,
    bridging, seating or replacing something there belongs in a remedy or a check with access dead."""
    for check in vetted.machine.checks.values():
        word = words.mends(check.do) if check.access is Access.LIVE else ""
        if word:
            yield vetted.finding(check, f"'{check.id}' has access live and says '{word}'; that needs access dead", "do")
