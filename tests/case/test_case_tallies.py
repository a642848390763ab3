"""What is counted and waited for: resets of the machine's cases, waits on labels, the facts that prove a cure."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from case_steps import ANN, BOX

from diag.case.log import events as e
from diag.case.log import proof_facts as proof
from diag.case.log.others import Others
from diag.case.log.projection import known
from diag.case.log.tallies import reset_counts, waiting, waits
from diag.case.snapshot import Fact
from diag.machine.model import Machine
from diag.safety import Act, Isolation

AT = datetime(2030, 1, 2, 3, 0, tzinfo=UTC)
HOUR = timedelta(hours=1)


def after(machine: Machine, *entered: tuple[str, float, e.Event]) -> Others:
    """The tallies after these entries: the case, hours from the start, and the event."""
    others = Others()
    for n, (case, hours, event) in enumerate(entered, 1):
        others = others.after(machine, case, e.Stamped(seq=n, at=AT + hours * HOUR, by="Ann", event=event))
    return others


RESET, REMEDIED = e.ResetDone(reset="panel-reset"), e.Remedied(remedy="let-cool")
CURED, RUNNING = e.Closed(outcome="cured", cause="bowl-too-full"), e.Closed(outcome="running")


def tripped(likely: float = 1.0, before: str = "") -> e.Found:
    return e.Found(indication="box-display", seen={"idle": 1.0, "drive-trip": likely}, before=before)


# ---------------------------------------------------------------- resets of all cases


def test_resets_count_for_a_day_and_longer_while_nothing_was_cured(mixer: Machine) -> None:
    two = after(mixer, ("a", 0, RESET), ("b", 5, RESET))
    assert two.counted(AT + 6 * HOUR) == 2
    assert two.counted(AT + 100 * HOUR) == 2, "no cure since"
    cured = after(mixer, ("a", 0, RESET), ("b", 5, RESET), ("b", 6, CURED))
    assert cured.counted(AT + 6 * HOUR) == 2, "those of the last 24 hours count whatever was cured"
    assert cured.counted(AT + 24 * HOUR - timedelta(seconds=1)) == 2
    assert cured.counted(AT + 24 * HOUR) == 1, "a day later it no longer counts"
    assert cured.counted(AT + 29 * HOUR) == 0
    running = after(mixer, ("a", 0, RESET), ("a", 1, RUNNING))
    assert running.counted(AT + 50 * HOUR) == 1, "running is no cure"
    again = after(mixer, ("a", 0, RESET), ("a", 1, CURED), ("b", 30, RESET))
    assert again.counted(AT + 60 * HOUR) == 1


def test_one_reset_belongs_to_each_remedy_of_a_case(mixer: Machine) -> None:
    assert after(mixer, ("a", 0, REMEDIED), ("a", 1, RESET)).counted(AT + HOUR) == 0
    assert after(mixer, ("a", 0, REMEDIED), ("a", 1, RESET), ("a", 2, RESET)).counted(AT + 2 * HOUR) == 1
    assert after(mixer, ("a", 0, REMEDIED), ("b", 1, RESET)).counted(AT + HOUR) == 1, "the remedy was another case's"
    assert after(mixer, ("a", 0, REMEDIED), ("a", 1, RUNNING), ("a", 2, RESET)).counted(AT + 2 * HOUR) == 1


def test_a_protective_device_stands_until_its_case_finds_the_cause(mixer: Machine) -> None:
    assert after(mixer, ("a", 0, tripped())).protective == {"a"}
    assert after(mixer, ("a", 0, tripped(0.4))).protective == set(), "less than half as likely as the likeliest"
    assert after(mixer, ("a", 0, tripped(before="Carl"))).protective == set()
    assert after(mixer, ("a", 0, e.Found(indication="gone", seen={"lit": 1.0}))).protective == set()
    assert after(mixer, ("a", 0, e.Found(indication="box-display", seen={"idle": 0.0}))).protective == set()
    assert after(mixer, ("a", 0, tripped()), ("a", 1, REMEDIED)).protective == set()
    assert after(mixer, ("a", 0, tripped()), ("b", 1, REMEDIED)).protective == {"a"}
    assert after(mixer, ("a", 0, tripped()), ("a", 1, CURED)).protective == set()
    assert after(mixer, ("a", 0, tripped()), ("b", 0, tripped()), ("a", 1, CURED)).protective == {"b"}
    assert after(mixer, ("a", 0, tripped()), ("a", 1, RUNNING)).protective == {"a"}, "running says no cause"
    assert after(mixer, ("a", 0, e.Noted(text="x"))) == Others()


# ---------------------------------------------------------------- resets of this case


def counts(
    machine: Machine, *resets: tuple[str, int], elsewhere: int = 0, proving: int = 0, noted: bool = True
) -> tuple:
    (count,), total = reset_counts(
        machine,
        Isolation(),
        ANN,
        resets,
        elsewhere,
        proving,
        {"box-display"} if noted else set(),
        protective=False,
        danger=False,
    )
    return count.done, total, count.may


def test_resets_are_counted_against_the_limit_of_the_machine(mixer: Machine) -> None:
    done = ("panel-reset", 0)
    assert counts(mixer) == (0, 0, True)
    assert counts(mixer, done) == (1, 1, True)
    assert counts(mixer, done, done) == (2, 2, False)
    assert counts(mixer, done, elsewhere=1) == (1, 2, False)
    assert counts(mixer, done, ("panel-reset", 1)) == (2, 1, True), "one belongs to the remedy"
    assert counts(mixer, done, ("panel-reset", 1), ("panel-reset", 1)) == (3, 2, False), "and no second one"
    assert counts(mixer, ("panel-reset", 1), ("panel-reset", 2)) == (2, 0, True)


def test_whoever_has_just_remedied_it_may_reset_once_whatever_was_done_before(mixer: Machine) -> None:
    done = ("panel-reset", 0)
    assert counts(mixer, done, done, done, proving=1) == (3, 1, True)
    assert counts(mixer, done, done, ("panel-reset", 1), proving=1) == (3, 2, False), "that one was done"
    assert counts(mixer, elsewhere=7, proving=1) == (0, 1, True)
    never = replace(mixer, reset_limit=0)
    assert counts(never, proving=1) == (0, 0, False), "where none is allowed none is"


def test_what_a_reset_wipes_is_noted_first(mixer: Machine) -> None:
    def because(*resets: tuple[str, int]) -> str:
        (count,), _ = reset_counts(mixer, Isolation(), ANN, resets, 0, 0, set(), protective=False, danger=False)
        assert not count.may
        return count.because

    assert because() == "Note first, because a reset wipes it: Display"
    assert because(("panel-reset", 0)) == "Note first, as it is since the last reset, because a reset wipes it: Display"
    full = because(("panel-reset", 0), ("panel-reset", 0))
    assert full.startswith("2 resets done, and the limit here is 2."), "what the rule says goes first"


# ---------------------------------------------------------------- waits


def isolated(machine: Machine, until: Act) -> Isolation:
    """The gate's own steps, up to and with the last one of that kind."""
    isolation, begun = Isolation(), False
    while (step := isolation.steps(machine, BOX, ANN)[0]).act is until or not begun:
        begun = begun or step.act is until
        isolation = isolation.apply(machine, BOX, step.act, step.target, ANN)
    return isolation


def test_a_wait_begins_with_the_last_point_and_ends_with_its_label(mixer: Machine) -> None:
    since = {"main-switch-q1": AT, "lift-permit": AT + HOUR}
    assert waits(mixer, isolated(mixer, Act.OFF_AND_LOCKED), since) == {"arm-weight": AT + HOUR + timedelta(minutes=1)}
    assert waits(mixer, isolated(mixer, Act.SHUT_DOWN), {}) == {}, "the points are on"
    none = replace(mixer, stored={"arm-weight": replace(mixer.stored["arm-weight"], wait=0.0)})
    assert waits(none, isolated(none, Act.OFF_AND_LOCKED), since) == {}
    back = isolated(mixer, Act.OFF_AND_LOCKED).apply(mixer, BOX, Act.BACK, "", ANN)
    assert waits(mixer, back, since) == {}, "on the way back nothing is waited for"


def test_what_still_waits_at_a_time(mixer: Machine) -> None:
    ends = {"arm": AT, "bus": AT + HOUR}
    assert waiting(ends, AT - HOUR) == {"arm", "bus"}
    assert waiting(ends, AT) == {"bus"}, "at its end it is over"
    assert waiting(ends, AT + HOUR) == set()
    assert waiting(ends, None) == {"arm", "bus"}, "without a time nothing is taken as over"


# ---------------------------------------------------------------- proof


def test_what_proves_a_remedy_for_one_cause_or_for_several(mixer: Machine) -> None:
    one = mixer.causes["guard-not-down"]
    assert proof.of_remedy(mixer, "guard-not-down", {}) == one.proof
    first, second = mixer.causes["drive-overload"], mixer.causes["bowl-too-full"]
    a = replace(first, proof={"ready-lamp": ("lit",), "box-display": ("idle", "start-up")})
    b = replace(second, proof={"box-display": ("start-up", "blank"), "motor-warm": ("cool",)})
    machine = replace(mixer, causes={**mixer.causes, a.id: a, b.id: b})
    assert proof.of_remedy(machine, "let-cool", {}) == {"box-display": ("start-up",)}, "what both name, as both say"
    wrong = {"motor-warm": "hot", "smell": "burning"}
    assert proof.of_remedy(machine, "let-cool", wrong) == {"box-display": ("start-up",), "motor-warm": ("cool",)}
    apart = replace(b, proof={"motor-warm": ("cool",)})
    machine = replace(machine, causes={**machine.causes, b.id: apart})
    assert proof.of_remedy(machine, "let-cool", {}) == {**a.proof, **apart.proof}, "nothing is shared: all of it"
    bare = {c.id: replace(c, proof={}) for c in (a, b)}
    machine = replace(machine, causes={**machine.causes, **bare})
    assert proof.of_remedy(machine, "let-cool", {"box-display": "drive-trip"}) == {"box-display": ("idle",)}
    odd = {a.id: replace(a, proof={"box-display": ("idle",)}), b.id: replace(b, proof={"box-display": ("blank",)})}
    machine = replace(machine, causes={**machine.causes, **odd})
    assert proof.of_remedy(machine, "let-cool", {}) == {"box-display": ("idle",)}, "they contradict: the first says"


def test_what_proves_that_an_unknown_cause_is_gone_is_that_all_is_normal_again(mixer: Machine) -> None:
    wrong = {"supply-lamp": "dark", "motor-warm": "hot"}
    assert proof.of_cause(mixer, None, wrong) == {"supply-lamp": ("lit",)}, "a question tells of the past"
    bare = replace(mixer.causes["lamp-failed"], proof={})
    assert proof.of_cause(mixer, bare, wrong) == {"supply-lamp": ("lit",)}
    assert proof.of_cause(mixer, mixer.causes["lamp-failed"], wrong) == mixer.causes["lamp-failed"].proof


def test_proof_holds_when_every_fact_is_found_and_proves(mixer: Machine) -> None:
    wanted = {"ready-lamp": ("lit",), "box-display": ("idle", "start-up")}
    facts = proof.found(wanted, {"box-display": "start-up"})
    assert facts == (("ready-lamp", ("lit",), ""), ("box-display", ("idle", "start-up"), "start-up"))
    assert not proof.holds(facts)
    assert not proof.holds(proof.found(wanted, {"ready-lamp": "dark", "box-display": "idle"}))
    assert proof.holds(proof.found(wanted, {"ready-lamp": "lit", "box-display": "idle"}))
    assert not proof.holds(()), "nothing proves nothing"


# ---------------------------------------------------------------- what a tree takes as known


def fact(indication: str, state: str, **seen: float) -> Fact:
    plain = dict.fromkeys(("said", "before", "why", "by", "title"), "")
    return Fact(
        seq=1, at=AT, indication=indication, state=state, seen=seen, round=1, counts=True, proves=False, **plain
    )


@pytest.mark.parametrize(("other", "decides"), [(0.0, True), (0.49, True), (0.5, True), (0.51, False), (1.0, False)])
def test_a_fact_decides_when_its_state_is_twice_as_likely_as_any_other(other: float, decides: bool) -> None:
    seen = fact("lamp", "lit", lit=1.0, dark=other)
    assert known([seen]) == ({"lamp": "lit"} if decides else {})
    assert known([fact("lamp", "lit", lit=1.0)]) == {"lamp": "lit"}
    later = [fact("lamp", "dark", dark=1.0), seen]
    assert known(later) == ({"lamp": "lit"} if decides else {}), "the latest look, or nothing"
