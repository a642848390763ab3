"""A small machine that is complete and makes sense: the examples of the rules are laid over it.

Maps are laid over key by key, lists and words replace what was there. `diag measure files` mutates this machine when no
other is named.
"""

from __future__ import annotations

from typing import Final

SAMPLE: Final = """\
format: 1
title: Fan 1
place: Dry store
revision: 2026-11-25
approval: draft
start: first-look
hazards: [230 V a.c. in the box, Fan wheel behind the grille]
neighbours: Fan 2 beside it runs on its own switch
minutes: {lock: 8, restore: 4, live: 4, call: 60}
reset-limit: 2
call: {engineer: Duty engineer by the site radio}
points:
  q1: {title: Main switch Q1, where: left side of the box}
stored:
  wheel: {title: Turning fan wheel, release: Wait until it stands still, wait: 2}
test-points:
  q1-out: {title: Outgoing terminals of Q1, expects: 0 V, below: 5 V}
zones:
  box: {title: Terminal box, points: q1, stored: wheel, test-points: q1-out}
dangers:
  - {when: {smell: burning}, stop: Keep away from the fan and call., call: engineer}
resets:
  start-key:
    title: Start key
    do: Press START once
    who: [operator, electrician, engineer]
    clears: the trip of the relay, once the motor is cool
    note-first: display
groups:
  lamps: [supply-lamp, ready-lamp]
indications:
  smell: {question: Is there a smell of burning?, usual: {none: 99, burning: 1}}
  main-switch: {question: How does Q1 stand?, where: left side of the box, usual: {"on": 98, "off": 2}}
  air: {question: Does air come out of the grille?, usual: {strong: 97, weak: 3}}
  supply:
    reading: V a.c.
    nominal: 230
    bands: {absent: "< 40", low: "40 .. 207", good: "207 .. 253", high: "> 253"}
    source: IEC 60038, 230 V +/-10 %
    follows: {when: {main-switch: "off"}, shows: absent}
  supply-lamp:
    lamp: green
    where: front of the box
    normal: lit
    states: {lit: steady, dim: flicker, dark: off}
    lamp-test: {test-key: [supply, both]}
    follows: [{when: {supply: absent}, shows: dark}, {when: {supply: low}, shows: dim}]
  ready-lamp:
    lamp: white
    normal: lit
    lamp-test: {test-key: both}
    follows: {when: {supply: absent}, shows: dark}
  test-key: {question: With TEST pressed which lamp stays dark?, usual: {none: 98, supply: 1, both: 1}}
  display:
    display: 2 characters
    normal: idle
    codes:
      "--": {state: idle, means: waits for START}
      E1: {state: hot, means: the motor relay has tripped}
      "F?": {state: filter, means: the filter is full}
      blank: {state: blank, means: nothing shown}
    protective: [hot]
    latched: {hot: [start-key, power]}
    follows: {when: {supply: absent}, shows: blank}
  motor-wire: {contact: break, measured: continuity, coil: released, normal: closed}
  alarms: {history: Alarm list, where: front of the box, codes: {A1: {state: relay, means: motor relay}}}
face:
  box: [[supply-lamp, ready-lamp], [display]]
remedies:
  let-cool: {do: "Wait until the motor is cool, then press START", minutes: 20, access: outside}
causes:
  switched-off:
    title: Main switch left off
    part: main switch
    often: common
    by-design: true
    shows: {main-switch: "off"}
    remedy: {do: Ask who switched it off and why, minutes: 3, access: outside}
  supply-lost:
    title: No supply at the fan
    part: supply
    often: occasional
    shows: {supply: {absent: usually, low: sometimes}}
    remedy: {do: Call the keeper of the supply, minutes: 15, access: outside}
    proof: {supply-lamp: lit}
  voltage-high:
    title: Voltage too high
    part: supply
    often: 0.05 a year
    shows: {supply: high, display: hot}
    remedy: {do: Call the keeper of the supply, minutes: 15, access: outside}
    proof: {display: idle}
  lamp-failed:
    title: Supply lamp failed
    part: lamp
    often: rare
    shows: {supply-lamp: dark, test-key: supply}
    remedy: {do: Replace the lamp, minutes: 10, access: dead, zone: box, who: electrician}
  lamp-board-loose:
    title: Board of the lamps loose
    part: lamps
    often: rare
    shows: {lamps: dark, test-key: both}
    remedy: {do: Seat the board, minutes: 10, access: dead, zone: box, who: electrician}
  motor-hot:
    title: Motor too hot
    part: motor
    often: common
    shows: {display: E1, ready-lamp: dark, air: {weak: sometimes}, alarms: relay, start-key: {back-later: usually}}
    remedy: let-cool
  filter-full:
    title: Filter full
    part: filter
    often: common
    shows: {display: filter, air: {weak: always}}
    remedy: {do: Call the keeper of the filters, minutes: 10, access: outside}
  wire-broken:
    title: Wire to the motor broken
    part: wiring
    often: rare
    comes: intermittent
    shows: {motor-wire: open, air: {weak: usually}, smell: {burning: seldom}}
    remedy: {do: Replace the wire, minutes: 30, access: dead, zone: box, who: [electrician, engineer]}
checks:
  measure-supply:
    gives: supply
    do: Measure between the two incoming terminals
    with: multimeter on V a.c., CAT III
    access: live
    zone: box
    who: [electrician, engineer]
    minutes: 4
    caution: Live terminals within reach; follow the site's rules.
  measure-wire:
    gives: motor-wire
    do: Measure the wire from end to end
    with: multimeter on continuity
    access: dead
    zone: box
    who: [electrician, engineer]
    minutes: 6
    caution: The wheel may still turn.
trees:
  - tree: first-look
    title: First look
    look: supply-lamp
    why: Without supply the display says nothing
    when:
      dark: {look: main-switch, when: {"off": {conclude: switched-off}, "on": {go: no-supply}}}
      dim: {conclude: supply-lost}
      lit:
        look: display
        when:
          hot: {do: Note the code, then: {conclude: [motor-hot, voltage-high]}}
          filter: {conclude: filter-full}
          idle: {look: motor-wire, when: {open: {conclude: wire-broken}, closed: {call: engineer}}}
        otherwise: {call: engineer}
  - tree: no-supply
    title: Dark with the switch on
    look: ready-lamp
    when:
      dark: {look: test-key, when: {both: {conclude: lamp-board-loose}}, otherwise: {conclude: supply-lost}}
      lit: {conclude: lamp-failed}
examples:
  - example: left-off
    title: Dark, and the switch is off
    facts: [{supply-lamp: dark}, {main-switch: "off"}]
    cause: switched-off
  - example: hot-motor
    title: Tripped after a warm night
    facts: [{supply-lamp: lit}, {display: E1}, {air: weak}]
    cause: motor-hot
    who: night operator
    tried: pressed START twice
"""

LEAST: Final = """\
format: 1
title: Fan 2
place: Dry store
indications: {air: {question: Does air come out?, usual: {"yes": 9, "no": 1}}}
causes:
  stopped:
    title: Stopped from the desk
    part: desk
    often: common
    by-design: true
    shows: {air: "no"}
    remedy: {do: Ask at the desk, minutes: 2, access: outside}"""
"""The least that a machine's file may hold, except for whom to call."""
