"""What is said beside what is advised, word by word, as a case goes on; the figures in it are reasoning's own."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from case_steps import ANN, OLGA, Ticking, lock_out, next_of

from diag.case.advice.actions import remedy_title
from diag.case.case import Case
from diag.case.log.events import Called, Did, Remedied, RemedyFailed, ResetDone, Skipped
from diag.case.snapshot import Action
from diag.machine.model import Access, Machine, Role
from diag.reason.belief.misfit import Again, Misfit
from diag.reason.belief.pairs import Pair
from diag.safety import Person

LIT, DARK = ("supply-lamp", "lit"), ("supply-lamp", "dark")
BOARD = "Duty engineer, extension on the board by the door"
SMELL = ("look", "Ask: Smell", "What is dangerous goes before everything else, and no lamp tells it.")
CANNOT_GO_ON = "When you cannot go on, or may not."
CALL = ("call", "Call the engineer", CANNOT_GO_ON)


def case_of(machine: Machine, person: Person, *said: tuple[str, str]) -> Case:
    case = Case.open(machine, person, clock=Ticking())
    for indication, text in said:
        case.say(indication, text)
    return case


def told(action: Action | None) -> tuple[str, str, str]:
    """Kind, title and reason of an action, with `N` for the figures in the reason."""
    assert action is not None
    return action.kind, action.title, re.sub(r"[0-9]+(?=\u00a0%| min| more)", "N", action.why)


def shown(case: Case) -> list[tuple[str, str, str]]:
    advice = case.advice()
    return [told(action) for action in (advice.next, *advice.others)]


LEFT_OFF = (
    "remedy",
    "Ask who switched it off and why; switch on only when that person agrees",
    "For Main switch left off: N\u00a0% likely.",
)
DISPLAY = (
    "look",
    "Look at Display",
    "Blank (nothing shown) would point to Main switch left off, N\u00a0%; drive-trip (the drive has tripped) would "
    "point to Drive tripped on temperature, N\u00a0%. Saves about N min, N more than the next best.",
)
SUPPLY = (
    "look",
    "Look at SUPPLY",
    "Lit would point to Guard not all the way down, N\u00a0%; dark would point to Main switch left off, N\u00a0%. "
    "Saves about N min.",
)


def test_what_a_case_begins_with(mixer: Machine) -> None:
    assert shown(case_of(mixer, ANN)) == [SUPPLY, DISPLAY, LEFT_OFF, CALL]
    assert shown(case_of(mixer, OLGA)) == [SUPPLY, SMELL, DISPLAY, LEFT_OFF], "three others at most"
    assert case_of(mixer, ANN).advice().tree_says == ""


def test_what_the_tree_tells_to_do(mixer: Machine) -> None:
    case = case_of(mixer, ANN, LIT, ("box-display", "d2"))
    cool = "Take part of the dough out of the bowl and wait until the motor housing is warm, then reset"
    likely = "For Drive tripped on temperature or Bowl too full: together N\u00a0% likely."
    note = "Note the code, and ask what was in the bowl"
    assert shown(case) == [("do", note, "The tree “What the front shows” says so."), ("remedy", cool, likely), CALL]
    todo = next_of(case)
    assert (todo.how, todo.by_tree, todo.id) == (note, True, "first-look")


def test_the_tree_calls_where_it_has_no_further_look(mixer: Machine) -> None:
    case = case_of(mixer, ANN, LIT, ("box-display", "idle"))
    todo = next_of(case)
    assert told(todo) == ("call", "Call the engineer", "The tree has no further look for this: call.")
    assert (todo.how, todo.minutes, todo.by_tree) == (BOARD, 60.0, True)
    contact = next(a for a in case.advice().others if a.kind == "remedy")
    assert told(contact) == ("remedy", "Remedy for: Guard contact failed", "For Guard contact failed: N\u00a0% likely.")
    assert (contact.how, contact.tool, contact.zone, contact.minutes) == ("", "guard contact", "control-box", 25.0)
    case = case_of(mixer, ANN, LIT, ("box-display", "blank"))
    case.post(Called(role=Role.ENGINEER))
    waiting = next(a for a in case.advice().others if a.kind == "call")
    assert told(waiting) == ("call", "Wait for the engineer", CANNOT_GO_ON)
    assert waiting.how == "The call is noted. The sheet tells what was seen and done."
    goes_on = "What follows is worked out from the facts."
    assert case.advice().tree_says == f"The tree says: call the engineer. {goes_on}"


def test_why_the_tree_no_longer_leads(mixer: Machine) -> None:
    goes_on = "What follows is worked out from the facts."
    case = case_of(mixer, ANN)
    case.cannot_tell("supply-lamp")
    assert case.advice().tree_says == f"The tree asks for SUPPLY, which nobody could tell. {goes_on}"
    nothing_lit = (DARK, ("main-switch", "on"), ("ready-lamp", "dark"))
    case = case_of(mixer, OLGA, *nothing_lit)
    mains = "The tree asks for Mains at the supply terminals"
    assert case.advice().tree_says == f"{mains}, which is for another role. {goes_on}"
    case = case_of(mixer, ANN, *nothing_lit)
    assert case.advice().tree_says == ""
    measure = next_of(case)
    assert (measure.kind, measure.title, measure.how) == ("check", "Measure: Mains at the supply terminals", "")
    assert (measure.tool, measure.by_tree) == ("multimeter on V a.c., CAT III", True)
    case.post(Skipped(action="measure-mains"))
    assert case.advice().tree_says == f"{mains}, which was set aside or cannot be told now. {goes_on}"
    case = case_of(mixer, ANN, DARK, ("main-switch", "off"))
    assert case.advice().tree_says == "The tree points to: Main switch left off."
    no_tree = replace(mixer, start="")
    assert case_of(no_tree, ANN).advice().tree_says == ""


def test_an_operator_marks_what_a_call_will_ask_for(mixer: Machine) -> None:
    case = case_of(mixer, OLGA, LIT, ("box-display", "idle"))
    first, call, second, _ = shown(case)
    marked = "Mark it before you call: it will be asked. N more after it."
    assert (first, second) == (("look", "Ask: Smell", marked), ("look", "Look at READY", marked))
    assert call[:2] == ("call", "Call the engineer")
    case.say("smell", "none")
    case.say("ready-lamp", "lit")
    assert told(next_of(case)) == ("look", "Ask: Main switch", "Mark it before you call: it will be asked.")
    case.say("main-switch", "on")
    assert next_of(case).kind == "call"


def test_how_a_reset_went_is_asked_before_anything_else(mixer: Machine) -> None:
    case = case_of(mixer, ANN, LIT, ("box-display", "G0"))
    case.post(ResetDone(reset="panel-reset"))
    why = "What a reset does is evidence: a lasting fault comes back, and a cleared one may not."
    assert shown(case) == [("look", "Fault reset: what happened after it?", why)]
    assert next_of(case).gives == ("panel-reset",)


FAILED = "The remedy did not cure it: say so, or look again"
SAY_SO = "If the fault is still there, say so: then looking for the cause goes on."


def test_what_a_remedy_waits_for(mixer: Machine) -> None:
    case = case_of(mixer, ANN, ("box-display", "G0"), ("guard-seen", "up"))
    case.post(Remedied(remedy="guard-not-down"))
    looks = [
        ("look", "Look at Display", "Proof of the cure: it should be idle."),
        ("look", "Look at READY", "Proof of the cure: it should be lit."),
        ("check", "Guard contact, measured", "Proof of the cure: it should be closed."),
    ]
    failed = ("failed", FAILED, SAY_SO)
    assert shown(case) == [*looks, failed]
    assert case.advice().tree_says == ""
    for indication, _, _ in case.state.proof:
        case.cannot_tell(indication)
    says = "Not everything that proves the cure could be told, so it is not proved. Look again, or close it as running."
    assert case.advice().tree_says == says
    assert shown(case) == [*looks, failed]
    case.say("ready-lamp", "dark")
    todo, *others = shown(case)
    assert todo == ("failed", FAILED, "READY is dark, and should be lit.")
    assert ("look", "Look at READY", "Proof of the cure: it should be lit. It was dark.") in others


def test_a_latched_state_is_reset_once_its_cause_is_cured(mixer: Machine) -> None:
    case = case_of(mixer, ANN, ("box-display", "d2"), ("motor-warm", "hot"))
    case.post(Remedied(remedy="let-cool"))
    case.say("box-display", "d2")
    todo = next_of(case)
    latched = "Display is drive-trip, and should be idle. It is latched, so it stays until it is reset."
    assert told(todo) == ("reset", "Fault reset", latched)
    assert todo.how == "Press the blue key beside the display once"
    others = [told(a) for a in case.advice().others]
    assert others[-1] == ("failed", FAILED, "Display is drive-trip, and should be idle.")


def test_what_is_proved_is_closed_once_the_machine_is_back_in_service(mixer: Machine) -> None:
    case = case_of(mixer, ANN, ("box-display", "d2"), ("motor-warm", "hot"))
    case.post(Remedied(remedy="let-cool"))
    case.say("box-display", "idle")
    case.say("ready-lamp", "lit")
    closing = ("close", "Close the case: cured and proved")
    assert shown(case) == [(*closing, "Every fact that proves the cure was found after the remedy.")]
    assert next_of(case).id == "close"


def test_what_proves_a_cure_may_be_for_another_role_to_see(mixer: Machine) -> None:
    """Then it is time to call, and to say so if the fault is still there."""
    hidden = {id: replace(c, who=(Role.ENGINEER,)) for id, c in mixer.checks.items() if "box-display" in c.gives}
    ready = {id: replace(c, who=(Role.ENGINEER,)) for id, c in mixer.checks.items() if "ready-lamp" in c.gives}
    machine = replace(mixer, checks={**mixer.checks, **hidden, **ready})
    case = case_of(machine, ANN, ("motor-warm", "hot"))
    case.post(Remedied(remedy="let-cool"))
    assert shown(case) == [
        ("call", "Call the engineer", "What proves the cure is for another role to see."),
        ("failed", FAILED, SAY_SO),
    ]


def test_a_reset_is_offered_with_what_it_clears_once_what_it_wipes_was_noted(mixer: Machine) -> None:
    case = case_of(mixer, ANN)
    reset = case.action("panel-reset")
    assert (reset.kind, reset.title, reset.minutes, reset.how) == ("reset", "Fault reset", 1.0, "")
    assert reset.why == "the latched trip of the drive, once its cause is gone"
    assert (reset.permission.how, reset.permission.now) == (False, False)
    assert reset.permission.because == "Note first, because a reset wipes it: Display"
    case.say("box-display", "G0")
    open_now = case.action("panel-reset")
    assert (open_now.how, open_now.permission.now) == ("Press the blue key beside the display once", True)
    case.say("box-display", "d1")
    blocked = case.action("panel-reset")
    assert (blocked.how, blocked.permission.how, blocked.permission.now) == ("", False, False)
    assert blocked.permission.because.startswith("A protective device has operated.")


def test_a_remedy_says_what_to_bring_and_nothing_of_how_before_the_gate(mixer: Machine) -> None:
    case = case_of(mixer, ANN)
    unit = case.action("supply-unit-failed")
    assert (unit.kind, unit.title) == ("remedy", "Remedy for: 24 V supply unit failed")
    assert (unit.tool, unit.minutes, unit.access, unit.zone) == (
        "insulated screwdriver; 24 V 5 A supply unit",
        35.0,
        Access.DEAD,
        "control-box",
    )
    assert unit.who == (Role.ELECTRICIAN, Role.ENGINEER)
    assert unit.how == ""
    lock_out(case)
    assert case.action("supply-unit-failed").how == "Replace the supply unit"


def test_where_a_check_is_done_is_that_of_what_it_gives_when_that_is_one_place(mixer: Machine) -> None:
    supply, ready = mixer.checks["see-supply-lamp"], mixer.checks["see-ready-lamp"]

    def where(**changed: object) -> str:
        machine = replace(mixer, checks={**mixer.checks, supply.id: replace(supply, **changed)})  # type: ignore[arg-type]
        return case_of(machine, ANN).action(supply.id).where

    assert where(where="behind the flour silo") == "behind the flour silo"
    assert where(where="") == "front of the control box, top left"
    assert where(where="", gives=(*supply.gives, *ready.gives)) == "", "two places"
    assert where(where="", gives=(*supply.gives, "main-switch")) == "front of the control box, top left", "no question"


def test_a_remedy_that_failed_and_a_check_set_aside_are_offered_no_more(mixer: Machine) -> None:
    case = case_of(mixer, ANN, ("box-display", "G0"), ("guard-seen", "up"))
    case.post(Remedied(remedy="guard-not-down"))
    case.post(RemedyFailed(remedy="guard-not-down"))
    assert "Lower the guard all the way" not in [title for _, title, _ in shown(case)]
    assert not {"see-box-display", "ask-guard-seen"} & {c.id for c in case.advice().checks} or case.state.round > 1


@pytest.mark.parametrize(
    ("role", "whom"), [(Role.OPERATOR, "electrician"), (Role.ELECTRICIAN, "engineer"), (Role.ENGINEER, "engineer")]
)
def test_whom_to_call_goes_by_who_cures_what_is_likely(mixer: Machine, role: Role, whom: str) -> None:
    """An operator calls the electrician where one will do; the others call the engineer."""
    case = case_of(mixer, Person("Kim", role), LIT, ("box-display", "d2"))
    call = next(a for a in case.advice().others if a.kind == "call")
    assert (call.id, call.title) == (whom, f"Call the {whom}")
    nobody = replace(mixer, call={Role.ENGINEER: BOARD})
    case = case_of(nobody, Person("Kim", role), LIT, ("box-display", "d2"))
    assert next(a for a in case.advice().others if a.kind == "call").id == "engineer"


def test_a_remedy_inside_is_named_after_what_it_is_for(mixer: Machine) -> None:
    """What it does waits for the gate. Where it is to be done the likeliest cause goes first; in a record it may have
    been for any of them."""
    inside = replace(mixer.remedies["let-cool"], access=Access.DEAD, zone="control-box")
    lost = replace(mixer.causes["mains-lost"], remedy=inside)
    both = ("drive-overload", "bowl-too-full")
    shared = {id: replace(mixer.causes[id], remedy=inside) for id in both}
    two = replace(mixer, causes={**mixer.causes, **shared})
    now = {"bowl-too-full": 0.5, "drive-overload": 0.25, "mains-lost": 0.125}
    assert remedy_title(two, inside, now) == "Remedy for: Bowl too full, or 1 other cause"
    assert remedy_title(two, inside) == "Remedy for: Drive tripped on temperature; Bowl too full"
    three = replace(two, causes={**two.causes, "mains-lost": lost})
    assert remedy_title(three, inside, now) == "Remedy for: Bowl too full, or 2 other causes"
    assert remedy_title(three, inside) == "Remedy for: No mains at the mixer; Drive tripped on temperature, and 1 more"
    one = mixer.remedies["guard-contact-failed"]
    assert remedy_title(mixer, one, now) == remedy_title(mixer, one) == "Remedy for: Guard contact failed"
    assert remedy_title(mixer, mixer.remedies["let-cool"], now) == mixer.remedies["let-cool"].do


LIKELY_AT_ALL = 0.01


@pytest.mark.parametrize(
    "said",
    [
        (),
        (LIT,),
        (LIT, ("motor-warm", "warm")),
        (DARK, ("box-display", "d2")),
        (DARK, ("before-stop", "stiff-dough"), ("box-display", "G0")),
    ],
)
def test_ruled_out_is_what_was_likely_after_some_of_the_facts_and_is_not_now(
    mixer: Machine, said: tuple[tuple[str, str], ...]
) -> None:
    """From one in a hundred on; the cause that stood highest first, with the fact that speaks most against it."""
    case, stood = case_of(mixer, ANN), dict[str, float]()
    for step in range(len(said) + 1):
        if step:
            case.say(*said[step - 1])
        for cause in case.ranking():
            stood[cause.id] = max(stood.get(cause.id, 0.0), cause.probability)
    now = {cause.id: cause.probability for cause in case.ranking()}
    gone = [id for id in stood if stood[id] >= LIKELY_AT_ALL > now[id] and id in mixer.causes]
    found = case.ruled_out()
    assert [id for id, _, _ in found] == sorted(gone, key=lambda id: -stood[id])
    for id, share, against in found:
        assert share == pytest.approx(now[id])
        worst = min(case.evidence(id), key=lambda weight: weight.decibans)
        assert against == (worst.text if worst.decibans < 0 else "")


def test_the_bound_of_what_is_ruled_out_is_one_in_a_hundred(mixer: Machine) -> None:
    """The cases above have causes just above and just below it, now and before."""
    above, below = case_of(mixer, ANN, LIT), case_of(mixer, ANN, LIT, ("motor-warm", "warm"))
    left_off = [next(c.probability for c in case.ranking() if c.id == "switched-off") for case in (above, below)]
    assert 0.02 > left_off[0] > 0.01 > left_off[1] > 0.005
    assert "switched-off" not in [id for id, _, _ in above.ruled_out()]
    assert "switched-off" in [id for id, _, _ in below.ruled_out()]
    never = case_of(mixer, ANN, DARK, ("box-display", "d2"))
    assert "lamp-failed" not in [id for id, _, _ in never.ruled_out()], "it never stood at a hundredth"


@pytest.mark.parametrize(("chance", "named"), [(0.04, False), (0.0499, False), (0.05, True), (0.09, True)])
def test_two_causes_are_named_when_they_are_as_likely_as_one_in_twenty(
    mixer: Machine, monkeypatch: pytest.MonkeyPatch, chance: float, named: bool
) -> None:
    case = case_of(mixer, ANN, LIT)
    pair = Pair(("switched-off", "guard-not-down"), chance)
    monkeypatch.setattr("diag.case.advice.weighing.misfit", lambda belief: Misfit(9.0, (Again(0, 5.0),), pair, chance))
    two = ", or two causes: Main switch left off and Guard not all the way down" if named else ""
    assert case.advice().odd == f"No single cause explains this: look again at SUPPLY{two}."


def test_a_way_that_was_set_aside_proves_a_cure_last(mixer: Machine) -> None:
    """Of two ways to see it the other one is advised; where there is no other, it is that one all the same."""
    second = replace(mixer.checks["see-ready-lamp"], id="see-ready-again", title="Look at READY from the door")
    machine = replace(mixer, checks={**mixer.checks, second.id: second})
    case = case_of(machine, ANN, ("box-display", "d2"))
    case.post(Remedied(remedy="let-cool"))
    case.say("box-display", "idle")
    assert next_of(case).title == "Look at READY"
    case.post(Skipped(action="see-ready-lamp"))
    assert next_of(case).title == "Look at READY from the door"
    case.post(Skipped(action="see-ready-again"))
    assert next_of(case).title == "Look at READY"


def test_the_tree_goes_on_once_its_instruction_was_carried_out(mixer: Machine) -> None:
    case = case_of(mixer, ANN, LIT, ("box-display", "d2"))
    todo = next_of(case)
    assert todo.kind == "do"
    case.post(Did(tree=todo.id, text=todo.title))
    assert (next_of(case).title, next_of(case).by_tree) == ("Ask: Motor housing", True)


def test_what_was_found_before_the_case_gives_way_to_what_was_found_in_it(mixer: Machine) -> None:
    """Whichever of the two was entered first."""
    here, told = ("supply-lamp", "lit"), ("supply-lamp", "dark")
    found = []
    for order in ((here, told), (told, here)):
        case = case_of(mixer, ANN)
        for indication, text in order:
            case.say(indication, text, before="Carl" if (indication, text) == told else "")
        found.append([(c.id, c.probability) for c in case.ranking()])
    alone = [(c.id, c.probability) for c in case_of(mixer, ANN, here).ranking()]
    assert found[0] == found[1] == alone
