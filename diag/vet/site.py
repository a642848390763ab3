"""Rules about the machine as a whole: can what is dangerous be locked out, and can the file be reckoned with?"""

from __future__ import annotations

from collections.abc import Iterator

from diag.vet.sample import LEAST
from diag.vet.table import Finding, Vetted, rule


@rule(
    "no-points",
    "error",
    "Whoever reads of a hazard must be able to read what takes it away.",
    bad=f"""
# machine.yaml
{LEAST}
call: {{engineer: Duty engineer}}
hazards: [230 V a.c. in the box]
""",
    good=f"""
# machine.yaml
{LEAST}
call: {{engineer: Duty engineer}}
hazards: [230 V a.c. in the box]
points: {{q1: {{title: Main switch Q1, where: left side of the box}}}}
test-points: {{q1-out: {{title: Outgoing terminals of Q1, expects: 0 V}}}}
zones: {{box: {{title: Box, points: q1, test-points: q1-out}}}}
""",
)
def no_points(vetted: Vetted) -> Iterator[Finding]:
    """Hazards are named, and no isolation point: nothing could be switched off and locked. Write `points`, and the
    `zones` that they make safe."""
    if vetted.machine.hazards and not vetted.machine.points:
        head = vetted.written.head
        place = head.key_place("hazards") if head is not None else vetted.top
        yield Finding(place, "hazards are named and no isolation point; write 'points', and 'zones' that name them")


@rule(
    "unzoned",
    "warning",
    "No work is offered there, so nobody is in danger by this file; something is forgotten all the same.",
    bad="""
points:
  fan-2-switch: {title: Switch of fan 2, where: beside the door, foreign: true}
""",
    good="""
points:
  fan-2-switch: {title: Switch of fan 2, where: beside the door, foreign: true}
zones:
  box: {points: [q1, fan-2-switch]}
""",
)
def unzoned(vetted: Vetted) -> Iterator[Finding]:
    """An isolation point that no zone names is never locked, stored energy never released, a test point never tested.
    Name it in every zone that it makes safe."""
    machine = vetted.machine
    zones = machine.zones.values()
    for section, ids, named, never in (
        ("points", machine.points, {id for zone in zones for id in zone.points}, "locked"),
        ("stored", machine.stored, {id for zone in zones for id in zone.stored}, "released"),
        ("test-points", machine.test_points, {id for zone in zones for id in zone.test_points}, "tested"),
    ):
        for id in ids:
            if id not in named:
                text = f"no zone names '{id}', so that it is never {never}; name it in the zones that need it"
                yield Finding(vetted.place(section, id), text)


@rule(
    "too-entangled",
    "error",
    "A machine that cannot be reckoned with opens no case.",
    bad="""
indications:
  w1: {question: W1?, usual: {a1: 1, a2: 1, a3: 1, a4: 1, a5: 1, a6: 1, a7: 1, a8: 1, a9: 1, a10: 1}}
  w2: {question: W2?, usual: {a1: 1, a2: 1, a3: 1, a4: 1, a5: 1, a6: 1, a7: 1, a8: 1, a9: 1, a10: 1}}
  w3: {question: W3?, usual: {a1: 1, a2: 1, a3: 1, a4: 1, a5: 1, a6: 1, a7: 1, a8: 1, a9: 1, a10: 1}}
  w4: {question: W4?, usual: {a1: 1, a2: 1, a3: 1, a4: 1, a5: 1, a6: 1, a7: 1, a8: 1, a9: 1, a10: 1}}
  w5: {question: W5?, usual: {a1: 1, a2: 1, a3: 1, a4: 1, a5: 1, a6: 1, a7: 1, a8: 1, a9: 1, a10: 1}}
  sum:
    question: And all of them?
    usual: {low: 1, high: 1}
    follows:
      - {when: {w1: a1, w2: a1, w3: a1, w4: a1, w5: a1}, shows: low}
      - {when: {w1: a2, w2: a2, w3: a2, w4: a2, w5: a2}, shows: high}
      - {when: {w1: a3, w2: a3, w3: a3, w4: a3, w5: a3}, shows: low}
      - {when: {w1: a4, w2: a4, w3: a4, w4: a4, w5: a4}, shows: high}
      - {when: {w1: a5, w2: a5, w3: a5, w4: a5, w5: a5}, shows: low}
      - {when: {w1: a6, w2: a6, w3: a6, w4: a6, w5: a6}, shows: high}
      - {when: {w1: a7, w2: a7, w3: a7, w4: a7, w5: a7}, shows: low}
      - {when: {w1: a8, w2: a8, w3: a8, w4: a8, w5: a8}, shows: high}
""",
    good="""
indications:
  w1: {question: W1?, usual: {a1: 1, a2: 1, a3: 1}}
  w2: {question: W2?, usual: {a1: 1, a2: 1, a3: 1}}
  sum:
    question: And both?
    usual: {low: 1, high: 1}
    follows:
      - {when: {w1: a1, w2: a1}, shows: low}
      - {when: {w1: a2, w2: a2}, shows: high}
""",
)
def too_entangled(vetted: Vetted) -> Iterator[Finding]:
    """What follows what is summed over exactly, over all that its drivers can show together; beyond some tens of
    thousands that takes too long. Let an indication follow fewer others, or put one that sums them up between."""
    if vetted.numbers is None:
        from diag.reason.compile import CannotCompile, compile

        try:
            compile(vetted.machine)
        except CannotCompile as error:
            first = vetted.machine.indications[error.indications[0]].place if error.indications else None
            yield Finding(vetted.where(first), str(error).removeprefix(f"{vetted.machine.id}: "))


@rule(
    "changed-since-approval",
    "warning",
    "The machine can be used as before; every screen and sheet says that nobody approved it as it stands.",
    bad="""
standing: {approved: {by: maintenance training, on: 2026-11-25, digest: 0123456789abcdef}}
""",
    good="""
standing: trial
""",
)
def changed_since_approval(vetted: Vetted) -> Iterator[Finding]:
    """An approval holds for what the files said on its day. Something in them, or in a module that they use, says
    something else now. Have it looked through and approved again (diag approve NAME --by WORDS), or say that it is on
    trial (diag approve NAME --trial)."""
    standing, head = vetted.machine.standing, vetted.written.head
    if standing.changed and head is not None:
        text = (
            f"the files have changed since {standing.by} approved them on {standing.on}: the digest was "
            f"{standing.digest} and is {standing.now}; approve them again with diag approve, or write 'trial'"
        )
        yield Finding(head.place("standing"), text)
