"""The parts of the case screen by themselves: what is asked, what is advised, what a key comes to. No Textual here."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from case_parts import ADA, OLE, Parts

from diag.case.snapshot import Action, Advice
from diag.machine.load import read
from diag.machine.model import Access, Machine, Role
from diag.safety import Permission, Person
from diag.tui.looks.pieces import Pieces, columns
from diag.tui.questions import AskLines, ChooseOne, Picked
from diag.tui.screens.case.parts import answering, case_keys, doing, finding, reading, recording
from diag.tui.screens.case.parts.asked import FOUND, NEXT, PANEL, unseen_after
from diag.tui.screens.case.parts.case_model import Advised
from diag.tui.screens.case.parts.requests import (
    NOTHING,
    AskReset,
    DrawIt,
    InFull,
    Reply,
    TapAlongWith,
    ToFinish,
    ToLockout,
)
from diag.tui.screens.case.parts.strip import waiting

ROOT = Path(__file__).parents[2]
FOLDER = ROOT / "diag" / "tui" / "screens" / "case" / "parts"


@pytest.fixture(scope="module")
def bench() -> Machine:
    return read(ROOT / "tests" / "kinds" / "bench")


@pytest.fixture
def parts(mixer: Machine) -> Parts:
    return Parts(mixer)


def words(row: Pieces) -> str:
    return "".join(piece.words for piece in row)


def action(kind: str, id: str) -> Action:
    return Action(
        kind=kind, id=id, title=id, gives=(), tool="", where="", minutes=1.0, access=Access.OUTSIDE, zone="", who=(),
        why="", saved=0.0, permission=Permission(how=True, now=True, because=""), how="",
    )  # fmt: skip


def advice(*offered: Action) -> Advice:
    return Advice((), None, (), offered[0] if offered else None, offered[1:], "")


def test_the_plain_parts_load_no_textual() -> None:
    plain = sorted(f"diag.tui.screens.case.parts.{f.stem}" for f in FOLDER.glob("*.py"))
    assert len(plain) >= 12
    code = f"import importlib, sys\n[importlib.import_module(n) for n in {plain!r}]\nprint('textual' in sys.modules)\n"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stdout.strip() == "False"


# ---------------------------------------------------------------- answering


def test_a_digit_gives_the_state_of_its_number(parts: Parts) -> None:
    asked = parts.asked
    assert parts.model.view.asked is not None
    state = parts.model.view.asked.by_digit[1]
    reply = answering.digit(parts.model, 2)
    assert parts.found == {asked: state}
    assert (reply.tone, reply.clear, reply.to_panel) == ("say", True, True)


def test_nought_says_that_nobody_can_tell(parts: Parts) -> None:
    asked = parts.asked
    assert answering.digit(parts.model, 0).tone == "say"
    assert parts.model.state.cannot_tell == (asked,)
    assert parts.found == {}


def test_a_digit_without_a_state_changes_nothing(parts: Parts) -> None:
    assert answering.digit(parts.model, 9) == Reply("There is no 9 here.", "hint")
    assert parts.found == {}


def test_no_digit_answers_what_is_typed(parts: Parts) -> None:
    parts.find("box-display")
    assert answering.digit(parts.model, 1).words == "There is no 1 here."


def test_after_an_answer_nothing_is_asked_until_the_facts_are_weighed(parts: Parts) -> None:
    answering.digit(parts.model, 1)
    assert parts.asked == ""
    assert answering.digit(parts.model, 1).words is not None
    assert len(parts.found) == 1
    parts.weigh()
    assert parts.asked


def test_a_place_inside_takes_no_answer_until_it_was_found_before(parts: Parts) -> None:
    parts.find("drive-fuse")
    assert parts.model.view.asked is not None
    assert not parts.model.view.asked.open
    assert answering.digit(parts.model, 1).tone == "warn"
    reply = finding.before(parts.model)
    assert isinstance(reply.request, ChooseOne)
    reply.then(Picked("", "Bo"))
    assert parts.model.view.asked.open
    assert answering.line(parts.model, "0.2").tone == "say"
    assert parts.model.state.facts[-1].before == "Bo"


def test_a_code_that_the_file_does_not_know_is_taken_when_it_is_sent_again(parts: Parts) -> None:
    parts.find("box-display")
    first = answering.line(parts.model, "q9")
    assert first.tone == "warn"
    assert first.words is not None
    assert first.words.startswith("q9 is not a code of this machine file.")
    assert parts.found == {}
    assert answering.line(parts.model, "q9").tone == "say"
    assert parts.found["box-display"]


def test_a_bare_number_is_recorded_with_its_unit(parts: Parts) -> None:
    parts.find("dc-supply")
    reply = finding.before(parts.model)
    assert isinstance(reply.request, ChooseOne)
    reply.then(Picked("", "Bo"))
    answering.line(parts.model, "23,9")
    assert parts.model.state.facts[-1].said == "23,9 V d.c."


def test_what_was_refused_is_said_and_nothing_moves_on(parts: Parts) -> None:
    parts.find("mains")
    before = parts.model.selection
    reply = answering.line(parts.model, "not a number")
    assert (reply.tone, parts.model.selection) == ("warn", before)


def test_on_the_panel_the_walk_goes_on_to_what_nobody_has_seen(parts: Parts) -> None:
    finding.point(parts.model, "supply-lamp")
    answering.digit(parts.model, 1)
    assert parts.model.selection.source == PANEL
    assert parts.asked == "ready-lamp"
    assert unseen_after(parts.model.machine, parts.model.state, "main-switch") == "ready-lamp"


def test_after_a_find_the_next_thing_is_selected_again(parts: Parts) -> None:
    parts.find("smell")
    assert parts.model.selection.source == FOUND
    answering.digit(parts.model, 1)
    assert parts.model.selection.source == NEXT


# ---------------------------------------------------------------- reading off


def test_each_kind_opens_its_own_way(bench: Machine) -> None:
    parts, opened = Parts(bench), {}
    for id in ("fault-lamp", "run-lamp", "display", "relay", "guard", "unbalance", "air"):
        parts.find(id)
        opened[id] = type(reading.read(parts.model).request)
    assert opened == {
        "fault-lamp": type(None), "run-lamp": TapAlongWith, "display": DrawIt, "relay": AskLines, "guard": ChooseOne,
        "unbalance": AskLines, "air": AskLines,
    }  # fmt: skip


def test_a_measured_contact_asks_how_and_then_for_volts(bench: Machine) -> None:
    parts = Parts(bench)
    parts.find("guard")
    how = reading.read(parts.model)
    assert isinstance(how.request, ChooseOne)
    reply = how.then(Picked("common"))
    volts = reply.request
    assert isinstance(volts, AskLines)
    assert volts.tell is not None
    assert volts.tell(("24.0", "24.0")).startswith("Taken as closed")
    assert volts.tell(("24.0", "")) == ""
    assert volts.check(("24.0", "what"))
    assert reply.then(("24.0", "24.0")).tone == "say"
    assert parts.found["guard"] == "closed"


def test_a_figure_that_is_worked_out_begins_its_own_lines(bench: Machine) -> None:
    parts = Parts(bench)
    parts.find("unbalance")
    reply = reading.begin(parts.model)
    assert isinstance(reply.request, AskLines)
    assert len(reply.request.lines) == 3
    assert reply.then(("400", "400", "400")).tone == "say"
    assert parts.found["unbalance"] == "good"


def test_a_reading_begins_the_line(bench: Machine) -> None:
    parts = Parts(bench)
    parts.find("air")
    assert reading.begin(parts.model, "5") == Reply(begin="5")


def test_an_odd_reading_of_the_keypad_is_asked_about_once(bench: Machine) -> None:
    parts = Parts(bench)
    parts.find("supply")
    request = reading.read(parts.model).request
    assert isinstance(request, AskLines)
    assert "Enter again takes it" in request.check(("2400",))
    assert request.check(("2400",)) == ""


# ---------------------------------------------------------------- doing


def to_a_remedy(parts: Parts) -> None:
    """Nothing lit and the switch off: the next thing is to ask who switched it off."""
    for id, digit in (("supply-lamp", 3), ("main-switch", 2)):
        parts.find(id)
        answering.digit(parts.model, digit)
        parts.weigh()
    offered = parts.model.view.offered
    finding.alternative(parts.model, next(n for n, a in enumerate(offered) if a.kind == "remedy"))


def test_a_remedy_is_recorded_when_enter_says_so_twice(parts: Parts) -> None:
    to_a_remedy(parts)
    first = parts.told(doing.enter(parts.model))
    assert first.tone == "warn"
    assert parts.model.state.remedy == ""
    parts.seconds.now += 0.1
    assert parts.told(doing.enter(parts.model)).tone == "warn", "a key that is held down repeats"
    parts.seconds.now += 2
    assert parts.told(doing.enter(parts.model)).tone == "say"
    assert parts.model.state.remedy


def test_the_question_counts_only_while_it_stands(parts: Parts) -> None:
    to_a_remedy(parts)
    parts.told(doing.enter(parts.model))
    parts.told(Reply("something else", "hint"))
    parts.seconds.now += 2
    assert parts.told(doing.enter(parts.model)).tone == "warn"


def test_a_click_on_the_words_needs_no_second_one(parts: Parts) -> None:
    to_a_remedy(parts)
    assert doing.done(parts.model).tone == "say"
    assert parts.model.state.remedy


def test_enter_on_what_is_answered_by_digit_only_says_so(parts: Parts) -> None:
    assert doing.enter(parts.model) == Reply("Press the digit of what you see.", "hint")


def test_enter_on_what_is_inside_leads_to_the_lockout(parts: Parts) -> None:
    parts.find("drive-fuse")
    assert doing.enter(parts.model).request == ToLockout("control-box", False)


def test_enter_on_what_is_live_asks_for_live_work(parts: Parts) -> None:
    parts.find("mains")
    assert doing.enter(parts.model).request == ToLockout("control-box", True)


def test_the_end(parts: Parts) -> None:
    assert doing.finish(parts.model).request == ToFinish()


# ---------------------------------------------------------------- recording and finding


def test_setting_aside_asks_why(parts: Parts) -> None:
    before = parts.model.view.action
    assert before is not None
    reply = recording.skip(parts.model)
    assert isinstance(reply.request, ChooseOne)
    assert reply.then(Picked("no time")).words == f"Set aside: {before.title}"
    parts.weigh()
    assert parts.model.view.action is not None
    assert parts.model.view.action.id != before.id


def test_a_reset_says_what_is_still_to_be_noted(parts: Parts) -> None:
    request = recording.resets(parts.model).request
    assert isinstance(request, AskReset)
    assert request.missing == ("box-display",)


def test_taking_back_says_what_was_taken_back(parts: Parts) -> None:
    parts.find("supply-lamp")
    answering.digit(parts.model, 1)
    assert (
        recording.undo(parts.model).words == f"Taken back: {parts.model.machine.indications['supply-lamp'].title}, lit"
    )
    assert parts.found == {}
    assert recording.undo(parts.model).tone == "warn"


def test_in_full_is_the_action_that_is_shown(parts: Parts) -> None:
    request = finding.info(parts.model).request
    assert isinstance(request, InFull)
    assert request.action is parts.model.view.action
    parts.find("mains")
    assert "IEC 60204-1" in (finding.info(parts.model).words or "")


def test_nobody_is_offered_their_own_role(mixer: Machine) -> None:
    request = recording.call(Parts(mixer, OLE).model).request
    assert isinstance(request, ChooseOne)
    assert [row.id for row in request.rows] == ["engineer", "electrician"]


# ---------------------------------------------------------------- what is advised


def test_what_nobody_has_read_gives_way_to_what_is_better() -> None:
    look, call = action("check", "look"), action("call", "engineer")
    advised, said = Advised(advice(call, look)).looked_ahead(advice(look, call), reading=False)
    assert (advised.advice, said) == (advice(look, call), "")


def test_what_is_being_read_stays_and_the_better_thing_stands_beside() -> None:
    look, call = action("check", "look"), action("call", "engineer")
    advised, said = Advised(advice(call, look)).looked_ahead(advice(look, call), reading=True)
    assert advised.advice == advice(call, look)
    assert said == "Looked further ahead: doing “look” first ends this sooner (a)."


def test_what_is_offered_no_more_does_not_stay() -> None:
    look, call = action("check", "look"), action("call", "engineer")
    advised, said = Advised(advice(call)).looked_ahead(advice(look), reading=True)
    assert (advised.advice, said) == (advice(look), "")


def test_advice_of_an_earlier_state_comes_too_late(parts: Parts) -> None:
    state, old = parts.session.advice()
    answering.digit(parts.model, 1)
    assert not parts.model.weighed(state, old)
    assert parts.model.looked_ahead(state, old, reading=False) is None
    assert not parts.model.view.fresh


def test_the_chosen_cause_follows_the_first_until_somebody_chooses(parts: Parts) -> None:
    first = parts.model.advised.advice
    assert first is not None
    assert parts.model.evidence.cause == first.causes[0].id
    parts.model.choose_cause(first.causes[3].id)
    parts.find("supply-lamp")
    answering.digit(parts.model, 3)
    parts.weigh()
    assert parts.model.evidence.cause == first.causes[3].id
    now = parts.session.advice()[1]
    gone = tuple(c for c in now.causes if c.id != first.causes[3].id)
    assert parts.model.weighed(parts.model.state, replace(now, causes=gone))
    assert parts.model.evidence.cause == gone[0].id


# ---------------------------------------------------------------- the view and the strip


def test_the_view_is_worked_out_once_for_each_change(parts: Parts, monkeypatch: pytest.MonkeyPatch) -> None:
    from diag.tui.screens.case.parts import case_model

    view, asked, real = parts.model.view, list[object](), case_model.asked_now
    monkeypatch.setattr(case_model, "asked_now", lambda *a: asked.append(a) or real(*a))
    assert parts.model.view is view
    answering.digit(parts.model, 1)
    assert parts.model.view is parts.model.view is not view
    case_keys.shown(parts.model.view, paged=True)
    assert len(asked) == 1
    parts.weigh()
    assert parts.model.view.fresh
    assert len(asked) == 2


def test_a_stop_counts_at_once_whatever_was_advised(parts: Parts) -> None:
    parts.find("smell")
    answering.digit(parts.model, 2)
    view = parts.model.view
    assert not view.fresh
    assert view.state.danger
    assert (view.offered, view.action) == ((), None)
    assert view.told is view.state
    assert view.strip is not None
    assert view.strip.act == "Stop. Keep away and call."
    assert view.danger_signs == "Smell: burning"


def test_while_the_facts_are_weighed_the_strip_stays_as_it_is(parts: Parts) -> None:
    answering.digit(parts.model, 1)
    assert parts.model.view.strip is None
    parts.weigh()
    assert parts.model.view.strip is not None


@pytest.mark.parametrize("width", [40, 78, 138])
def test_the_strip_keeps_within_its_width(parts: Parts, width: int) -> None:
    for id in parts.model.machine.indications:
        parts.find(id)
        strip = parts.model.view.strip
        assert strip is not None
        rows = [strip.head(width), strip.below(width), *(() if strip.typing else strip.answers(width))]
        assert all(columns(row) <= width for row in rows if not words(row).startswith("g to the lockout")), id


def test_each_state_is_a_chip_that_can_be_clicked(parts: Parts) -> None:
    parts.find("supply-lamp")
    strip = parts.model.view.strip
    assert strip is not None
    (chips, _) = strip.answers(78)
    assert words(chips).startswith("1 ● lit   2 ◉~dim (flicker)   3 ○ dark   0 can't tell")
    assert {p.click for p in chips if p.words in ("lit", "dark")} == {("screen.mark", (1,)), ("screen.mark", (3,))}


def test_the_words_of_a_lamp_give_way_where_there_is_no_room(parts: Parts) -> None:
    parts.find("supply-lamp")
    strip = parts.model.view.strip
    assert strip is not None
    assert "(flicker)" not in "".join(words(row) for row in strip.answers(30))


def test_where_it_is_closed_the_strip_says_why_and_the_ways(parts: Parts) -> None:
    parts.find("drive-fuse")
    strip = parts.model.view.strip
    assert strip is not None
    why, ways = strip.answers(78)
    assert words(why).startswith("✕ ")
    assert words(ways) == "g to the lockout   b it was found before this case   x can't tell"


def test_a_call_that_was_made_is_not_asked_for_again(parts: Parts) -> None:
    call = replace(action("call", "engineer"), title="Call the engineer")
    _, before = waiting(parts.model.state, call, fresh=True)
    assert words(before[0]) == "↵ c I called"
    assert recording.called(parts.model, "engineer").tone == "say"
    _, after = waiting(parts.model.state, call, fresh=True)
    assert words(after[0]) == "c I called again"
    assert doing.act(parts.model, call).words == "That call is noted already. c notes another one."


def test_nothing_comes_of_a_key_that_has_nothing_to_do(parts: Parts) -> None:
    answering.digit(parts.model, 1)
    assert parts.asked == ""
    assert reading.begin(parts.model, "d") is NOTHING
    assert answering.line(parts.model, "d2") is NOTHING
    assert reading.work_out(parts.model) is NOTHING
    assert recording.failed(parts.model).words == "No remedy waits for its proof."
    assert ADA.name in parts.session.people


def test_who_may_not_do_a_remedy_is_told_at_once_and_asked_nothing(mixer: Machine) -> None:
    parts = Parts(mixer, Person("Bo", Role.ELECTRICIAN))
    inside = next(r for r in mixer.remedies.values() if r.access is not Access.OUTSIDE)
    remedy = parts.session.case.action(inside.id)
    assert not remedy.permission.now
    head, ways = waiting(parts.model.state, remedy, True)
    assert head == f"✕ {remedy.permission.because}"
    assert "it is done" not in " ".join(words(way) for way in ways)
    reply = parts.told(doing.act(parts.model, remedy))
    assert (reply.words, reply.tone) == (remedy.permission.because, "warn")
    assert parts.told(doing.act(parts.model, remedy, sure=True)).tone == "warn"
    assert not parts.model.state.remedy
