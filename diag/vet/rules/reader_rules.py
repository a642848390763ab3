"""The rules that the reader of the files enforces (`diag.machine`): a file that cannot be read is no machine.

The reader itself finds what breaks them, so only their reasons and examples stand here. Nearly all are errors: where a
file could mean two things, nobody guesses.
"""

from __future__ import annotations

from typing import Final

from diag.machine.problem import Level
from diag.vet.vetted.rule import Rule, register

NO_MACHINE: Final = "A machine is never made by guessing what a file means."


WHOLE_FILE: Final = "# panel.yaml\nface: {more: [[test-key]]}"


def _rule(
    name: str, why: str, bad: str, good: str = WHOLE_FILE, level: Level = "error", because: str = NO_MACHINE
) -> None:
    register(Rule(name, level, because, why, bad, good), __name__)


_rule(
    "machine",
    "A machine is a folder that holds a machine.yaml.",
    "# no machine.yaml",
)
_rule(
    "file",
    "Each of a machine's files must be an ordinary file that may be read.",
    "# panel.yaml is a folder",
)
_rule(
    "empty",
    "An empty file was meant to hold something. Fill it, or take it away.",
    "# panel.yaml",
)
_rule(
    "encoding",
    "Files are text in UTF-8. Control characters, and characters that turn the writing direction, could make a "
    "terminal show something other than what the file says.",
    "# panel.yaml\nindications:\n  hum: {question: Does it hum\u202e?, answers: [no-hum, hums]}",
    "# panel.yaml\nindications:\n  hum: {question: Does it hum?, answers: [no-hum, hums]}",
)
_rule(
    "size",
    "Limits that no sensible file comes near (levels of nesting, words with aliases written out, length of a text, "
    "bytes, files) keep a broken one from taking all the memory.",
    "# panel.yaml\nface: " + "[" * 101 + "]" * 101,
)
_rule(
    "stray",
    "A file whose name is not one that a machine's files have is not read. Give it the right name, or move it.",
    "# casues.yaml\ncauses: {}",
    "# causes.yaml\ncauses: {}",
    level="warning",
    because="The machine can be used, but a file that somebody wrote counts for nothing.",
)
_rule(
    "unfinished",
    "What stands beside the skeleton's mark is an example: another machine's hazards, its lockout and whom to call. "
    "Nobody may be led by it, and nobody can approve it.",
    "# panel.yaml\nface: {more: [[test-key]]}  # CHANGE FIRST: how the front is arranged",
    "# panel.yaml\nface: {more: [[test-key]]}  # how the front is arranged",
)
_rule(
    "spelling",
    "A field that has another name now. Write the new one when you next change the file; nothing else changes, and "
    "an approval still holds.",
    "# machine.yaml\nstanding: draft",
    "approval: trial",
    level="info",
    because="The old name means the same and is read for ever.",
)
_rule(
    "yaml",
    "The file is not the YAML that machines are written in: an indent, a quote or a bracket is wrong, or it uses "
    "what is left out here on purpose (tags, merge keys, several documents).",
    "indications:\n  air:\n   question: Is there air?\n  answers: [a, b",
    "indications:\n  hum:\n    question: Does it hum?\n    answers: [hums, no-hum]",
)
_rule(
    "remark",
    "In YAML everything after a space and a '#' is a remark, and counts for nothing. Directly behind a text, and "
    "with no space after the '#', it was more likely meant as part of the text.",
    "# panel.yaml\nindications:\n  hum:\n    question: Does it hum at motor #3\n    answers: [no-hum, hums]",
    '# panel.yaml\nindications:\n  hum:\n    question: "Does it hum at motor #3?"\n    answers: [no-hum, hums]',
    level="warning",
    because="It may be a remark after all; a space after the '#' would say so.",
)
_rule(
    "twice",
    "A name that is written twice could mean either of the two. Take one out, or give it a name of its own.",
    "# causes.yaml\ncauses:\n  lamp-failed: {title: Lamp again, part: lamp, often: rare}",
    "# causes.yaml\ncauses:\n"
    "  bulb-failed: {title: Bulb, part: lamp, often: rare, shows: {air: weak}, remedy: let-cool}",
)

_rule(
    "field",
    "A field that the language does not know would silently count for nothing; usually it is a slip of the pen.",
    "indications:\n  supply-lamp: {lable: SUPPLY}",
    "indications:\n  supply-lamp: {label: SUPPLY}",
)
_rule(
    "missing",
    "The entry means nothing without this field.",
    "causes:\n  belt-worn: {title: Belt worn, part: belt, shows: {air: weak}, remedy: let-cool}",
    "causes:\n  belt-worn: {title: Belt worn, part: belt, often: rare, shows: {air: weak}, remedy: let-cool}",
)
_rule(
    "kind",
    "Something of a different kind was expected here: a number, a list, a map, a text, or true or false.",
    "minutes: {lock: ten}",
    "minutes: {lock: 10}",
)
_rule(
    "word",
    "Only a few words are possible here, and this is not one of them.",
    "indications:\n  supply-lamp: {lamp: gren}",
    "indications:\n  supply-lamp: {lamp: green}",
)
_rule(
    "name",
    "A name that is used elsewhere must be one word, and a few words are reserved (all, power, unlisted).",
    "groups:\n  both lamps: [supply-lamp, ready-lamp]",
    "groups:\n  both-lamps: [supply-lamp, ready-lamp]",
)
_rule(
    "clash",
    "Two things that are named in the same places share one name. Give one of them another.",
    "groups:\n  air: [supply-lamp, ready-lamp]",
    "groups:\n  both-lamps: [supply-lamp, ready-lamp]",
)
_rule(
    "unknown",
    "An indication, state, cause, tree, zone or anything else of this name is written nowhere. The message names the "
    "nearest one that is.",
    "causes:\n  lamp-failed: {shows: {suply-lamp: dark}}",
    "causes:\n  lamp-failed: {shows: {supply-lamp: dark}}",
)
_rule(
    "chance",
    "How surely a cause shows something is always, usually, sometimes, seldom, never, or a number from 0 to 1.",
    "causes:\n  filter-full: {shows: {air: {weak: mostly}}}",
    "causes:\n  filter-full: {shows: {air: {weak: usually}}}",
)
_rule(
    "often",
    "How often a cause occurs is common, occasional, rare, or a rate such as '0.2 a year'.",
    "causes:\n  filter-full: {often: daily}",
    "causes:\n  filter-full: {often: 0.5 a year}",
)
_rule(
    "usual",
    "The weights of a question's usual answers must not all be zero.",
    "indications:\n  hum: {question: Does it hum?, usual: {hums: 0, no-hum: 0}}",
    "indications:\n  hum: {question: Does it hum?, usual: {hums: 1, no-hum: 9}}",
)
_rule(
    "states",
    "An indication with one state says nothing; one with more than sixty cannot be asked about.",
    "indications:\n  hum: {question: Does it hum?, answers: [hums]}",
    "indications:\n  hum: {question: Does it hum?, answers: [hums, no-hum]}",
)

_rule(
    "pattern",
    "How a lamp looks in a state is steady, off, flicker, blink with a rate, or a number of flashes.",
    "indications:\n  ready-lamp: {states: {lit: steady, dark: of}}",
    "indications:\n  ready-lamp: {states: {lit: steady, dark: off}}",
)
_rule(
    "code",
    "A code must fit its display or its list.",
    "indications:\n  display: {codes: {E123: {state: hot}}}",
    "indications:\n  display: {codes: {E2: {state: hot}}}",
)
_rule(
    "band",
    "The bands of a reading lie side by side, without gaps or overlaps, and the outer ones are open: "
    "every value that a meter can show must fall into one.",
    'indications:\n  supply: {bands: {absent: "< 40", low: "50 .. 207", good: "207 .. 253", high: "> 253"}}',
    'indications:\n  supply: {bands: {absent: "< 40", low: "40 .. 207", good: "207 .. 253", high: "> 253"}}',
)
_rule(
    "formula",
    "A reading that is worked out from several values has the unit of its formula.",
    "indications:\n  unbalance:\n    reading: V\n    formula: voltage unbalance\n    nominal: 0\n"
    '    bands: {fine: "< 1", bad: "> 1"}\n    source: x',
    'indications:\n  unbalance:\n    reading: "%"\n    formula: voltage unbalance\n    nominal: 0\n'
    '    bands: {fine: "< 1", bad: "> 1"}\n    source: x',
)
_rule(
    "accuracy",
    "The accuracy of a meter is written as on its data sheet: percent of the reading and counts.",
    "indications:\n  supply: {accuracy: rather good}",
    "indications:\n  supply: {accuracy: 0.5 % + 3}",
)
_rule(
    "circle",
    "Indications that follow one another must not form a circle: none of them could be shown first.",
    'indications:\n  main-switch: {follows: {when: {supply: absent}, shows: "off"}}',
    "indications:\n  air: {follows: {when: {supply: absent}, shows: weak}}",
)
_rule(
    "energy",
    "A check that gives several things must be possible with the machine in one state of energy.",
    "checks:\n  measure-wire: {gives: [motor-wire, supply]}",
    "checks:\n  measure-wire: {gives: [motor-wire]}",
)
_rule(
    "zone",
    "Work inside names its zone, and the zone names an isolation point and, where it is electrical, a point to test. "
    "Without them nothing says what to lock, and nothing could be proved dead. What work takes off, and what holds an "
    "energy, comes back on the return from a lockout, so it needs one too.",
    "zones:\n  box: {test-points: []}",
    "zones:\n  box: {test-points: [q1-out]}",
)
_rule(
    "tree",
    "A node of a tree is one of look, do, conclude, go and call, with the fields that belong to it.",
    "trees:\n  - {tree: first-look, title: First look, do: Wait, conclude: filter-full}",
    "trees:\n  - {tree: first-look, title: First look, do: Wait, then: {conclude: filter-full}}",
)
_rule(
    "fact",
    "A fact of an example must be something that a person could say of that indication.",
    "examples:\n  - {example: a, title: A, facts: [{supply: rather low}], cause: supply-lost}",
    "examples:\n  - {example: a, title: A, facts: [{supply: 180 V}], cause: supply-lost, tree: false}",
)
_rule(
    "no-code",
    "A code in an example that its display or alarm list does not have is taken as 'other', and says little. "
    "Usually it is a slip of the pen; where it is not, write that the cause shows 'other'.",
    "examples:\n  - {example: a, title: A, facts: [{display: E9}], cause: motor-hot, tree: false}",
    "examples:\n  - {example: a, title: A, facts: [{display: E1}], cause: motor-hot, tree: false}",
    level="warning",
    because="It may be one that nobody has explained yet.",
)
