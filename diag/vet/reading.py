"""The rules that the reader of the files keeps (`diag.machine`): what cannot be read makes no machine.

They find while reading, so that no function stands here; their reasons and examples do. Nearly all are errors: a file
that could mean two things is not guessed at.
"""

from __future__ import annotations

from typing import Final

from diag.vet.table import Rule

NO_MACHINE: Final = "What cannot be read without guessing makes no machine."


def _rule(name: str, why: str, bad: str, good: str) -> Rule:
    return Rule(name, "error", NO_MACHINE, why, bad.strip("\n"), good.strip("\n"))


FILES: Final = (
    _rule(
        "machine",
        "A machine is a folder that holds a machine.yaml.",
        "# no machine.yaml",
        "# panel.yaml\nface: {more: [[test-key]]}",
    ),
    _rule(
        "file",
        "Each of a machine's files must be an ordinary file that may be read.",
        "# panel.yaml is a folder",
        "# panel.yaml\nface: {more: [[test-key]]}",
    ),
    _rule(
        "empty",
        "A file with nothing in it was meant to hold something. Fill it, or take it away.",
        "# panel.yaml",
        "# panel.yaml\nface: {more: [[test-key]]}",
    ),
    _rule(
        "encoding",
        "Files are text in UTF-8. Control characters, and what turns the writing direction, could make a terminal show "
        "something else than the file says.",
        "# panel.yaml\nindications:\n  hum: {question: Does it hum\u202e?, answers: [no-hum, hums]}",
        "# panel.yaml\nindications:\n  hum: {question: Does it hum?, answers: [no-hum, hums]}",
    ),
    _rule(
        "size",
        "Limits that no file of sense comes near (levels of nesting, words with aliases written out, length of a text, "
        "bytes, files) keep a broken one from taking all the memory.",
        "# panel.yaml\nface: " + "[" * 101 + "]" * 101,
        "# panel.yaml\nface: {more: [[test-key]]}",
    ),
    Rule(
        "stray",
        "warning",
        "The machine can be used; only a file that somebody wrote counts for nothing.",
        "A file beside the others whose name is none of a machine's is not read. Give it the right name, or move it.",
        "# casues.yaml\ncauses: {}",
        "# causes.yaml\ncauses: {}",
    ),
    _rule(
        "yaml",
        "The file is not the YAML that machines are written in: an indent, a quote or a bracket is wrong, or it uses "
        "what is left out here on purpose (tags, merge keys, several documents).",
        "indications:\n  air:\n   question: Is there air?\n  answers: [a, b",
        "indications:\n  hum:\n    question: Does it hum?\n    answers: [hums, no-hum]",
    ),
    Rule(
        "remark",
        "warning",
        "It may be a remark after all; then a space after the '#' says so.",
        "What stands after a space and a '#' is a remark, in YAML, and counts for nothing. Directly behind a text, and "
        "with no space after the '#', it was more likely meant as part of it.",
        "# panel.yaml\nindications:\n  hum:\n    question: Does it hum at motor #3\n    answers: [no-hum, hums]",
        '# panel.yaml\nindications:\n  hum:\n    question: "Does it hum at motor #3?"\n    answers: [no-hum, hums]',
    ),
    _rule(
        "twice",
        "A name that is written twice would mean one or the other. Take one out, or give it a name of its own.",
        "# causes.yaml\ncauses:\n  lamp-failed: {title: Lamp again, part: lamp, often: rare}",
        "# causes.yaml\ncauses:\n"
        "  bulb-failed: {title: Bulb, part: lamp, often: rare, shows: {air: weak}, remedy: let-cool}",
    ),
)

WORDS: Final = (
    _rule(
        "field",
        "A field that the language does not know would silently count for nothing; mostly it is a slip of the pen.",
        "indications:\n  supply-lamp: {lable: SUPPLY}",
        "indications:\n  supply-lamp: {label: SUPPLY}",
    ),
    _rule(
        "missing",
        "A field without which nothing can be made of the entry.",
        "causes:\n  belt-worn: {title: Belt worn, part: belt, shows: {air: weak}, remedy: let-cool}",
        "causes:\n  belt-worn: {title: Belt worn, part: belt, often: rare, shows: {air: weak}, remedy: let-cool}",
    ),
    _rule(
        "kind",
        "Something of another kind was expected here: a number, a list, a map, a text, true or false.",
        "minutes: {lock: ten}",
        "minutes: {lock: 10}",
    ),
    _rule(
        "word",
        "Only a few words are possible here, and this is none of them.",
        "indications:\n  supply-lamp: {lamp: gren}",
        "indications:\n  supply-lamp: {lamp: green}",
    ),
    _rule(
        "name",
        "What is named elsewhere must be one word, and some words mean something of their own (all, power, unlisted).",
        "groups:\n  both lamps: [supply-lamp, ready-lamp]",
        "groups:\n  both-lamps: [supply-lamp, ready-lamp]",
    ),
    _rule(
        "clash",
        "Two things that are named in the same places have one name. Give one of them another.",
        "groups:\n  air: [supply-lamp, ready-lamp]",
        "groups:\n  both-lamps: [supply-lamp, ready-lamp]",
    ),
    _rule(
        "unknown",
        "A name of an indication, state, cause, tree, zone or anything else that is written nowhere. The nearest right "
        "one is told.",
        "causes:\n  lamp-failed: {shows: {suply-lamp: dark}}",
        "causes:\n  lamp-failed: {shows: {supply-lamp: dark}}",
    ),
    _rule(
        "chance",
        "How surely a cause shows something is always, usually, sometimes, seldom, never, or a number from 0 to 1.",
        "causes:\n  filter-full: {shows: {air: {weak: mostly}}}",
        "causes:\n  filter-full: {shows: {air: {weak: usually}}}",
    ),
    _rule(
        "often",
        "How often a cause comes is common, occasional, rare, or a rate such as '0.2 a year'.",
        "causes:\n  filter-full: {often: daily}",
        "causes:\n  filter-full: {often: 0.5 a year}",
    ),
    _rule(
        "usual",
        "The usual mix of a question's answers must weigh something.",
        "indications:\n  hum: {question: Does it hum?, usual: {hums: 0, no-hum: 0}}",
        "indications:\n  hum: {question: Does it hum?, usual: {hums: 1, no-hum: 9}}",
    ),
    _rule(
        "states",
        "An indication with one state says nothing; one with more than sixty cannot be asked for.",
        "indications:\n  hum: {question: Does it hum?, answers: [hums]}",
        "indications:\n  hum: {question: Does it hum?, answers: [hums, no-hum]}",
    ),
)

MEANINGS: Final = (
    _rule(
        "pattern",
        "How a lamp looks in a state is steady, off, flicker, blink with a rate, or a number of flashes.",
        "indications:\n  ready-lamp: {states: {lit: steady, dark: of}}",
        "indications:\n  ready-lamp: {states: {lit: steady, dark: off}}",
    ),
    _rule(
        "code",
        "A code must fit its display or its list.",
        "indications:\n  display: {codes: {E123: {state: hot}}}",
        "indications:\n  display: {codes: {E2: {state: hot}}}",
    ),
    _rule(
        "band",
        "The bands of a reading stand side by side, without gap and without overlap, and the outer ones are open: "
        "every value that a meter can show must fall into one.",
        'indications:\n  supply: {bands: {absent: "< 40", low: "50 .. 207", good: "207 .. 253", high: "> 253"}}',
        'indications:\n  supply: {bands: {absent: "< 40", low: "40 .. 207", good: "207 .. 253", high: "> 253"}}',
    ),
    _rule(
        "formula",
        "A reading that is worked out from several values gives the unit of its formula.",
        "indications:\n  unbalance:\n    reading: V\n    formula: voltage unbalance\n    nominal: 0\n"
        '    bands: {fine: "< 1", bad: "> 1"}\n    source: x',
        'indications:\n  unbalance:\n    reading: "%"\n    formula: voltage unbalance\n    nominal: 0\n'
        '    bands: {fine: "< 1", bad: "> 1"}\n    source: x',
    ),
    _rule(
        "accuracy",
        "The accuracy of a meter is written as on its data sheet: percent of the reading and counts.",
        "indications:\n  supply: {accuracy: rather good}",
        "indications:\n  supply: {accuracy: 0.5 % + 3}",
    ),
    _rule(
        "circle",
        "What follows what must not come round again: nothing could be shown first.",
        'indications:\n  main-switch: {follows: {when: {supply: absent}, shows: "off"}}',
        "indications:\n  air: {follows: {when: {supply: absent}, shows: weak}}",
    ),
    _rule(
        "energy",
        "A check that gives several things must be possible with the machine in one state of energy.",
        "checks:\n  measure-wire: {gives: [motor-wire, supply]}",
        "checks:\n  measure-wire: {gives: [motor-wire]}",
    ),
    _rule(
        "zone",
        "Work inside names its zone, the zone an isolation point and, where it is electrical, a point to test: without "
        "them nothing says what to lock, and nothing could be proved dead.",
        "zones:\n  box: {test-points: []}",
        "zones:\n  box: {test-points: [q1-out]}",
    ),
    _rule(
        "tree",
        "A node of a tree is one of look, do, conclude, go and call, with the fields that belong to it.",
        "trees:\n  - {tree: first-look, title: First look, do: Wait, conclude: filter-full}",
        "trees:\n  - {tree: first-look, title: First look, do: Wait, then: {conclude: filter-full}}",
    ),
    _rule(
        "fact",
        "A fact of an example must be something that a person could say of that indication.",
        "examples:\n  - {example: a, title: A, facts: [{supply: rather low}], cause: supply-lost}",
        "examples:\n  - {example: a, title: A, facts: [{supply: 180 V}], cause: supply-lost, tree: false}",
    ),
    Rule(
        "no-code",
        "warning",
        "It may be one that nobody has explained yet.",
        "A code in an example that its display or alarm list does not have is taken as 'other', and says little. "
        "Mostly it is a slip of the pen; where it is not, the cause says that it shows other.",
        "examples:\n  - {example: a, title: A, facts: [{display: E9}], cause: motor-hot, tree: false}",
        "examples:\n  - {example: a, title: A, facts: [{display: E1}], cause: motor-hot, tree: false}",
    ),
)

READING: Final = (*FILES, *WORDS, *MEANINGS)
