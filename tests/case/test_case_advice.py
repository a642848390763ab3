"""The tree and the computed advice over the same facts: who leads, and how the one gives way to the other."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from case_steps import ANN, OLGA, Ticking, live, lock_out, next_of

from diag.case.advice.actions import remedy_title
from diag.case.advice.weighing import partially_done
from diag.case.case import Case
from diag.case.log import events as e
from diag.machine.load import read
from diag.machine.model import Access, Machine, Role
from diag.machine.nodes import Conclude, Look, Tree
from diag.safety import Act, Person

KNOWLEDGE = Path(__file__).parents[2] / "knowledge"


def opened(machine: Machine, person: Person = ANN) -> Case:
    return Case.open(machine, person, clock=Ticking())


def test_the_tree_leads_and_skips_what_was_entered_ahead(mixer: Machine) -> None:
    case = opened(mixer)
    case.say("box-display", "G0")
    assert next_of(case).gives == ("supply-lamp",)
    assert next_of(case).by_tree
    case.say("supply-lamp", "lit")
    assert next_of(case).gives == ("guard-seen",)


def test_the_computed_advice_takes_over_where_nobody_can_tell(mixer: Machine) -> None:
    case = opened(mixer)
    case.say("supply-lamp", "lit")
    case.cannot_tell("box-display")
    todo = next_of(case)
    assert not todo.by_tree
    assert todo.gives != ("box-display",)
    assert "which nobody could tell" in case.advice().tree_says
    case.say("box-display", "G0")
    assert next_of(case).by_tree, "told after all: the tree leads again"


def test_the_computed_advice_takes_over_where_the_tree_has_no_branch(mixer: Machine) -> None:
    look = Look("supply-lamp", {"lit": Look("guard-seen", {"up": Conclude(("guard-not-down",))})})
    case = opened(replace(mixer, trees={"first-look": Tree("first-look", "Short", look)}))
    case.say("supply-lamp", "dim")
    assert "no branch for SUPPLY: dim" in case.advice().tree_says
    assert not next_of(case).by_tree
    case.undo()
    case.say("supply-lamp", "lit")
    assert next_of(case).by_tree, "corrected: the tree leads again"
    assert case.advice().tree_says == ""


def test_what_the_tree_asks_of_another_role_is_not_offered(mixer: Machine) -> None:
    case = opened(mixer, OLGA)
    for indication, state in (("supply-lamp", "dark"), ("main-switch", "on"), ("ready-lamp", "dark")):
        case.say(indication, state)
    advice = case.advice()
    assert "which is for another role" in advice.tree_says
    offered = [a for a in (advice.next, *advice.others, *advice.checks) if a is not None]
    assert all(Role.OPERATOR in a.who for a in offered)
    assert all(a.access.value == "outside" for a in offered)


def test_after_a_conclusion_the_advice_goes_on(mixer: Machine) -> None:
    case = opened(mixer)
    for indication, state in (("supply-lamp", "lit"), ("box-display", "G0"), ("guard-seen", "up")):
        case.say(indication, state)
    advice = case.advice()
    assert advice.tree_says == "The tree points to: Guard not all the way down."
    assert advice.next is not None
    assert (advice.next.kind, advice.next.id) == ("remedy", "guard-not-down")
    assert advice.next.how == "Lower the guard all the way"
    assert "% likely" in advice.next.why


def test_a_doubtful_sight_does_not_lead_the_tree(mixer: Machine) -> None:
    case = opened(mixer)
    case.say("supply-lamp", "lit")
    case.post(e.Found(indication="box-display", seen={"drive-trip": 1.0, "guard-open": 0.8}))
    assert next_of(case).gives == ("box-display",)
    case.post(e.Found(indication="box-display", seen={"drive-trip": 1.0, "guard-open": 0.1}))
    assert next_of(case).kind == "do"


def test_a_sight_leads_the_tree_when_it_is_twice_as_likely_as_any_other(mixer: Machine) -> None:
    case = opened(mixer)
    case.say("supply-lamp", "lit")
    for other, leads in ((0.51, False), (0.5, True), (0.3, True)):
        case.post(e.Found(indication="box-display", seen={"drive-trip": 1.0, "guard-open": other}))
        assert (next_of(case).kind == "do") is leads, other


def test_what_is_doubtful_after_a_reset_does_not_lead_the_tree_by_what_it_was_before(mixer: Machine) -> None:
    case = opened(mixer)
    case.say("supply-lamp", "lit")
    case.say("box-display", "G0")
    assert next_of(case).gives == ("guard-seen",)
    case.post(e.ResetDone(reset="panel-reset"))
    case.cannot_tell("panel-reset")
    case.post(e.Found(indication="box-display", seen={"guard-open": 1.0, "drive-trip": 0.8}))
    todo = next_of(case)
    assert not (todo.by_tree and todo.gives == ("guard-seen",))


def test_a_protective_state_counts_as_soon_as_it_is_half_as_likely_as_the_likeliest(mixer: Machine) -> None:
    for likely, may in ((0.49, True), (0.5, False), (0.9, False)):
        case = opened(mixer)
        case.post(e.Found(indication="box-display", seen={"idle": 1.0, "drive-trip": likely}))
        assert [reset.may for reset in case.state.resets] == [may], likely


def test_a_call_that_the_tree_asks_for_and_was_made(mixer: Machine) -> None:
    case = opened(mixer)
    case.say("supply-lamp", "lit")
    case.say("box-display", "blank")
    todo = next_of(case)
    assert (todo.kind, todo.id, todo.by_tree) == ("call", "engineer", True)
    assert "extension on the board" in todo.how
    case.post(e.Called(role=Role.ENGINEER))
    assert not next_of(case).by_tree
    assert "The tree says: call the engineer" in case.advice().tree_says


def test_alternatives_are_few_and_never_the_next_thing(mixer: Machine) -> None:
    case = opened(mixer)
    for indication, state in (("supply-lamp", "lit"), ("box-display", "d1"), ("motor-warm", "cool")):
        advice = case.advice()
        assert advice.next is not None
        assert 2 <= len(advice.others) <= 3
        names = [(a.kind, a.id) for a in (advice.next, *advice.others)]
        assert len(set(names)) == len(names)
        case.say(indication, state)


def test_why_tells_what_the_answers_would_point_to(mixer: Machine) -> None:
    checks = {c.id: c for c in opened(mixer).advice().checks}
    display = checks["see-box-display"]
    assert "would point to Drive tripped on temperature" in display.why
    assert f"Saves about {display.saved:.0f} min, " in display.why
    assert display.why.endswith("more than the next best.")
    saved = [c.saved for c in checks.values()]
    assert saved == sorted(saved, reverse=True)
    assert min(saved) > 0


def test_what_the_tree_asks_for_comes_with_what_was_worked_out_for_it(mixer: Machine) -> None:
    """The minutes and the leads of that very check; its reason too, where the tree gives none of its own."""
    case = opened(mixer)
    for asked, why, answer in (
        ("see-supply-lamp", "would point to", "lit"),
        ("see-box-display", "The display says which part stopped the mixer", "G0"),
    ):
        todo, worked_out = next_of(case), {c.id: c for c in case.advice().checks}
        assert (todo.id, todo.by_tree) == (asked, True)
        assert (todo.saved, todo.leads) == (worked_out[asked].saved, worked_out[asked].leads)
        assert why in todo.why
        case.say(todo.gives[0], answer)
    todo = next_of(case)
    assert (todo.id, todo.by_tree) == ("ask-guard-seen", True)
    assert "ask-guard-seen" not in {c.id for c in case.advice().checks}
    assert (todo.saved, todo.leads) == (0.0, ())
    assert todo.why.endswith("asks for it.")


def test_what_stands_under_one_lockout_counts_as_set_up(mixer: Machine) -> None:
    """With the box proved dead an inside check costs no lockout any more, and may be worth its minutes."""
    case = opened(mixer)
    for indication, state in (("supply-lamp", "lit"), ("ready-lamp", "dark"), ("guard-seen", "down")):
        case.say(indication, state)
    case.say("before-stop", "nothing")
    assert "try-guard-contact" not in {c.id for c in case.advice().checks}
    lock_out(case)
    assert "try-guard-contact" in {c.id for c in case.advice().checks}


def test_how_is_shown_only_past_the_gate(mixer: Machine) -> None:
    case = opened(mixer)
    inside = {"measure-mains", "measure-dc-supply", "try-guard-contact", "test-drive-fuse", "supply-unit-failed"}
    assert all(case.action(id).how == "" for id in inside)
    live(case)
    shown = {id for id in inside if case.action(id).how}
    assert shown == {"measure-mains", "measure-dc-supply"}
    assert "follow the site's rules" in case.action("measure-mains").how, "with its caution"
    lock_out(case)
    shown = {id for id in inside if case.action(id).how}
    assert shown == {"try-guard-contact", "test-drive-fuse", "supply-unit-failed"}


def test_a_stop_at_the_gate_leaves_the_call(mixer: Machine) -> None:
    case = opened(mixer)
    while (step := case.state.steps["control-box"][0]).act is not Act.TESTED_DEAD:
        case.post(e.Gate(zone="control-box", act=step.act, target=step.target))
    case.post(e.Gate(zone="control-box", act=Act.VOLTAGE_FOUND))
    todo = next_of(case)
    assert (todo.kind, todo.id) == ("call", "engineer")
    assert "voltage found" in todo.why


def test_a_case_is_opened_and_replayed_without_the_mathematics() -> None:
    code = """
import sys
from pathlib import Path
from diag.case.case import Case
from diag.machine.load import read
from diag.machine.model import Role
from diag.safety import Person
case = Case.open(read(Path("tests/machines/mixer")), Person("Ann", Role.ELECTRICIAN))
case.say("supply-lamp", "dark")
case.action("measure-mains")
late = {"numpy", "textual"} & set(sys.modules)
print(sorted(late))
case.advice()
print("numpy" in sys.modules)
"""
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.split("\n")[:2] == ["[]", "True"]


def test_every_answer_says_what_it_would_lead_to(mixer: Machine) -> None:
    case = Case.open(mixer, OLGA)
    check = case.advice().checks[0]
    assert sum("then " in lead for lead in check.leads) == len(check.leads) > 1
    assert case.overturn(case.advice().causes[0].id).startswith("Overturned by: ")
    assert case.overturn(case.advice().causes[3].id).startswith("It would lead after: ")


def test_a_remedy_that_several_causes_share_is_named_after_the_likeliest() -> None:
    """Inside, what it does waits for the gate; it is named after one cause and says how many others it is for."""
    stacker = read(Path(__file__).parents[2] / "knowledge" / "tray-stacker", examples=False)
    remedy = next(
        r for r in stacker.remedies.values() if r.access is not Access.OUTSIDE and len(stacker.causes_of[r.id]) > 2
    )
    causes = stacker.causes_of[remedy.id]
    others = f", or {len(causes) - 1} other causes"
    for likeliest in causes:
        now = {cause: 0.5 if cause == likeliest else 0.01 for cause in causes}
        assert remedy_title(stacker, remedy, now) == f"Remedy for: {stacker.causes[likeliest].title}{others}"
        assert remedy.do not in remedy_title(stacker, remedy, now)
    # In a record it may have been for any of them.
    first, second = (stacker.causes[cause].title for cause in causes[:2])
    assert remedy_title(stacker, remedy) == f"Remedy for: {first}; {second}, and {len(causes) - 2} more"
    two = next(
        r for r in stacker.remedies.values() if r.access is not Access.OUTSIDE and len(stacker.causes_of[r.id]) == 2
    )
    assert remedy_title(stacker, two, {"x": 1.0}).endswith(", or 1 other cause")
    alone = next(
        r for r in stacker.remedies.values() if r.access is not Access.OUTSIDE and len(stacker.causes_of[r.id]) == 1
    )
    assert (
        remedy_title(stacker, alone, {"x": 1.0})
        == f"Remedy for: {stacker.causes[stacker.causes_of[alone.id][0]].title}"
    )


def test_a_row_that_was_begun_is_read_to_its_end() -> None:
    """One answer of a check of several leaves the others to cost their share; what was told before costs all of it."""
    machine = replace(read(KNOWLEDGE / "pump-set"), trees={})
    check = machine.checks["read-supply-lamps"]
    case = opened(machine)
    assert partially_done(machine, case._projection) == ()
    first, *rest = check.gives
    case.say(first, machine.indications[first].normal)
    assert (check.id, len(rest) / len(check.gives)) in partially_done(machine, case._projection)
    for id in rest:
        case.cannot_tell(id)
    assert check.id not in dict(partially_done(machine, case._projection))
    before = opened(machine)
    before.say(first, machine.indications[first].normal, before="the shift before")
    assert partially_done(machine, before._projection) == ()


def test_what_is_left_of_a_row_is_the_share_that_nobody_has_answered() -> None:
    machine = replace(read(KNOWLEDGE / "pump-set"), trees={})
    check = next(c for c in machine.checks.values() if c.access is Access.OUTSIDE and len(c.gives) >= 3)
    case = opened(machine)
    for done, id in enumerate(check.gives[:-1], start=1):
        case.say(id, machine.indications[id].normal)
        share = (len(check.gives) - done) / len(check.gives)
        assert dict(partially_done(machine, case._projection))[check.id] == share


def test_an_operator_is_offered_the_question_that_leads_to_a_danger_sign_until_it_is_answered(mixer: Machine) -> None:
    case = opened(mixer, OLGA)
    asked = case.advice().others[0]
    assert asked.gives == ("smell",)
    assert "before everything" in asked.why
    case.say("supply-lamp", "lit")
    assert case.advice().others[0].gives == ("smell",), "the tree goes on, and it stays offered"
    case.say("smell", "none")
    assert all(a.gives != ("smell",) for a in case.advice().others)
    case.undo()
    case.cannot_tell("smell")
    assert all(a.gives != ("smell",) for a in case.advice().others)
    assert all(a.gives != ("smell",) for a in opened(mixer).advice().others), "who measures sees it at the machine"


def test_what_a_call_asks_for_is_marked_before_it_and_one_key_goes_past_it(mixer: Machine) -> None:
    case = opened(mixer, OLGA)
    case.say("supply-lamp", "lit")
    case.say("box-display", "idle")
    case.say("smell", "none")
    advice = case.advice()
    assert advice.next is not None
    assert (advice.next.before_call, advice.next.gives) == (True, ("ready-lamp",))
    assert advice.others[0].kind == "call"
    case.post(e.Called(role=Role(advice.others[0].id)))
    assert not next_of(case).before_call, "it was made: nothing has to come before it any more"


SWEEPER = """format: 1
title: Floor sweeper
place: Store
revision: 2026-11-20
approval: draft
minutes: {lock: 10, restore: 5, live: 4, call: 90}
reset-limit: 1
call: {engineer: Duty engineer}
indications:
  stands: {question: Does it stand?, usual: {stands: 5, runs: 95}}
  bag: {question: Is the dust bag full?, usual: {full: 5, fine: 95}}
causes:
  bag-full:
    title: Dust bag full
    part: bag
    often: common
    shows: {stands: stands, bag: {full: usually}}
    remedy: {do: Change the dust bag, minutes: 2, access: outside}
  belt-slack:
    title: Brush belt slack
    part: brush / belt
    often: common
    shows: {stands: stands}
    remedy: {do: Tighten the brush belt, minutes: 30, access: outside}
"""


def sweeper(folder: Path, bag: str) -> Case:
    """A stop of a machine of two causes, the bag as it was seen, said by the operator."""
    (folder / "machine.yaml").write_text(SWEEPER)
    case = opened(read(folder), OLGA)
    case.say("stands", "stands")
    case.say("bag", bag)
    return case


def test_a_quick_remedy_of_a_less_likely_cause_says_why_it_comes_first(tmp_path: Path) -> None:
    case = sweeper(tmp_path, "fine")
    first, second = case.advice().causes[:2]
    assert (first.id, second.id) == ("belt-slack", "bag-full")
    # 14 % in 2 minutes against 85 % in 30: more stops end in each minute, and the file's minutes say so.
    assert second.probability / 2 > first.probability / 30
    todo = next_of(case)
    assert todo.title == "Change the dust bag"
    assert todo.why == (
        "For Dust bag full: 14\u00a0% likely. "
        "First because it takes 2 min; the remedy of “Brush belt slack”, 85\u00a0%, takes 30."
    )


def test_what_is_first_because_it_is_likeliest_needs_no_reason(tmp_path: Path) -> None:
    todo = next_of(sweeper(tmp_path, "full"))
    assert todo.title == "Change the dust bag"
    assert "First because" not in todo.why


def test_a_quick_remedy_of_what_is_all_but_ruled_out_does_not_come_first(tmp_path: Path) -> None:
    (tmp_path / "machine.yaml").write_text(SWEEPER.replace("full: usually", "full: always"))
    case = opened(read(tmp_path), OLGA)
    case.say("stands", "stands")
    case.say("bag", "fine")
    assert 0 < case.advice().causes[-1].probability < 0.05
    assert next_of(case).title == "Tighten the brush belt"


def test_the_remedy_of_the_likeliest_cause_is_within_reach_from_a_tenth_on(tmp_path: Path) -> None:
    """However long it takes: who knows better need not wait until the minutes speak for it."""
    text = SWEEPER.replace("minutes: 30", "minutes: 900").replace("minutes: 2,", "minutes: 900,")
    (tmp_path / "machine.yaml").write_text(text)
    machine = read(tmp_path)
    bag, belt = machine.causes.values()
    unknown = replace(belt, id="unknown", remedy=None)
    for share in (0.07, 0.09, 0.11, 0.2, 0.4):
        causes = {
            "bag-full": replace(bag, rate=share, shows={}),
            "unknown": replace(unknown, rate=1 - share, shows={}),
        }
        case = opened(replace(machine, causes=causes), OLGA)
        p = next(c.probability for c in case.advice().causes if c.id == "bag-full")
        assert p == pytest.approx(share, abs=0.02)
        named = [a.id for a in case.advice().others if a.kind == "remedy"]
        assert named == ([bag.remedy.id] if p >= 0.1 else []), share


def test_what_to_do_and_its_caution_are_two_sentences(mixer: Machine) -> None:
    caution = "Live terminals within reach; follow the site's rules for work near live parts."
    measure = mixer.checks["measure-mains"]
    for do, how in (
        (measure.do, f"{measure.do}. {caution}"),
        ("Is it lit?", f"Is it lit? {caution}"),
        ("Take this way:", f"Take this way: {caution}"),
        ("", caution),
    ):
        case = opened(replace(mixer, checks={**mixer.checks, measure.id: replace(measure, do=do)}))
        live(case)
        assert case.action(measure.id).how == how
    quiet = opened(replace(mixer, checks={**mixer.checks, measure.id: replace(measure, caution="")}))
    live(quiet)
    assert quiet.action(measure.id).how == measure.do
