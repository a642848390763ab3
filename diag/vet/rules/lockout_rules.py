"""Rules about the machine as a whole: can what is dangerous be locked out, and can the file be computed?"""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise

from diag.machine.assets import folded
from diag.machine.model import Access
from diag.vet.vetted import work_words as words
from diag.vet.vetted.rule import Finding, Vetted, rule
from diag.vet.vetted.sample import LEAST


@rule(
    "no-points",
    "error",
    "A person who reads of a hazard must be able to read how to isolate it.",
    bad=f"""
# machine.yaml
{LEAST}
call: {{engineer: Duty engineer}}
hazards: [230 V a.c. in the box]
""",
    more="""
points: {q1: {title: Main switch Q1, where: left side of the box}}
test-points: {q1-out: {title: Outgoing terminals of Q1, expects: 0 V, below: 5 V}}
zones: {box: {title: Box, points: q1, test-points: q1-out}}
""",
)
def no_points(vetted: Vetted) -> Iterator[Finding]:
    """Hazards are named but no isolation point, so nothing could be switched off and locked. Write `points`, and the
    `zones` that they make safe."""
    if vetted.machine.hazards and not vetted.machine.points:
        head = vetted.written.head
        place = head.key_place("hazards") if head is not None else vetted.top
        yield Finding(place, "hazards are named but no isolation point; write 'points', and 'zones' that name them")


@rule(
    "unzoned",
    "error",
    "Something that can hurt was forgotten in a zone, and a zone that leaves it on is called dead.",
    bad="""
points:
  fan-2-switch: {title: Switch of fan 2, where: beside the door, foreign: true}
""",
    more="""
zones:
  box: {points: [q1, fan-2-switch]}
""",
)
def unzoned(vetted: Vetted) -> Iterator[Finding]:
    """An isolation point that no zone names is never locked; in the same way stored energy is never released, and a
    test point never tested. Name it in every zone that it makes safe."""
    machine = vetted.machine
    zones = machine.zones.values()
    for section, ids, named, never in (
        ("points", machine.points, {id for zone in zones for id in zone.points}, "locked"),
        ("stored", machine.stored, {id for zone in zones for id in zone.stored}, "released"),
        ("test-points", machine.test_points, {id for zone in zones for id in zone.test_points}, "tested"),
    ):
        for id in ids:
            if id not in named:
                text = f"no zone names '{id}', so it is never {never}; name it in the zones that need it"
                yield Finding(vetted.written.maps[section][id].key_place(), text)


@rule(
    "not-electrical",
    "error",
    "Such a zone is called dead without a meter, and somebody may reach into a voltage there.",
    bad="""
zones:
  box: {electrical: false}
""",
    mend=("electrical: false", "electrical: true"),
)
def not_electrical(vetted: Vetted) -> Iterator[Finding]:
    """A zone with `electrical: false` is proved dead without a meter, so nothing electrical may lead into it. Where one
    of its isolation points cuts electrical power, its stored energy is measured, or a check there is done on live
    parts, a qualified person has to test that it is dead (29 CFR 1910.333(b)(2)(iv)(B)). Take 'electrical: false' out
    and name a test point; or, where a switch stands for air or water, say of that isolation point that it is not
    electrical."""
    machine = vetted.machine
    for id, zone in machine.zones.items():
        found = [f"its isolation point '{point}' is" for point in zone.points if machine.points[point].electrical]
        found += [f"its stored energy '{stored}' is" for stored in zone.stored if machine.stored[stored].test_points]
        for check in machine.checks.values():
            if check.zone == id and check.access is Access.LIVE:
                found.append(f"the check '{check.id}' is done live in it")
        if found and not zone.electrical:
            text = f"'{id}' says that it is not electrical, but {found[0]}; take that out, and name a test point"
            yield Finding(vetted.written.maps["zones"][id].place("electrical"), text)


@rule(
    "untested-store",
    "error",
    "What a capacitor holds may kill, and a wait alone shows nobody that it is gone.",
    bad="""
stored:
  link: {title: D.c. link of the drive, release: Wait as the label on the drive says, wait: 5}
test-points:
  link-terminals: {title: Terminals of the d.c. link, expects: below 50 V, below: 50 V}
zones:
  box: {stored: [wheel, link], test-points: [q1-out, link-terminals]}
""",
    mend=("wait: 5", "wait: 5, test-points: link-terminals"),
)
def untested_store(vetted: Vetted) -> Iterator[Finding]:
    """Stored electrical energy is released, and then a qualified person tests that it is gone (29 CFR
    1910.333(b)(2)(ii)(C) and (iv)(B)). So a store such as a d.c. link, capacitors or a battery names the test points
    at which a meter shows it, a gauge or a pointer not counted, and each zone that names the store tests at one of
    them."""
    machine = vetted.machine
    metered = {id for id, point in machine.test_points.items() if point.electrical}
    for id, stored in machine.stored.items():
        word = words.charged(stored.title)
        if stored.test_points and not metered.intersection(stored.test_points):
            text = f"no meter proves '{stored.test_points[0]}', where '{id}' is measured; name an electrical test point"
            yield Finding(vetted.written.maps["stored"][id].place("test-points"), text)
        elif word and not stored.test_points:
            text = f"'{id}' is electrical ('{word}'), and nothing says where it is measured; write its 'test-points'"
            yield Finding(vetted.written.maps["stored"][id].key_place(), text)
    for id, zone in machine.zones.items():
        for stored in (machine.stored[name] for name in zone.stored):
            measured = [point for point in stored.test_points if point in metered]
            if measured and not set(measured) & set(zone.test_points):
                near = " or ".join(f"'{point}'" for point in measured)
                text = f"'{id}' is not tested at its stored energy '{stored.id}'; name {near} among its test points"
                yield Finding(vetted.written.maps["zones"][id].place("test-points"), text)


@rule(
    "no-limit",
    "error",
    "Whoever measures there decides alone what is dead, and what was read is not kept.",
    bad="""
test-points:
  q1-in: {title: Incoming terminals of the fan, expects: 0 V}
zones:
  box: {test-points: [q1-out, q1-in]}
""",
    mend=("expects: 0 V}", "expects: 0 V, below: 5 V}"),
)
def no_limit(vetted: Vetted) -> Iterator[Finding]:
    """At a test point a qualified person shows with a meter that it is dead (29 CFR 1910.333(b)(2)(iv)(B)), and types
    what the meter reads. `below` says from which voltage on that is a voltage found; without it no value is asked for.
    A point that is a gauge or a pointer says `electrical: false`."""
    for id, point in vetted.machine.test_points.items():
        if point.electrical and point.below is None:
            text = f"'{id}' does not say from which voltage on it is live; write 'below', as in 'below: 5 V'"
            yield Finding(vetted.written.maps["test-points"][id].key_place(), text)


def _summed_up(questions: int, answers: int) -> str:
    """Questions with so many answers each, and one more that follows them all."""
    usual = ", ".join(f"a{n}: 1" for n in range(answers))
    asked = [f"  w{n}: {{question: W{n}?, usual: {{{usual}}}}}" for n in range(questions)]
    same = [", ".join(f"w{n}: a{answer}" for n in range(questions)) for answer in range(answers)]
    follows = [f"      - {{when: {{{when}}}, shows: {('low', 'high')[n % 2]}}}" for n, when in enumerate(same)]
    last = ["  sum:", "    question: And all of them?", "    usual: {low: 1, high: 1}", "    follows:"]
    return "\n".join(["indications:", *asked, *last, *follows])


@rule(
    "too-entangled",
    "error",
    "No case can be opened for a machine whose figures cannot be computed.",
    bad=_summed_up(questions=5, answers=10),
    good=_summed_up(questions=2, answers=3),
)
def too_entangled(vetted: Vetted) -> Iterator[Finding]:
    """Where indications follow one another, every combination of states that they can show together is summed over
    exactly; beyond some tens of thousands of combinations that takes too long. Let an indication follow fewer others,
    or put one in between that sums them up."""
    from diag.reason.table.compile import CannotCompile
    from diag.vet.vetted.numbers import numbers

    try:
        numbers(vetted.machine)
    except CannotCompile as error:
        first = vetted.machine.indications[error.indications[0]].place if error.indications else None
        yield Finding(first or vetted.top, str(error).removeprefix(f"{vetted.machine.id}: "))


@rule(
    "asset-order",
    "info",
    "Every asset is found all the same; one may be looked for in the wrong place of a long list.",
    bad="""
assets: [fan 2, fan 10, fan 1]
""",
    mend=("fan 2, fan 10, fan 1", "fan 1, fan 2, fan 10"),
)
def asset_order(vetted: Vetted) -> Iterator[Finding]:
    """Assets are listed as the file names them, so name them in the order of their numbers."""
    assets, head = vetted.machine.assets, vetted.written.head
    wrong = next((n for n, pair in enumerate(pairwise(map(_counted, assets)), 1) if pair[0] > pair[1]), None)
    if wrong is not None and head is not None:
        text = f"'{assets[wrong]}' stands behind '{assets[wrong - 1]}'; name the assets in the order of their numbers"
        yield Finding(head.place("assets", wrong), text)


def _counted(asset: str) -> list[tuple[int, str]]:
    """The words of an asset's name so that 10 comes after 2."""
    return [(int(word), "") if word.isdecimal() else (0, word) for word in re.split(r"(\d+)", folded(asset))]


@rule(
    "changed-since-approval",
    "warning",
    "The machine can be used as before; every screen and sheet says that nobody has approved it as it stands.",
    bad="""
approval: {approved: {by: maintenance training, on: 2026-11-25, digest: 0123456789abcdef}}
""",
    mend=("{approved: {by: maintenance training, on: 2026-11-25, digest: 0123456789abcdef}}", "trial"),
)
def changed_since_approval(vetted: Vetted) -> Iterator[Finding]:
    """An approval holds for what the files said on that day. Since then something in them, or in a module that they
    use, has changed its meaning. Have it reviewed and approved again (diag approve NAME --by WORDS), or say that the
    machine is on trial (diag approve NAME --trial)."""
    approval, head = vetted.machine.approval, vetted.written.head
    if approval.changed and head is not None:
        text = (
            f"the files have changed since {approval.by} approved them on {approval.on}: the digest was "
            f"{approval.digest} and is {approval.now}; approve them again with diag approve, or write 'trial'"
        )
        yield Finding(head.place("approval"), text)
