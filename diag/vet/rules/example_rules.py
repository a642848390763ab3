"""Rules about worked examples: do they still come out, and is there one for each cause?"""

from __future__ import annotations

from collections.abc import Iterator

from diag.vet.vetted.rule import Finding, Vetted, rule, some


@rule(
    "example-fails",
    "error",
    "The file contradicts itself: either the example is not what happened, or the file no longer explains it.",
    bad="""
examples:
  - example: weak-air
    title: Weak air with the filter code on
    facts: [{supply-lamp: lit}, {display: F3}, {air: weak}]
    cause: motor-hot
""",
    mend=("motor-hot", "filter-full"),
)
def example_fails(vetted: Vetted) -> Iterator[Finding]:
    """A worked example must come out: its cause must rank where it says, and the tree must lead to that cause. `diag
    try` tells more about it. Correct what the causes show, the tree, or the example."""
    for replayed in vetted.replayed:
        example = replayed.example
        for trouble in replayed.trouble:
            yield vetted.finding(example, f"example '{example.id}': {trouble}")


@rule(
    "no-example",
    "info",
    "A file grows case by case; this only counts how far it has come.",
    bad="""
examples:
  - {example: left-off, title: Left off, facts: [{supply-lamp: dark}, {main-switch: "off"}], cause: switched-off}
""",
    good="""
examples:
  - {example: off, title: Off, facts: [{main-switch: "off"}], cause: switched-off, tree: false}
  - {example: lost, title: Lost, facts: [{supply: 0 V}, {main-switch: "on"}], cause: supply-lost, tree: false}
  - {example: high, title: High, facts: [{supply: 260 V}], cause: voltage-high, tree: false}
  - example: lamp
    title: Lamp
    facts: [{display: "--"}, {test-key: supply}, {supply: 230 V}]
    cause: lamp-failed
    tree: false
  - example: board
    title: Board
    facts: [{supply: 230 V}, {test-key: both}, {display: "--"}]
    cause: lamp-board-loose
    tree: false
  - {example: hot, title: Hot, facts: [{display: E1}, {supply: 230 V}], cause: motor-hot, tree: false}
  - {example: full, title: Full, facts: [{display: F1}], cause: filter-full, tree: false}
  - example: wire
    title: Wire
    facts: [{display: "--"}, {motor-wire: open}, {supply-lamp: lit}]
    cause: wire-broken
    tree: false
""",
)
def no_example(vetted: Vetted) -> Iterator[Finding]:
    """A worked example shows that a cause is found from what a person would say. The causes without one are counted in
    a single line."""
    shown = {example.cause for example in vetted.machine.examples}
    without = [id for id in vetted.machine.causes if id not in shown]
    if without:
        text = f"{len(without)} of {len(vetted.machine.causes)} causes have no example: {some(without)}"
        yield Finding(vetted.top, text)
