"""The sheet: what it tells, for whom, and that nothing in it acts as markup or steers a terminal."""

from __future__ import annotations

import html
import re
from dataclasses import replace
from itertools import pairwise

import pytest
from case_steps import ANN, BOB, BOX, OLGA, Ticking, gate, go_back, lock_out
from hypothesis import given, settings
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from diag.case.case import Case
from diag.case.log import events as e
from diag.case.sheet import sheet
from diag.case.sheet.sheet import markdown
from diag.case.sheet.sheet_content import call_sheet, handover
from diag.machine.approval.approval import Approval
from diag.machine.model import Machine, Role
from diag.safety import Act, Person

DONE = "Replace the guard contact (for: Guard contact failed)"
HOSTILE = (
    "# heading",
    "> quoted",
    "1. first",
    "- item",
    "+ item",
    "=====",
    "**bold** _thin_ `code` ~~gone~~",
    "[link](https://example.invalid) ![picture](x) <https://example.invalid> https://example.invalid",
    "<script>alert(1)</script> <b>x</b> &lt; &#33;",
    "a | b\n--- | ---\nc | d",
    "line\n\n# heading after a blank line",
    "\x1b[2J\x1b]0;title\x07 red\x9b31m",
    "right \u202eto left\u2066",
    "\\# backslash \\",
    "$x$ ^y^",
)


BLOCKS = ("heading", "paragraph", "bullet_list", "list_item")
SET = {f"{block}_{end}" for block in BLOCKS for end in ("open", "close")} | {"inline", "text", "hardbreak", "softbreak"}
"""What the sheet's own setting uses; an escaped sign is a `text_special`."""


def flat(text: str) -> str:
    return " ".join(text.split())


def tokens(text: str) -> set[str]:
    """Kinds of markup in a text, inside and outside of lines."""
    found = MarkdownIt("gfm-like", {"linkify": False}).parse(text)
    return {t.type for t in found} | {child.type for t in found for child in t.children or ()}


@pytest.mark.parametrize("text", HOSTILE)
def test_text_does_not_act_as_markup(mixer: Machine, text: str) -> None:
    def written(text: str) -> str:
        case = Case.open(mixer, Person(f"Ann {text}", Role.ELECTRICIAN), clock=Ticking())
        case.say("supply-lamp", "dark", before=f"{text} Carl")
        case.post(e.Noted(text=text))
        case.post(e.Closed(outcome="handed-over", to=text, note=text))
        return markdown(case)

    hostile, harmless = written(text), written("word")
    assert tokens(hostile) <= SET | {"text_special"}
    assert hostile.count("\n#") == harmless.count("\n#")
    assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", hostile)


@settings(max_examples=200, deadline=None)
@given(text=st.text(max_size=60))
def test_an_escaped_line_reads_as_it_was_written(text: str) -> None:
    line = sheet.escaped(text)
    assert "\n" not in line
    rendered = MarkdownIt("gfm-like", {"linkify": False}).render(f"- item: {line}\n")
    shown = html.unescape(re.sub(r"^<ul>\n<li>item: ?|</li>\n</ul>\n$", "", rendered))
    assert "<" not in re.sub(r"^<ul>\n<li>|</li>\n</ul>\n$", "", rendered)
    assert shown.strip() == sheet.one_line(text)
    alone = MarkdownIt("gfm-like", {"linkify": False}).render(line)
    assert html.unescape(alone.removeprefix("<p>").removesuffix("</p>\n")) == sheet.one_line(text)


@pytest.mark.source("what an engineer asks on the telephone, noted before any reset", found="common practice")
def test_the_call_sheet_answers_what_the_engineer_will_ask(mixer: Machine) -> None:
    case = Case.open(mixer, OLGA, clock=Ticking())
    case.say("supply-lamp", "lit")
    case.say("box-display", "d1")
    case.say("before-stop", "washdown")
    case.cannot_tell("motor-warm")
    case.post(e.Called(role=Role.ELECTRICIAN))
    text = flat(sheet.plain(case))
    for told in (
        "Call sheet, case ",
        "Machine: Dough mixer 4, Dough room",
        "Electrician: Shift electrician, radio channel 3",
        "Before the stop: washdown",
        "SUPPLY (front of the control box, top left): lit (steady)",
        "Display (front of the control box): drive trip (“d1”, the drive has tripped)",
        "Not looked at: READY and Main switch.",
        "Fault reset: 0 done, of at most 2 in all. A protective device has operated.",
        "Hazard: 400 V a.c. in the control box.",
        "Stored energy: Raised mixing arm.",
        "Took part: Olga, operator.",
        "called the electrician.",
        "Motor housing",
        "Handing over: ____",
        "Taking over: ____",
        "Not a lockout procedure",
    ):
        assert told in text, told


@pytest.mark.source("HSE guidance on human factors: shift handover", found="from memory")
def test_the_handover_sheet(mixer: Machine) -> None:
    case = Case.open(mixer, ANN, clock=Ticking())
    case.say("supply-lamp", "lit")
    case.say("box-display", "G0")
    case.say("guard-seen", "down")
    case.say("dc-supply", "23,9 V", before="Carl")
    case.post(e.Skipped(action="ask-smell", why="a cold"))
    lock_out(case)
    case.say("guard-contact", "open", check="try-guard-contact")
    case.say("ready-lamp", "dark")
    case.post(e.Remedied(remedy="guard-contact-failed"))
    text = flat(sheet.plain(case))
    for told in (
        "Handover sheet, case ",
        "DEAD: Control box",
        "Power off.",
        f"A remedy was carried out and awaits its proof: {DONE}.",
        "READY should be lit; not seen yet.",
        "24 V supply: good (“23,9 V”); found before this case by Carl.",
        "Guard contact: open; 03:",
        ", Ann, with multimeter on continuity, round 2.",
        "Seen with the power off, so it tells nothing about the fault.",
        "Control box: people told.",
        "Control box: off, and lock on, Main switch Q1.",
        f"remedy carried out: {DONE}.",
        "Guard contact failed, ",
        "No mains at the mixer, now <1 %; against it: ",
        "Set aside: Ask: Smell, because: a cold",
        "face to face",
        "Both of you ask and answer",
        "in words and with this sheet",
    ):
        assert told in text, told


HANDOVER = (
    *("State of the machine, and locks", "Seen", "Readings", "Done", "Resets", "Likely causes", "Ruled out", "Next"),
    *("Remedies still to try", "Could not be told, or set aside", "Notes", "How to hand over"),
)
CALL = (
    *("Whom to call", "What happened and what changed", "Lamps and codes, exactly as seen", "Readings", "Resets"),
    *("Hazards, locks and who is there", "Done", "What it could be", "Could not be told", "Notes", "How to hand over"),
)


def blocks(text: str) -> list[tuple[str, str]]:
    """Each block of a Markdown text with what it is: `h1`, `h2`, `p` or `li`."""
    found, around = [], ""
    for token in MarkdownIt().parse(text):
        if token.type in ("heading_open", "list_item_open", "list_item_close"):
            around = "" if token.type.endswith("close") else token.tag
        elif token.type == "heading_close":
            around = ""
        elif token.type == "inline":
            said = "".join("\n" if child.type.endswith("break") else child.content for child in token.children or ())
            found.append((around or "p", said))
    return found


@pytest.mark.parametrize(("person", "headings"), [(ANN, HANDOVER), (OLGA, CALL)])
def test_every_part_of_a_sheet_stands_under_its_heading(
    mixer: Machine, person: Person, headings: tuple[str, ...]
) -> None:
    """As a renderer of Markdown takes it, and as plain text; nothing runs into what stands before it."""
    case = Case.open(mixer, person, clock=Ticking())
    case.say("supply-lamp", "lit")
    content = call_sheet(case) if person is OLGA else handover(case)
    assert tuple(title for title, _ in content.sections) == headings
    wanted = [("h1", content.title), ("p", "\n".join(content.head))]
    for title, items in content.sections:
        wanted += [("h2", title), *(("li", item) for item in items)]
    wanted += [("p", line) for line in content.foot]
    read = blocks(markdown(case))
    assert read[: len(wanted)] == wanted
    assert [text.split(":")[0] for _, text in read[len(wanted) :]] == list(content.signatures)
    lines = sheet.plain(case).splitlines()
    bulleted = sum(line.startswith("- ") for line in lines)
    assert bulleted == sum(len(items) for _, items in content.sections)
    assert [line for before, line in pairwise(lines) if not before and line.isupper()] == [h.upper() for h in headings]


def test_a_part_with_nothing_in_it_says_so(mixer: Machine) -> None:
    told = dict(handover(Case.open(mixer, ANN, clock=Ticking())).sections)
    assert {title: items for title, items in told.items() if items[0].startswith(("No", "Nothing"))} == {
        "Seen": ("Nothing was entered.",),
        "Readings": ("None.",),
        "Done": ("Nothing.",),
        "Ruled out": ("Nothing yet.",),
        "Could not be told, or set aside": ("Nothing.",),
        "Notes": ("None.",),
    }
    asked = dict(call_sheet(Case.open(mixer, OLGA, clock=Ticking())).sections)
    assert asked["What happened and what changed"] == ("Nothing was entered.",)
    assert asked["Readings"] == asked["Notes"] == ("None.",)
    assert asked["Done"] == asked["Could not be told"] == ("Nothing.",)


def test_where_no_remedy_is_left_open_the_sheet_says_so(mixer: Machine) -> None:
    case = Case.open(mixer, ANN, clock=Ticking())
    case.say("supply-lamp", "dark")
    assert dict(handover(case).sections)["Remedies still to try"] != ("None.",)
    case.say("main-switch", "off")
    case.say("ready-lamp", "dark")
    case.post(e.Remedied(remedy="switched-off"))
    case.post(e.Closed(outcome="running"))
    assert case.advice().causes[0].probability > 0.9
    assert dict(handover(case).sections)["Remedies still to try"] == ("None.",)


def test_who_took_the_keys_over_is_told_and_who_began_is_not(mixer: Machine) -> None:
    case = Case.open(mixer, ANN, clock=Ticking())
    assert "took over" not in sheet.plain(case)
    case.post(e.TookOver(person=BOB.name, role=BOB.role, authorised=True, qualified=True))
    (line,) = (line for line in dict(handover(case).sections)["Done"] if "took over" in line)
    assert line.endswith(", Bob: took over as engineer.")


def test_inside_instructions_stay_off_the_sheet(mixer: Machine) -> None:
    case = Case.open(mixer, ANN, clock=Ticking())
    case.say("supply-lamp", "dark")
    case.say("main-switch", "on")
    lock_out(case)
    inside = [c.do for c in mixer.checks.values() if c.access.value != "outside"]
    inside += [r.do for r in mixer.remedies.values() if r.access.value != "outside"]
    go_back(case)
    gate(case, Act.TOLD)
    gate(case, Act.RETRACT)
    for text in (sheet.markdown(case), sheet.plain(case)):
        assert not [do for do in inside if do in flat(text)]


def test_resets_and_what_was_taken_back_are_told(mixer: Machine) -> None:
    case = Case.open(mixer, ANN, clock=Ticking())
    case.say("box-display", "G0")
    case.post(e.ResetDone(reset="panel-reset"))
    case.undo()
    case.post(e.ResetDone(reset="panel-reset"))
    case.say("panel-reset", "back-later")
    text = flat(sheet.plain(case))
    assert "Fault reset: 1 done, of at most 2 in all." in text
    assert "said by mistake, Ann. It stays in the count." in text
    assert "back later." in text
    assert BOX not in text, "names are told as titles"


def test_plain_text_is_narrow(mixer: Machine) -> None:
    case = Case.open(mixer, ANN, clock=Ticking())
    case.post(e.Noted(text="A long note, " * 50))
    assert max(map(len, sheet.plain(case).splitlines())) <= sheet.WIDTH


@pytest.mark.parametrize(
    ("approval", "head", "warning"),
    [
        (Approval("draft"), "Machine file: mixer, draft, 2026-11-20", "Not approved: this machine file is a draft."),
        (Approval("trial"), "Machine file: mixer, trial, 2026-11-20", "Not approved: this machine file is on trial."),
        (
            Approval("approved", "training", "2026-11-24", "0" * 16, "0" * 16),
            "Machine file: mixer, approved by training on 2026-11-24, 2026-11-20",
            "",
        ),
        (
            Approval("approved", "training", "2026-11-24", "0" * 16, "1" * 16),
            "Machine file: mixer, changed since it was approved by training on 2026-11-24, 2026-11-20",
            "Not approved as it stands: this machine file has changed since training approved it on 2026-11-24.",
        ),
    ],
)
def test_the_sheet_tells_how_far_the_file_may_be_trusted(
    approval: Approval, head: str, warning: str, mixer: Machine
) -> None:
    for person in (ANN, OLGA):
        case = Case.open(replace(mixer, approval=approval), person, clock=Ticking())
        text = flat(sheet.plain(case))
        assert head in text
        assert warning in text
        assert ("Not approved" in text) == bool(warning)


def test_two_danger_signs_with_the_same_words_ask_each_for_its_own_call(mixer: Machine) -> None:
    """Which sign stands is known by what was seen, and not by what it says."""
    (sign,) = mixer.dangers
    other = replace(sign, when=(("supply-lamp", ("dark",)),), call=Role.ELECTRICIAN)
    case = Case.open(replace(mixer, dangers=(sign, other)), OLGA)
    case.say("supply-lamp", "dark")
    assert case.state.danger == sign.stop
    assert case.state.danger_call == "electrician"
    case.post(e.Called(role=Role.ENGINEER))
    assert "Call the electrician: not called yet." in sheet.plain(case).replace("\n", " ")


def test_a_handover_note_stays_for_whoever_takes_over(mixer: Machine) -> None:
    """It was told only while the case was closed, and on no page afterwards."""
    case = Case.open(mixer, OLGA, clock=Ticking())
    case.post(e.Noted(text="It hummed before it stopped."))
    case.post(e.Closed(outcome="handed-over", to="Bob", note="The bowl is still full."))
    case.post(e.TookOver(person=BOB.name, role=BOB.role))
    assert [(n.by, n.text) for n in case.state.notes] == [
        ("Olga", "It hummed before it stopped."),
        ("Olga", "The bowl is still full."),
    ]
    told = flat(sheet.plain(case))
    assert ", Olga: The bowl is still full." in told
    assert ", Olga: It hummed before it stopped." in told


@pytest.mark.source("Every source of energy is isolated before work begins", found="common practice")
def test_the_power_is_off_only_when_each_point_is_confirmed_off(mixer: Machine) -> None:
    case = Case.open(mixer, ANN, clock=Ticking())
    while not case.state.locks:
        step = case.state.steps[BOX][0]
        gate(case, step.act, step.target)
    ((off, _),) = case.state.locks
    on = [mixer.points[p].title for p in mixer.zones[BOX].points if p != off]
    assert on
    for sheet_of in (handover, call_sheet):
        text = " ".join(line for _, part in sheet_of(case).sections for line in part)
        assert "Power off" not in text
        assert "The power is NOT all off." in text
        assert f"LOCK ON: {mixer.points[off].title}, lock of Ann." in text
        assert all(f"NOT OFF: {title}." in text for title in on)
    lock_out(case)
    text = flat(sheet.plain(case))
    assert "Power off." in text
    assert "NOT OFF" not in text
