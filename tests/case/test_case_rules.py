"""What may be entered, and what is refused in one line."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import get_args

import pytest
from case_steps import ANN, BOX, OLGA, START, Ticking, gate, go_back, live, lock_out, next_of, probability

from diag.case.case import MOST_SAID, Case, names
from diag.case.log import events as e
from diag.case.log.replay import replay
from diag.machine.model import Machine, Role
from diag.machine.states.say import CannotRead
from diag.safety import Act, Person, Refused


class Still:
    """A clock that a test sets."""

    now = START

    def __call__(self) -> datetime:
        return self.now


def opened(machine: Machine, person: Person = ANN) -> Case:
    return Case.open(machine, person, clock=Ticking())


def refused(case: Case, event: e.Event) -> str:
    """Why it is refused; and nothing was changed by it."""
    was, told = case.state, case.refusal(event)
    with pytest.raises(Refused) as error:
        case.post(event)
    assert case.state == was
    text = str(error.value)
    assert told == text
    assert "\n" not in text
    return text


def test_which_events_may_be_taken_back() -> None:
    union, _ = get_args(e.Event)
    events = get_args(union)
    assert e.Found in events
    keeps = {e.Opened, e.TookOver, e.Joined, e.MadeSafe, e.Resumed, e.Gate, e.TakenBack}
    keeps |= {e.TagFound, e.TagDown, e.OwnerAbsent, e.OwnerTold, e.ListsRepaired}
    assert set(events) - set(get_args(e.Undoable)) == keeps


def test_names_that_do_not_exist(mixer: Machine) -> None:
    case = opened(mixer)
    for event in (
        e.Found(indication="suply-lamp", seen={"lit": 1.0}),
        e.Found(indication="supply-lamp", seen={"blue": 1.0}),
        e.Found(indication="supply-lamp", seen={"lit": 1.0}, check="see-ready-lamp"),
        e.Found(indication="supply-lamp", seen={"lit": 1.0}, check="no-such-check"),
        e.Found(indication="supply-lamp", seen={"lit": 0.0}),
        e.CannotTell(indication="nothing"),
        e.Skipped(action="nothing"),
        e.Did(tree="first-look", text="Open the cabinet"),
        e.Did(tree="nothing", text=""),
        e.ResetDone(reset="nothing"),
        e.Remedied(remedy="nothing"),
        e.RemedyFailed(remedy="let-cool"),
        e.Gate(zone="nothing", act=Act.TOLD),
        e.Gate(zone=BOX, act=Act.OFF_AND_LOCKED, target="nothing"),
        e.TakenBack(seq=1),
        e.TakenBack(seq=2),
        e.TakenBack(seq=99),
        e.Noted(text=" \n "),
        e.Closed(outcome="cured"),
        e.Closed(outcome="cured", cause="nothing"),
        e.Closed(outcome="handed-over", to="  "),
        e.Opened(machine="mixer", revision=""),
        e.TookOver(person=" ", role=Role.ENGINEER),
    ):
        assert refused(case, event)
    assert "supply-lamp" in refused(case, e.Found(indication="suply-lamp", seen={"lit": 1.0}))


def test_what_cannot_be_read(mixer: Machine) -> None:
    case = opened(mixer)
    for indication, text in (("supply-lamp", "purple"), ("nothing", "lit"), ("supply-lamp", "x" * (MOST_SAID + 1))):
        with pytest.raises(CannotRead):
            case.say(indication, text)
    with pytest.raises(CannotRead):
        case.say("supply-lamp", "lit", before="x" * 300)
    assert case.state.facts == ()


def test_a_nameless_person_opens_no_case(mixer: Machine) -> None:
    with pytest.raises(Refused, match="Say who you are"):
        opened(mixer, Person("\x1b \t", Role.OPERATOR))


def test_an_answer_from_inside_is_not_taken_as_done_now(mixer: Machine) -> None:
    case = opened(mixer)
    measured = e.Found(indication="drive-fuse", seen={"open": 1.0}, check="test-drive-fuse")
    assert "First lock out" in refused(case, measured)
    assert "is inside" in refused(case, measured.model_copy(update={"check": ""}))
    case.post(measured.model_copy(update={"before": "Carl"}))
    lock_out(case)
    case.post(measured)
    assert [f.before for f in case.state.facts] == ["Carl", ""]
    assert "is inside" in refused(case, measured.model_copy(update={"check": ""}))


def test_an_operator_never_answers_from_inside(mixer: Machine) -> None:
    case = opened(mixer, OLGA)
    assert case.action("measure-mains").how == ""
    assert "electrician" in refused(case, e.Found(indication="mains", seen={"good": 1.0}, check="measure-mains"))
    assert "electrician" in refused(case, e.Gate(zone=BOX, act=Act.TOLD))
    assert case.state.steps[BOX] == ()
    case.say("mains", "400 V", before="Ann")
    assert case.state.current["mains"] == "good"


@pytest.mark.source(
    "semantics of rounds: a lamp seen dark because someone switched off is no evidence", found="common practice"
)
def test_a_fact_in_the_wrong_energy_state_carries_no_evidence(mixer: Machine) -> None:
    case = opened(mixer)
    lock_out(case)
    prior = [(c.id, c.probability) for c in case.advice().causes]
    case.say("supply-lamp", "dark")
    fact = case.state.facts[-1]
    assert not fact.counts
    assert "power off" in fact.why
    assert case.state.current["supply-lamp"] == "dark", "the panel drawing shows it"
    assert [(c.id, c.probability) for c in case.advice().causes] == prior
    todo = next_of(case)
    assert (todo.gives, todo.permission.way) == (("supply-lamp",), "restore"), "the tree asks for it with the power on"
    go_back(case)
    case.say("supply-lamp", "dark")
    assert case.state.facts[-1].counts
    assert [(c.id, c.probability) for c in case.advice().causes] != prior


def test_a_contact_by_continuity_counts_only_with_the_power_off(mixer: Machine) -> None:
    case = opened(mixer)
    case.say("guard-seen", "down")
    lock_out(case)
    assert case.state.round > 1, "a change of energy starts a round"
    case.say("guard-contact", "open", check="try-guard-contact")
    assert case.state.facts[-1].counts
    assert case.advice().causes[0].id == "guard-contact-failed"


def test_a_danger_sign_goes_before_everything(mixer: Machine) -> None:
    case = opened(mixer)
    case.say("smell", "burning")
    advice = case.advice()
    assert (advice.next, advice.checks, advice.others) == (None, (), ())
    assert case.state.danger.startswith("Keep away")
    assert case.state.banner.level == "danger"
    case.say("supply-lamp", "dark")
    for event in (
        e.ResetDone(reset="panel-reset"),
        e.Remedied(remedy="guard-not-down"),
        e.Gate(zone=BOX, act=Act.TOLD),
        e.Found(indication="mains", seen={"good": 1.0}, check="measure-mains"),
        e.Did(tree="first-look", text="Note the code, and ask what was in the bowl"),
        e.Closed(outcome="running"),
    ):
        assert refused(case, event)
    case.post(e.Called(role=Role.ENGINEER))
    case.undo()
    case.undo()
    case.undo()
    assert case.state.danger == ""
    assert next_of(case).gives == ("supply-lamp",)


def test_resets_are_counted_and_one_belongs_to_a_remedy(mixer: Machine) -> None:
    case = opened(mixer)
    case.say("box-display", "G0")
    for _ in range(2):
        case.post(e.ResetDone(reset="panel-reset"))
        case.say("panel-reset", "back-at-once")
        case.say("box-display", "G0")
    assert "2 resets done" in refused(case, e.ResetDone(reset="panel-reset"))
    case.post(e.Remedied(remedy="guard-not-down"))
    case.say("box-display", "G0")
    case.post(e.ResetDone(reset="panel-reset"))
    assert refused(case, e.ResetDone(reset="panel-reset"))
    assert case.state.resets[0].done == 3
    case.post(e.RemedyFailed(remedy="guard-not-down"))
    assert refused(case, e.ResetDone(reset="panel-reset"))


@pytest.mark.source("29 CFR 1910.334(b)(2)", found="from memory")
def test_no_reset_after_a_protective_device_has_operated(mixer: Machine) -> None:
    for before in ("", "Carl"):
        case = opened(mixer)
        case.say("box-display", "d2", before=before)
        assert "A protective device has operated" in refused(case, e.ResetDone(reset="panel-reset"))
        case.say("box-display", "--")
        assert refused(case, e.ResetDone(reset="panel-reset")), "it has operated, whatever is shown now"
    doubtful = opened(mixer)
    doubtful.post(e.Found(indication="box-display", seen={"drive-trip": 0.6, "guard-open": 1.0}))
    assert refused(doubtful, e.ResetDone(reset="panel-reset")), "a doubtful trip counts as one"


def test_an_outcome_needs_its_reset(mixer: Machine) -> None:
    case = opened(mixer)
    outcome = e.Found(indication="panel-reset", seen={"ran-on": 1.0})
    assert "was not done" in refused(case, outcome)
    case.post(outcome.model_copy(update={"before": "Carl"}))


def test_a_remedy_waits_for_its_proof_before_the_next(mixer: Machine) -> None:
    case = opened(mixer)
    case.post(e.Remedied(remedy="guard-not-down"))
    assert "Say first whether" in refused(case, e.Remedied(remedy="let-cool"))
    assert "Not proved yet" in refused(case, e.Closed(outcome="cured", cause="guard-not-down"))
    assert "not entered as done" in refused(case, e.Closed(outcome="cured", cause="mains-lost"))
    case.post(e.Closed(outcome="running"))
    assert case.state.closed == "running"


def test_a_remedy_for_two_causes_is_proved_by_what_both_name_and_by_what_was_seen_wrong(mixer: Machine) -> None:
    full = replace(mixer.causes["bowl-too-full"], proof={"ready-lamp": ("lit",)})
    machine = replace(mixer, causes={**mixer.causes, full.id: full})
    assert set(machine.causes["drive-overload"].proof) == {"box-display", "ready-lamp"}
    for display, proves in (("idle", {"ready-lamp"}), ("d2", {"box-display", "ready-lamp"})):
        case = opened(machine)
        case.say("box-display", display)
        case.post(e.Remedied(remedy="let-cool"))
        assert {i for i, _, _ in case.state.proof} == proves, display


def test_a_cause_that_is_not_in_the_file_is_cured_when_what_was_wrong_is_normal(mixer: Machine) -> None:
    case = opened(mixer)
    assert "nothing that would prove it" in refused(case, e.Closed(outcome="cured", cause="unlisted"))
    case.say("ready-lamp", "dark")
    assert "READY" in refused(case, e.Closed(outcome="cured", cause="unlisted"))

    case.say("ready-lamp", "lit")
    case.post(e.Closed(outcome="cured", cause="unlisted"))
    assert case.state.closed == "cured"


def test_undo_takes_back_steps_at_a_gate_and_entries_between_them_the_last_one_first(mixer: Machine) -> None:
    def confirm() -> None:
        step = case.state.steps[BOX][0]
        case.post(e.Gate(zone=BOX, act=step.act, target=step.target))

    case = opened(mixer)
    before = case.state.steps[BOX]
    confirm()
    after = case.state.steps[BOX]
    case.post(e.Noted(text="The guard is up"))
    confirm()
    case.undo()
    assert (case.state.steps[BOX], case.state.notes != ()) == (after, True)
    case.undo()
    assert (case.state.steps[BOX], case.state.notes) == (after, ())
    case.undo()
    assert case.state.steps[BOX] == before


def test_live_work_lapses(mixer: Machine) -> None:
    for event in (
        e.TookOver(person="Ann", role=Role.ENGINEER, authorised=True, qualified=True),
        e.Resumed(),
        e.Closed(outcome="handed-over", to="Bob"),
        e.Closed(outcome="running"),
    ):
        case = opened(mixer)
        live(case)
        assert case.action("measure-mains").how
        case.post(event)
        assert case.state.live is None
        assert case.action("measure-mains").how == ""


def test_the_wait_on_the_label_comes_before_the_word(mixer: Machine) -> None:
    """Nothing of what comes after it is taken while it runs, so nothing inside is open; its end alone opens nothing."""
    clock = Still()
    case = Case.open(mixer, ANN, clock=clock)
    while (step := case.state.steps[BOX][0]).act is not Act.RELEASED:
        gate(case, step.act, step.target)
    end = case.state.waits[step.target]
    clock.now = end - timedelta(seconds=1)
    assert "the wait on its label is not over" in refused(case, e.Gate(zone=BOX, act=step.act, target=step.target))
    for act, target in ((Act.START_TRIED, ""), (Act.OPENED, ""), (Act.METER_PROVED, ""), (Act.TESTED_DEAD, "")):
        refused(case, e.Gate(zone=BOX, act=act, target=target))
    assert case.state.banner.level == "locking"
    assert not case.action("test-drive-fuse").permission.how
    clock.now = end
    assert case.state.banner.level == "locking", "nobody has said or measured anything yet"
    lock_out(case)
    assert case.state.banner.level == "dead"
    assert case.action("test-drive-fuse").permission.now


def test_a_record_in_which_the_wait_was_not_over_makes_nothing_dead(mixer: Machine) -> None:
    """Written by other hands, or before the rule: what it says of the release gives nothing, and all stands stopped."""
    case = opened(mixer)
    lock_out(case)
    assert case.state.banner.level == "dead"
    record = [s for s in case.entries if isinstance(s, e.Stamped)]
    n = next(n for n, s in enumerate(record) if isinstance(s.event, e.Gate) and s.event.act is Act.RELEASED)
    forged = [*record[:n], record[n].model_copy(update={"at": record[n - 1].at}), *record[n + 1 :]]
    state = replay(mixer, case.id, forged).projection().state
    assert state.banner.level == "stop"
    assert "the wait on its label is not over" in state.problems[0]


def test_the_countdown_informs(mixer: Machine) -> None:
    case = opened(mixer)
    for act, target in ((Act.TOLD, ""), (Act.SHUT_DOWN, ""), (Act.OFF_AND_LOCKED, "main-switch-q1")):
        gate(case, act, target)
    assert case.state.countdown is None
    gate(case, Act.OFF_AND_LOCKED, "lift-permit")
    assert case.state.countdown is not None
    assert (case.state.countdown - case.state.last).total_seconds() == 60
    end = case.state.countdown
    gate(case, Act.RELEASED, "arm-weight")
    assert case.state.waits == {"arm-weight": end}, "said to be released; when it could be said stays known"
    gate(case, Act.BACK, "")
    assert case.state.countdown is None


def test_control_characters_are_not_kept(mixer: Machine) -> None:
    case = opened(mixer)
    case.post(e.Noted(text="first\nsecond\x1b[2J\u202eright"))
    assert [note.text for note in case.state.notes] == ["first\nsecond [2J right"]
    case.say("supply-lamp", "dark", before="Carl\x07\nMiller\ud800")
    assert case.state.facts[0].before == "Carl Miller"


def test_case_names_are_short_and_never_twice() -> None:
    at = Ticking()()
    ids = [id for _, id in zip(range(600), names(at), strict=False)]
    assert len(set(ids)) == 600
    day = f"{at.astimezone():%m%d}"
    assert ids[0] == f"{day}-a"
    assert ids[23] == f"{day}-aa"
    assert max(map(len, ids)) <= 8


def test_skipped_is_not_offered_until_a_new_round(mixer: Machine) -> None:
    case = opened(mixer)
    first = next_of(case).id
    case.post(e.Skipped(action=first, why="cannot be reached"))
    advice = case.advice()
    assert first not in {a.id for a in (next_of(case), *advice.others, *advice.checks)}
    assert "set aside" in advice.tree_says
    assert case.action(first).how, "asked for, it is shown"
    case.post(e.Remedied(remedy="guard-not-down"))
    case.post(e.RemedyFailed(remedy="guard-not-down"))
    assert next_of(case).id == first


def test_evidence_speaks_for_and_against(mixer: Machine) -> None:
    case = opened(mixer)
    case.say("box-display", "G0")
    case.say("guard-seen", "down")
    weights = case.evidence("guard-not-down")
    assert [w.text for w in weights] == ["Display: guard-open (the guard circuit is open)", "Guard: down"]
    assert weights[0].decibans > 0 > weights[1].decibans
    assert [w.fact for w in weights] == [f.seq for f in case.state.facts]
    with pytest.raises(KeyError):
        case.evidence("nothing")
    assert probability(case, "guard-contact-failed") > 0.5
