"""The words for why an action is advised, at the bounds where they change."""

from __future__ import annotations

from dataclasses import replace

import pytest
from case_steps import ANN, OLGA, Ticking

from diag.case.advice import rationale
from diag.case.case import Case
from diag.case.log import events as e
from diag.machine.model import UNLISTED, Machine, Role
from diag.reason.advice.one_step import Outcome, PlannedAction


def look(saved: float, *outcomes: Outcome) -> PlannedAction:
    return PlannedAction("check", "see-supply-lamp", 1.0, 0.0, saved, outcomes)


DARK = Outcome((("supply-lamp", "dark"),), 0.6, "mains-lost", 0.7)
LIT = Outcome((("supply-lamp", "lit"),), 0.3, "lamp-failed", 0.5)
DIM = Outcome((("supply-lamp", "dim"),), 0.1, UNLISTED, 0.4)


@pytest.mark.parametrize(
    ("saved", "next_saves", "told"),
    [
        (0.99, None, ""),
        (1.0, None, "Saves about 1 min."),
        (5.0, None, "Saves about 5 min."),
        (5.0, 4.1, "Saves about 5 min."),
        (5.0, 4.0, "Saves about 5 min, 1 more than the next best."),
        (5.0, 2.0, "Saves about 5 min, 3 more than the next best."),
    ],
)
def test_minutes_saved_are_told_from_one_minute_on(
    mixer: Machine, saved: float, next_saves: float | None, told: str
) -> None:
    following = None if next_saves is None else look(next_saves)
    assert rationale.of_check(mixer, look(saved), following).strip() == told


def test_the_two_likeliest_answers_are_told_and_every_one_has_its_lead(mixer: Machine) -> None:
    choice = look(3.0, DARK, LIT, DIM)
    why = rationale.of_check(mixer, choice)
    assert why.startswith("Dark would point to No mains at the mixer, 70")
    assert "; lit would point to Supply lamp failed, 50" in why
    assert "dim" not in why
    assert len(rationale.leads(mixer, choice)) == 3
    assert "dim; then " in rationale.leads(mixer, choice)[2]


def test_of_several_answers_those_off_their_normal_state_are_told(mixer: Machine) -> None:
    def shown(*states: tuple[str, str]) -> str:
        (lead,) = rationale.leads(mixer, look(3.0, Outcome(states, 0.5, "mains-lost", 0.5)))
        return lead.split(": ", 1)[1].split("; then")[0]

    assert shown(("supply-lamp", "lit"), ("ready-lamp", "lit")) == "all normal"
    assert shown(("supply-lamp", "dark"), ("ready-lamp", "lit")) == "SUPPLY dark"
    assert shown(("supply-lamp", "dark"), ("guard-seen", "up")) == "SUPPLY dark and up", "a question is left out"


def test_a_remedy_is_told_for_two_causes_and_how_many_more(mixer: Machine) -> None:
    remedy = mixer.remedies["let-cool"]
    now = {"bowl-too-full": 0.25, "drive-overload": 0.5, "mains-lost": 0.125}
    two = rationale.of_remedy(mixer, remedy, now)
    assert two.startswith("For Drive tripped on temperature or Bowl too full: together 75")
    lost = replace(mixer.causes["mains-lost"], remedy=remedy)
    more = replace(mixer, causes={**mixer.causes, "mains-lost": lost})
    assert "Bowl too full or one of 1 more: together " in rationale.of_remedy(more, remedy, now)
    one = mixer.causes["guard-not-down"].remedy
    assert one is not None
    assert rationale.of_remedy(mixer, one, {"guard-not-down": 0.5}).startswith("For Guard not all the way down: 50")
    assert rationale.of_remedy(mixer, replace(one, id="of-none"), {}) == ""


def test_a_remedy_that_comes_sooner_is_told_with_its_way_there_and_at_least_a_minute(mixer: Machine) -> None:
    top = mixer.causes["mains-lost"]
    quick, slow = PlannedAction("remedy", "a", 0.2, 0.0, 0.0), PlannedAction("remedy", "b", 15.0, 10.0, 0.0)
    told = rationale.sooner(quick, slow, top, 0.5)
    assert told.startswith("First because it takes 1 min; the remedy of “No mains at the mixer”, 50")
    assert told.endswith("takes 25.")


def test_what_may_be_missing_is_told_where_nothing_else_can_be() -> None:
    start = "No single cause explains this: "
    assert rationale.of_odd((), ()) == f"{start}something may be missing from the file."
    assert rationale.of_odd(("Display", "Is it warm?"), ()) == f"{start}look again at Display or “Is it warm?”."
    assert rationale.of_odd((), ("one", "two")) == f"{start}two causes: one and two."
    assert (
        rationale.of_odd(("Display",), ("one", "two")) == f"{start}look again at Display, or two causes: one and two."
    )


def test_a_call_is_told_with_the_reason_for_it(mixer: Machine) -> None:
    def why(case: Case, due: bool = True) -> str:
        return rationale.of_call(case._projection, Role.ENGINEER, due)

    ann, olga = (Case.open(mixer, person, clock=Ticking()) for person in (ANN, OLGA))
    assert why(ann, due=False) == why(olga, due=False) == "When you cannot go on, or may not."
    assert why(ann) == "No check and no remedy is worth its minutes against a call."
    assert why(olga).startswith("Nothing more that you may do from outside is worth its minutes.")
    for case in (ann, olga):
        case.say("box-display", "d1")
    assert why(ann) == "No check and no remedy is worth its minutes against a call."
    assert why(olga).startswith("A protective device has operated.")
    for case in (ann, olga):
        case.post(e.Called(role=Role.ENGINEER))
        assert why(case).startswith("Called already.")
