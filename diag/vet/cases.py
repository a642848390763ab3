"""Rules about worked examples: do they still come out, and is there one for each cause?"""

from __future__ import annotations

from collections.abc import Iterator

from diag.vet.table import Finding, Vetted, rule, some


@rule(
    "example-fails",
    "error",
    "The file contradicts itself: either the example is not what happened, or the file no longer knows it.",
    bad="""
examples:
  - example: weak-air
    title: Weak air with the filter code on
    facts: [{supply-lamp: lit}, {display: F3}, {air: weak}]
    cause: motor-hot
""",
    good="""
examples:
  - example: weak-air
    title: Weak air with the filter code on
    facts: [{supply-lamp: lit}, {display: F3}, {air: weak}]
    cause: filter-full
""",
)
def example_fails(vetted: Vetted) -> Iterator[Finding]:
    """A worked example must come out: its cause at the place that it states, and the tree at that cause. `diag try`
    tells more of it; correct what the causes show, the tree, or the example."""
    for replayed in vetted.replayed:
        example = replayed.example
        for trouble in replayed.trouble:
            yield Finding(vetted.where(example.place), f"example '{example.id}': {trouble}")


@rule(
    "no-example",
    "info",
    "A file grows case by case; this only counts how far it is.",
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
    """A worked example shows that a cause is found from what a person would say of it. Those without are counted, in
    one line."""
    shown = {example.cause for example in vetted.machine.examples}
    without = [id for id in vetted.machine.causes if id not in shown]
    if without:
        text = f"{len(without)} of {len(vetted.machine.causes)} causes have no example: {some(without)}"
        yield Finding(vetted.top, text)
