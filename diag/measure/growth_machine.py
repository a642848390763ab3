"""Big machines to measure with: as many causes as wanted, written in the machine language, the same for a seed.

A machine is a row of alike stations. Each has a switch, a 24 V supply, a controller with a display, lamps and contacts
that go dark with the supply, and 20 causes; most of these show on the station alone, some on the shared front as well.
Names and numbers mean nothing outside this trial.
"""

from __future__ import annotations

import random
from collections.abc import Iterator

PER_STATION = 20
"""Causes of one station."""
ZONES = 4
"""Cabinets that the stations share."""
OFTEN = ("common", "occasional", "rare")
SURELY = ("always", "usually", "sometimes")

HEAD = """\
format: 1
title: Row of {stations} stations
place: Trial bench
revision: 1
hazards: [Moving parts at every station]
minutes: {{lock: 10, restore: 5, live: 4, call: 90}}
reset-limit: 2
call: {{engineer: Duty engineer, electrician: Shift electrician}}
points:
  main-switch-q1: {{title: Main switch Q1, where: left side of the first cabinet}}
test-points:
  q1-out: {{title: Outgoing terminals of Q1, expects: 0 V, below: 5 V}}
zones:
"""
ZONE = "  cabinet-{z}: {{title: Cabinet {z}, points: [main-switch-q1], test-points: [q1-out]}}\n"
FRONT = """\
indications:
  mains:
    reading: V a.c.
    title: Mains
    nominal: 400
    normal: good
    bands: {absent: "< 40", low: "40 .. 360", good: "360 .. 440", high: "> 440"}
    source: IEC 60204-1 4.3
  ready-lamp: {lamp: white, label: READY, title: Ready lamp, where: front, normal: lit}
  fault-lamp: {lamp: red, label: FAULT, title: Fault lamp, where: front, normal: dark}
  before-stop:
    question: What happened just before the stop?
    title: Before the stop
    usual: {nothing: 6, power-dip: 2, washdown: 1, jam: 1}
"""
STATION = """\
  {s}-switch: {{question: How does the switch of {s} stand?, title: Switch {s}, usual: {{"on": 98, "off": 2}}}}
  {s}-permit: {{contact: make, title: Permit {s}, measured: continuity, normal: closed}}
  {s}-supply:
    reading: V d.c.
    title: Supply {s}
    nominal: 24
    normal: good
    bands: {{absent: "< 5", low: "5 .. 20.4", good: "20.4 .. 28.8", high: "> 28.8"}}
    source: IEC 61131-2
    follows:
      - {{when: {{{s}-switch: "off"}}, shows: absent}}
  {s}-controller:
    lamp: green
    title: Controller lamp {s}
    label: RUN {s}
    where: front
    normal: lit
    states: {{lit: steady, slow: blinking, dark: "off"}}
    follows:
      - {{when: {{{s}-supply: absent}}, shows: dark}}
  {s}-display:
    display: 2 characters
    title: Display {s}
    where: front
    normal: idle
    codes:
      "--": {{state: idle, means: waiting}}
      d1: {{state: drive, means: drive}}
      d2: {{state: heat, means: heat}}
      G0: {{state: guard, means: guard}}
      blank: {{state: blank, means: nothing shown}}
    follows:
      - {{when: {{{s}-supply: absent}}, shows: blank}}
      - {{when: {{{s}-controller: dark}}, shows: blank}}
  {s}-out-lamp:
    lamp: yellow
    title: Output lamp {s}
    label: OUT {s}
    where: front
    normal: lit
    follows: {{when: {{{s}-supply: [absent, low]}}, shows: dark}}
  {s}-in-lamp:
    lamp: yellow
    title: Input lamp {s}
    label: IN {s}
    where: front
    normal: lit
    follows:
      - {{when: {{{s}-supply: absent}}, shows: dark}}
      - {{when: {{{s}-permit: open}}, shows: dark}}
  {s}-guard: {{contact: break, title: Guard contact {s}, measured: continuity, normal: closed}}
  {s}-fuse:
    reading: ohm
    title: Fuse {s}
    normal: good
    bands: {{good: "< 1", high: "1 .. 1000", open: "> 1000"}}
    source: common practice
  {s}-motor: {{question: How warm is the motor of {s}?, title: Motor {s}, usual: {{cool: 8, warm: 2, hot: 1}}}}
  {s}-smell: {{question: Does {s} smell of burning?, title: Smell at {s}, usual: {{none: 99, burning: 1}}}}
"""
SHOWN = {
    "switch": ("off",),
    "permit": ("open",),
    "supply": ("absent", "low", "high"),
    "controller": ("slow", "dark"),
    "display": ("drive", "heat", "guard", "blank"),
    "out-lamp": ("dark",),
    "in-lamp": ("dark",),
    "guard": ("open",),
    "fuse": ("high", "open"),
    "motor": ("warm", "hot"),
    "smell": ("burning",),
}
"""What a fault may make each indication of a station show."""
FRONT_SHOWN = {"ready-lamp": "dark", "fault-lamp": "lit", "before-stop": "jam", "mains": "absent"}
CHECKS = """\
  see-{s}: {{gives: [{s}-out-lamp, {s}-in-lamp, {s}-controller], do: Read the lamps, access: outside, minutes: 1}}
  read-{s}: {{gives: {s}-display, do: Read the display of {s}, access: outside, minutes: 0.5}}
  feel-{s}: {{gives: [{s}-motor, {s}-smell], do: Feel and smell at {s}, access: outside, minutes: 2}}
  measure-{s}: {{gives: {s}-supply, do: Measure the supply, access: live, zone: cabinet-{z}, minutes: 4}}
  contacts-{s}:
    {{gives: [{s}-guard, {s}-permit], do: Measure both contacts, access: dead, zone: cabinet-{z}, minutes: 8}}
  fuse-{s}: {{gives: {s}-fuse, do: Take the fuse out and measure it, access: dead, zone: cabinet-{z}, minutes: 6}}
"""


def machine(causes: int, seed: int = 1) -> str:
    """The text of a `machine.yaml` with that many causes, a multiple of `PER_STATION` or the next one above."""
    rng = random.Random(f"growth {seed}")
    stations = [f"s{n:03}" for n in range(1, -(-causes // PER_STATION) + 1)]
    text = [HEAD.format(stations=len(stations)), *(ZONE.format(z=z) for z in range(1, ZONES + 1)), FRONT]
    text += [STATION.format(s=s) for s in stations]
    text.append("causes:\n")
    text += [line for s in stations for line in _causes(s, rng)]
    text.append("checks:\n")
    text += [CHECKS.format(s=s, z=n % ZONES + 1) for n, s in enumerate(stations)]
    return "".join(text)


def _causes(station: str, rng: random.Random) -> Iterator[str]:
    for n in range(PER_STATION):
        shown = rng.sample(sorted(SHOWN), rng.randint(2, 5))
        shows = [f'{station}-{name}: {{"{rng.choice(SHOWN[name])}": {rng.choice(SURELY)}}}' for name in shown]
        shows += [f"{name}: {{{FRONT_SHOWN[name]}: sometimes}}" for name in rng.sample(sorted(FRONT_SHOWN), 2)]
        inside = n % 2
        where = f"dead, zone: cabinet-{rng.randint(1, ZONES)}" if inside else "outside"
        rests = ", intermittent: 0.3" if n == 0 else ""
        yield (
            f"  {station}-fault-{n:02}:\n"
            f"    {{title: Fault {n} of {station}, part: {station}, often: {rng.choice(OFTEN)}{rests},\n"
            f"     shows: {{{', '.join(shows)}}},\n"
            f"     remedy: {{do: Mend it, minutes: {rng.randint(2, 60)}, access: {where}}}}}\n"
        )
