"""What each field of the language is for, in a line: what an editor shows beside it.

Keyed by the model that declares the field, and by the field as files write it; the empty name is the entry itself.
"""

from __future__ import annotations

from typing import Final

from pydantic import BaseModel

from diag.machine import source

FILE_HELP: Final = {
    "machine": "The machine as a whole. It may hold all that the other files hold.",
    "panel": "What can be seen, read, measured or asked, and how it is arranged on the front.",
    "causes": "What stops the machine, what each cause shows, and what cures it.",
    "checks": "What somebody does to find out more than a look from outside tells.",
    "trees": "One order of looking, or a list of them under trees.",
    "examples": "One worked case, or a list of them under examples.",
}
SECTION_HELP: Final = {
    "points": "Isolation points: where energy is cut off and locked.",
    "stored": "Energy that stays when every point is off, and how it is released.",
    "test-points": "Where a meter proves that it is dead.",
    "zones": "Places that are worked in: which points must be off, what to release, where to test.",
    "resets": "Keys and switches that clear a fault. What comes of one is a fact like any other.",
    "groups": "Names for several indications; one may stand wherever an indication may.",
    "indications": "What can be seen, read, measured or asked. The first field says which kind it is.",
    "face": "The front as it is arranged: block by block, each a list of rows.",
    "remedies": "Cures that several causes share. One that serves one cause may stand in the cause.",
    "causes": "What stops the machine, by name.",
    "checks": "What somebody does to find out more, by name.",
    "dangers": "Signs that go before everything: nothing more is offered, and somebody is called.",
    "trees": "The orders of looking.",
    "examples": "Worked cases that diag try replays.",
}
_TITLE: Final = "What to call it on the screen."
_WHO: Final = "Who may do it. Left out: everyone outside, electrician and engineer inside."
_ACCESS: Final = (
    "outside: the enclosure stays closed. dead: inside, locked out and proved. live: inside, with the power on."
)
_ZONE: Final = "Where it is done; says what must be locked. Needed unless access is outside."
_LABEL: Final = "As printed beside it."
_CODES: Final = "Code to state. ? stands for any one character. Put codes in quotes."

HELP: Final[dict[type[BaseModel], dict[str, str]]] = {
    source.HeadSource: {
        "": "The machine as a whole.",
        "format": "The version of this language. Always 1.",
        "title": "What the machine is called on the screen.",
        "place": "Where it stands.",
        "revision": "A date or a number, so that it is known which file was used.",
        "standing": "How far the file can be trusted: draft, tried, or reviewed.",
        "start": "The tree to start with. Left out: the first.",
        "hazards": "What can hurt somebody here, one line each.",
        "neighbours": "What still moves or is live beside it when this machine is off.",
        "minutes": "How long the ways in and out take.",
        "reset-limit": "So many resets, then stop and call.",
        "call": "How each role is reached.",
    },
    source.MinutesSource: {
        "": "Minutes, as they take here.",
        "lock": "To lock out and prove dead.",
        "restore": "To take the locks off and switch on again.",
        "live": "To prepare for live work: permit, mat, gloves.",
        "call": "Until the engineer has come and found it.",
    },
    source.CallSource: {
        "": "How each role is reached.",
        "operator": "Which operator, and how reached.",
        "electrician": "Which electrician, and how reached.",
        "engineer": "Which engineer, and how reached.",
    },
    source.PointSource: {
        "": "An isolation point.",
        "title": "As printed on it.",
        "where": "So that somebody who was never here finds it.",
        "electrical": "false for air, steam, water.",
        "foreign": "true when it feeds in from another machine, and stays live with this one off.",
    },
    source.StoredSource: {
        "": "Energy that stays when every point is off.",
        "title": _TITLE,
        "release": "How it is released or made safe.",
        "wait": "Minutes to wait, as the label on the device says.",
    },
    source.TestPointSource: {
        "": "Where a meter proves that it is dead.",
        "title": "Which terminals, each to each and to earth.",
        "expects": "What the meter shows when it is dead.",
    },
    source.ZoneSource: {
        "": "A place that is worked in.",
        "title": _TITLE,
        "points": "Every isolation point that must be off and locked.",
        "stored": "What must be released.",
        "test-points": "Every point that is tested before it counts as dead.",
        "electrical": "false where nothing electrical can be touched; no test points are needed then.",
    },
    source.DangerSource: {
        "": "A sign that goes before everything.",
        "when": "What shows it: an indication and its state. Everybody must be able to see it from outside.",
        "stop": "What to do at once.",
        "call": "Whom to call.",
    },
    source.ResetSource: {
        "": "A reset.",
        "title": "As printed on the key.",
        "do": "How it is done, from outside.",
        "who": "Who may.",
        "clears": "What it clears.",
        "note-first": "What to write down first, as the reset wipes it out.",
        "minutes": "How long it takes.",
        "usual": "How often it ran on, came back at once, came back later.",
    },
    source.FollowSource: {
        "": "Shown whatever the cause is, while something else stands in a certain way.",
        "when": "What stands how.",
        "shows": "What this indication then shows.",
    },
    source.IndicationSource: {
        "": "Something to see, read, measure or ask. Its first field says what: lamp, display, contact, reading, "
        "question or history.",
        "title": "What to call it on the screen. Left out: the label, the question, or the name.",
        "where": "Where it is, unless it is on the face.",
        "normal": "Its state on a stopped, energised, healthy machine.",
        "energy": "What the machine must be for it to mean anything: on, off, or any.",
        "follows": "What it shows because something else shows something: dark without supply, for one.",
        "source": "Where the limits come from. Limits need one.",
        "protective": "States in which a protective device has tripped.",
        "latched": "States that stay until they are cleared, and what clears them: a reset, or power.",
    },
    source.LampSource: {
        "": "A lamp.",
        "lamp": "Its colour as seen.",
        "label": _LABEL,
        "states": "State to how it looks: steady, off, blink 1 Hz. Left out: lit and dark.",
        "lamp-test": "The question that a lamp test answers, and the answer that says that this lamp failed.",
    },
    source.CodeSource: {
        "": "What a code says.",
        "state": "The state that it is; several codes may share one.",
        "means": "What it means, in words.",
    },
    source.DisplaySource: {
        "": "A display that shows codes.",
        "display": "How many characters, as in 2 characters.",
        "label": _LABEL,
        "codes": f"{_CODES} blank stands for nothing shown.",
        "scrolls": "true when a display of one character shows a code step by step.",
        "lamp-test": "The question that a lamp test answers, and the answer that says that this display failed.",
    },
    source.HistorySource: {
        "": "A list of alarms, read out in order; the first of them counts.",
        "history": "What the list is called on the machine.",
        "label": _LABEL,
        "codes": _CODES,
    },
    source.ContactSource: {
        "": "A contact: open or closed.",
        "contact": "make closes when operated, break opens, changeover has both.",
        "label": _LABEL,
        "measured": "continuity: by ohms, with the power off. voltage: by volts. Left out: seen, by a lamp on it.",
        "states": "Left out: open and closed.",
        "nominal": "The voltage of its supply, when it is measured by voltage.",
        "side": "Which half of a changeover is meant.",
        "coil": "What the coil or the operator does on a healthy, stopped machine.",
        "agrees": "A lamp that shows the same: its state, and the contact's state that goes with it.",
    },
    source.ReadingSource: {
        "": "Something that a meter or a gauge reads.",
        "reading": "The unit, as in V d.c., ohm, bar; or plain number.",
        "label": _LABEL,
        "nominal": "The value that it should have.",
        "bands": "State to its span, without a gap: < 5, 5 .. 20.4, > 28.8.",
        "formula": "For what is worked out from several values: which formula.",
        "accuracy": "Of the meter, as in 0.5 % + 3.",
    },
    source.QuestionSource: {
        "": "Something to ask a person.",
        "question": "In the words that one would ask it.",
        "usual": "Answer to how often it is given, on stops of all kinds. The most frequent is the normal one.",
        "answers": "The answers, where nothing is known of how often; in place of usual.",
    },
    source.RemedySource: {
        "": "What cures a cause.",
        "do": "What to do. Past access outside, it is shown only behind the lockout.",
        "minutes": "How long it takes, without locking and unlocking.",
        "access": _ACCESS,
        "who": _WHO,
        "zone": _ZONE,
        "parts": "What to bring.",
        "tool": "With which tool.",
        "caution": "What to watch out for.",
        "chance": "How often it cures the cause, from 0 to 1.",
    },
    source.CauseSource: {
        "": "A cause of a stop.",
        "title": _TITLE,
        "part": "Which part it is in.",
        "often": "common: twice a year. occasional: once in five years. rare: once in fifty. Or a rate: 3 a year.",
        "shows": "Indication to its state under this cause: surely, or {state: usually, other: sometimes}. What is "
        "left out is normal.",
        "remedy": "What cures it: the name of a shared remedy, or its fields.",
        "proof": "What must be seen to call it cured. Left out: the normal state of what it surely shows.",
        "comes": "intermittent, when it comes and goes.",
        "intermittent": "The chance that it shows nothing at all when one looks.",
        "by-design": "true when the machine is right to stop: a door open, waiting, switched off.",
        "note": "Anything else worth knowing.",
    },
    source.CheckSource: {
        "": "Something to do in order to find out.",
        "title": "Left out: Look or Measure, and what it gives.",
        "gives": "The indication that it answers, or a list.",
        "do": "How it is done. Past access outside, it is shown only behind the lockout.",
        "with": "With which tool or meter, set to what.",
        "where": "Where it is done.",
        "access": _ACCESS,
        "zone": _ZONE,
        "who": _WHO,
        "minutes": "How long it takes, without locking and unlocking.",
        "needs": "It makes sense only when these are so.",
        "energy": "What the machine must be for it: on, off, or any.",
        "changes": "true when it changes the machine, so that what was seen may no longer hold.",
        "caution": "What to watch out for.",
    },
    source.TreeSource: {
        "": "An order of looking. Its first node stands beside its name.",
        "tree": "Its name.",
        "title": _TITLE,
    },
    source.LookSource: {
        "": "Look at one thing, and go on by what it shows.",
        "look": "The indication.",
        "when": "State to what comes next. Two states with the same next: dark | slow.",
        "otherwise": "What comes next in every other state.",
        "why": "Why to look there, in a line.",
    },
    source.DoSource: {
        "": "Something to do from outside, or to ask somebody to do.",
        "do": "What. Work on the machine is a check or a remedy, never this.",
        "then": "What comes next.",
    },
    source.ConcludeSource: {"": "The end: found.", "conclude": "The cause, or the list of causes that are left."},
    source.GoSource: {"": "On in another tree.", "go": "Which tree."},
    source.CallNodeSource: {"": "The end: call somebody.", "call": "Whom."},
    source.ExampleSource: {
        "": "A worked case.",
        "example": "Its name.",
        "title": "What happened, in a line.",
        "facts": "What was seen, in order, one indication each: [{supply-lamp: dark}, {dc-supply: 0.3 V}].",
        "cause": "What it was.",
        "within": "The place by which the cause must rank at the end. 1 is the first.",
        "tree": "false when the tree is not to lead there.",
        "who": "Who found it.",
        "tried": "What had been tried before.",
    },
}
