"""The doors of a case: what only asks changes nothing, what is said has a bound, and who reads adds nothing."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from case_steps import ANN, BOB, BOX, Ticking, gate, lock_out

from diag.case.case import MOST_SAID, Case
from diag.case.log import events as e
from diag.case.observe.observation import Observation
from diag.case.sitting import Sitting
from diag.machine.load import read
from diag.machine.model import Machine, Role
from diag.machine.states.say import CannotRead
from diag.record.casebook import Casebook
from diag.safety import Act, Person, Refused
from diag.tree.walk import Ask, Concluded


def test_the_ranking_alone_is_that_of_the_advice(mixer: Machine) -> None:
    case = Case.open(mixer, ANN, clock=Ticking())
    assert case.ranking() == case.advice().causes
    case.say("supply-lamp", "dark")
    assert case.ranking() == case.advice().causes
    assert sum(cause.probability for cause in case.ranking()) > 0.999


def test_likelihoods_and_priors_give_the_ranking(mixer: Machine) -> None:
    case = Case.open(mixer, ANN, clock=Ticking())
    prior = {cause.id: cause.probability for cause in case.ranking()}
    case.say("supply-lamp", "dark")
    joint = {id: p * math.exp(case.log_likelihood(id)) for id, p in prior.items()}
    for cause in case.ranking():
        assert cause.probability == pytest.approx(joint[cause.id] / sum(joint.values()))


def test_where_the_tree_stands(mixer: Machine) -> None:
    case = Case.open(mixer, ANN, clock=Ticking())
    first = case.tree_position()
    assert isinstance(first, Ask)
    action = case.advice().next
    assert action is not None
    assert action.by_tree
    assert first.indication in action.gives
    case.cannot_tell(first.indication)
    assert not isinstance(case.tree_position(), Ask | Concluded)


def test_what_would_be_refused_is_said_beforehand_and_nothing_is_entered(mixer: Machine) -> None:
    case = Case.open(mixer, ANN, clock=Ticking())
    before = case.entries
    inside = next(check for check in mixer.checks.values() if check.zone)
    indication = mixer.indications[inside.gives[0]]
    found = e.Found(indication=indication.id, seen={indication.state_ids[0]: 1.0}, check=inside.id)
    assert case.refusal(found)
    assert case.refusal(e.Gate(zone=BOX, act=Act.TOLD)) == ""
    assert case.entries == before


# ---------------------------------------------------------------- what is said


def test_an_answer_may_be_as_long_as_a_whole_list_of_alarms(mixer: Machine) -> None:
    bench = read(Path(__file__).parent.parent / "kinds" / "bench")
    case = Case.open(bench, ANN, clock=Ticking())
    longest = ("A1 " * MOST_SAID)[: MOST_SAID - 1] + "1"
    assert len(longest) == MOST_SAID
    case.say("alarms", longest)
    assert case.state.current["alarms"] == "worn"
    with pytest.raises(CannotRead) as error:
        case.say("alarms", longest + "1")
    assert str(error.value) == "that is longer than 200 characters"


def test_a_name_that_nothing_has_is_answered_with_one_that_is_near(mixer: Machine) -> None:
    case = Case.open(mixer, ANN, clock=Ticking())
    with pytest.raises(CannotRead) as error:
        case.say("suply-lamp", "lit")
    assert str(error.value).startswith("unknown indication 'suply-lamp'")
    assert error.value.nearest == "supply-lamp"
    with pytest.raises(CannotRead) as error:
        case.observe("supply-lamp", Observation({"lit": 1.0}, "lit"), before="x" * 300)
    assert str(error.value) == "a name in it is too long"


def test_who_found_it_before_and_how_it_was_said_stay_on_one_line(mixer: Machine) -> None:
    case = Case.open(mixer, ANN, clock=Ticking())
    case.observe("supply-lamp", Observation({"lit": 1.0}, "lit\x1b[2J"), before="Carl\nof the day")
    fact = case.state.facts[-1]
    assert (fact.said, fact.before, fact.round) == ("lit [2J", "Carl of the day", 1)


# ---------------------------------------------------------------- what is taken back


def test_the_last_thing_that_this_person_entered_is_taken_back(mixer: Machine) -> None:
    case = Case.open(mixer, ANN, clock=Ticking())
    with pytest.raises(Refused, match="There is nothing to take back that you entered"):
        case.undo()
    case.say("supply-lamp", "lit")
    gate(case, Act.TOLD)
    case.say("ready-lamp", "lit")
    assert [f.indication for f in case.undo().facts] == ["supply-lamp"]
    assert case.state.lockouts[BOX].has(Act.TOLD)
    assert BOX not in case.undo().lockouts or not case.state.lockouts[BOX].has(Act.TOLD)
    assert case.undo().facts == ()
    with pytest.raises(Refused, match="There is nothing to take back that you entered"):
        case.undo()


# ---------------------------------------------------------------- how it may end


def test_it_ends_as_cured_once_a_remedy_is_proved_and_as_running_before(mixer: Machine) -> None:
    case = Case.open(mixer, ANN, clock=Ticking())
    case.say("box-display", "d2")
    assert case.ending() == e.Closed(outcome="running")
    case.post(e.Remedied(remedy="let-cool"))
    case.say("box-display", "idle")
    assert case.ending() == e.Closed(outcome="running")
    case.say("ready-lamp", "lit")
    likeliest = next(c.id for c in case.ranking() if c.id in ("drive-overload", "bowl-too-full"))
    assert case.ending() == e.Closed(outcome="cured", cause=likeliest)


# ---------------------------------------------------------------- who only reads, who sits


def test_who_reads_a_case_adds_nothing_to_it(mixer: Machine, tmp_path: Path) -> None:
    book = Casebook(tmp_path / "cases.db")
    case = Case.open(mixer, ANN, book=book, clock=Ticking())
    case.say("supply-lamp", "lit")
    assert not case.only_read
    shown = Case.read(case.id, mixer, book=book)
    assert shown.only_read
    assert shown.entries == case.entries
    assert shown.refusal(e.Noted(text="x")) == "This case is only read here."
    for enter in (
        lambda: shown.post(e.Noted(text="x")),
        lambda: shown.post(e.Noted(text="x"), Sitting(BOB)),
        lambda: shown.say("ready-lamp", "lit"),
        lambda: shown.undo(),
        lambda: shown.sit(Sitting(BOB)),
    ):
        with pytest.raises(Refused):
            enter()
    assert shown.entries == case.entries
    with pytest.raises(KeyError):
        Case.read("0101-z", mixer, book=book)
    with pytest.raises(KeyError):
        shown.action("gremlin")


def test_what_others_entered_is_taken_in_when_it_is_asked_for(mixer: Machine, tmp_path: Path) -> None:
    book = Casebook(tmp_path / "cases.db")
    case = Case.open(mixer, ANN, book=book, clock=Ticking())
    shown = Case.read(case.id, mixer, book=book)
    assert shown.news() is None
    assert not shown.follow()
    case.say("supply-lamp", "lit")
    news = shown.news()
    assert news is not None
    assert shown.state.current == {}
    assert shown.take_in(news)
    assert shown.state.current == {"supply-lamp": "lit"}
    assert not shown.take_in(news), "it is known already"
    case.say("ready-lamp", "dark")
    assert shown.follow()
    assert not shown.take_in(news), "it was read before"
    assert shown.state.current == {"supply-lamp": "lit", "ready-lamp": "dark"}
    alone = Case.open(mixer, ANN, clock=Ticking())
    assert alone.news() is None
    assert not alone.follow()


def test_a_case_is_taken_up_by_whoever_had_it_and_joined_by_others(mixer: Machine, tmp_path: Path) -> None:
    book = Casebook(tmp_path / "cases.db")
    first = Case.open(mixer, ANN, book=book, clock=Ticking())
    again = Case.resume(first.id, mixer, ANN, book=book, clock=Ticking())
    assert [entry.event.kind for entry in again.entries if isinstance(entry, e.Stamped)][-1] == "took-over"
    beside = Case.resume(first.id, mixer, BOB, book=book, clock=Ticking())
    assert beside.entries[-1].event == e.Joined(person="Bob", role=Role.ENGINEER, authorised=True, qualified=True)
    assert (beside.state.lead.name, beside.state.person.name) == ("Ann", "Bob")
    beside.post(e.Closed(outcome="handed-over", to="Tara"))
    taken = Case.resume(first.id, mixer, Person("Tara", Role.ELECTRICIAN), book=book, clock=Ticking())
    assert (taken.state.lead.name, taken.state.closed) == ("Tara", "")
    taken.post(e.Closed(outcome="running"))
    over = Case.resume(first.id, mixer, ANN, book=book, clock=Ticking())
    assert over.only_read
    assert over.state.closed == "running"
    with pytest.raises(Refused, match="Say who you are first"):
        Case.open(mixer, Person(" ", Role.OPERATOR), book=book)


def test_somebody_else_at_the_terminal_sees_what_they_may_do(mixer: Machine) -> None:
    case = Case.open(mixer, ANN, clock=Ticking())
    assert case.refusal(e.Gate(zone=BOX, act=Act.TOLD)) == ""
    case.sit(Sitting(Person("Olga", Role.OPERATOR)))
    assert case.state.person.name == "Olga"
    assert case.refusal(e.Gate(zone=BOX, act=Act.TOLD)).startswith("Operators do not lock out or go inside.")
    assert len(case.entries) == 2, "they join with their first entry"
    case.say("supply-lamp", "lit")
    kinds = [entry.event.kind for entry in case.entries if isinstance(entry, e.Stamped)]
    assert kinds == ["opened", "took-over", "joined", "found"]
    case.say("ready-lamp", "lit")
    assert len(case.entries) == 5, "once"


def test_whoever_sits_down_to_another_case_of_the_machine_was_away_from_this_one(
    mixer: Machine, tmp_path: Path
) -> None:
    """What was proved dead for them is proved anew before they touch."""
    book, clock = Casebook(tmp_path / "cases.db"), Ticking()
    case = Case.open(mixer, ANN, book=book, clock=clock)
    lock_out(case)
    assert case.action("test-drive-fuse").permission.now
    Case.open(mixer, BOB, book=book, clock=clock)
    case.follow()
    assert case.action("test-drive-fuse").permission.now, "somebody else was nowhere"
    Case.open(mixer, ANN, book=book, clock=clock)
    case.follow()
    assert not case.action("test-drive-fuse").permission.now
    assert case.state.locks, "the locks stay"


def test_what_was_made_safe_begins_a_round_and_is_asked_anew(mixer: Machine) -> None:
    case = Case.open(mixer, ANN, clock=Ticking())
    case.say("supply-lamp", "lit")
    case.say("smell", "burning")
    case.cannot_tell("main-switch")
    assert case.state.danger == "Keep away from the mixer, leave it as it is, and call."
    case.post(e.MadeSafe(how="The motor was pulled and is cold"))
    assert (case.state.danger, case.state.round, case.state.cannot_tell) == ("", 2, ())
    assert case.state.current == {"supply-lamp": "lit"}
    assert case.advice().next is not None


def test_what_somebody_beside_enters_leaves_whoever_sits_here(mixer: Machine) -> None:
    case = Case.open(mixer, ANN, clock=Ticking())
    case.post(e.Joined(person="Bob", role=Role.ENGINEER), Sitting(BOB))
    assert case.state.person == ANN
    case.post(e.Joined(person="Ann", role=Role.ELECTRICIAN))
    assert case.state.person == Person("Ann", Role.ELECTRICIAN), "said anew, as it was said"
