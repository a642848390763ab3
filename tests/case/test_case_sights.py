"""What an eye, a thumb and a meter gave, as P(seen | true state): each kind of entry through the door of the case."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diag.case import contacts, displays, lamps, readings, sights
from diag.case.case import Case
from diag.case.lamps import Tapped
from diag.case.proof import normal_again
from diag.case.sighting import Sighting
from diag.case.told import fact_line
from diag.machine.load import read
from diag.machine.model import Indication, Machine, Role
from diag.machine.say import CannotRead
from diag.panel.lamps import DEAD
from diag.panel.segments import GLYPHS
from diag.safety import Person

OLE = Person("Ole", Role.ELECTRICIAN, authorised=True, qualified=True)


@pytest.fixture(scope="module")
def machine() -> Machine:
    return read(Path(__file__).parent.parent / "kinds" / "bench")


@pytest.fixture
def case(machine: Machine) -> Case:
    return Case.open(machine, OLE)


def of(machine: Machine, id: str) -> Indication:
    return machine.indications[id]


# ---------------------------------------------------------------- lamps


def rhythm(onsets: tuple[int, ...], period: int, periods: int = 5) -> tuple[float, ...]:
    return tuple(float(n * period + at) for n in range(periods) for at in onsets)


@pytest.mark.parametrize(
    ("tapped", "state"),
    [
        (Tapped(rhythm((0,), 1000)), "slow"),
        (Tapped(rhythm((0,), 1200)), "single"),
        (Tapped(looks="lit"), "lit"),
        (Tapped(looks="dark"), "dark"),
        (Tapped(too_fast=True), "fast"),
        (Tapped(held=tuple((n * 1000.0, n * 1000.0 + 500) for n in range(5))), "slow"),
    ],
)
def test_what_was_tapped_along(machine: Machine, tapped: Tapped, state: str) -> None:
    found = lamps.of_taps(of(machine, "run-lamp"), tapped)
    assert max(found.seen, key=lambda s: found.seen[s]) == state
    assert max(found.seen.values()) == 1.0


def test_a_pattern_that_the_file_does_not_know_says_so(machine: Machine) -> None:
    triple = lamps.of_taps(of(machine, "run-lamp"), Tapped(rhythm((0, 400, 800), 2000)))
    assert "no state of this lamp" in triple.note
    with pytest.raises(CannotRead, match="nothing"):
        lamps.of_taps(of(machine, "run-lamp"), Tapped())


def evidence(case: Case, id: str) -> dict[str, float]:
    return dict(next(f.seen for f in case.folded.evidence if f.indication == id))


def test_a_dark_lamp_may_be_dead_until_its_test(case: Case) -> None:
    case.say("fault-lamp", "dark")
    assert evidence(case, "fault-lamp")["lit"] == pytest.approx(DEAD, rel=0.01)
    case.say("lamp-test", "none")
    assert "lit" not in evidence(case, "fault-lamp")
    case.say("lamp-test", "fault")
    fact = next(f for f in case.state.facts if f.indication == "fault-lamp")
    assert not fact.counts
    assert "lamp test" in fact.why
    assert not any(f.indication == "fault-lamp" for f in case.folded.evidence)
    case.undo()
    assert "lit" not in evidence(case, "fault-lamp")


def test_the_lamp_test_counts_whichever_came_first(machine: Machine) -> None:
    found = []
    for order in (("fault-lamp", "lamp-test"), ("lamp-test", "fault-lamp")):
        case = Case.open(machine, OLE)
        for id in order:
            case.say(id, "dark" if id == "fault-lamp" else "none")
        found.append({c.id: c.probability for c in case.advice().causes})
    assert found[0] == pytest.approx(found[1])


def test_a_dark_lamp_weighs_less_than_a_lit_one(machine: Machine) -> None:
    weight = {}
    for state in ("lit", "dark"):
        case = Case.open(machine, OLE)
        case.say("fault-lamp", state)
        seen = evidence(case, "fault-lamp")
        other = "dark" if state == "lit" else "lit"
        weight[state] = math.log2(seen[state] / max(seen.get(other, 0.0), 1e-12))
    assert weight["lit"] > weight["dark"] > 0


def test_a_lamp_that_lost_one_colour_leaves_both_states_open(case: Case) -> None:
    case.say("pair-lamp", "blinks")
    assert evidence(case, "pair-lamp")["both"] == pytest.approx(DEAD, rel=0.1)


# ---------------------------------------------------------------- displays


def test_a_code_as_it_stands_in_the_file_is_that_state(machine: Machine) -> None:
    assert max(sights.of_words(of(machine, "display"), "E05").seen.items(), key=lambda p: p[1]) == ("slow", 1.0)
    assert sights.of_words(of(machine, "display"), "hot").seen == {"hot": 1.0}


@pytest.mark.parametrize("said", ["EO5", "E0S", "eo5"])
def test_characters_that_look_alike_are_taken_for_what_they_are(machine: Machine, said: str) -> None:
    found = sights.of_words(of(machine, "display"), said)
    assert found.doubtful[0] == "slow"


def test_a_dark_segment_leaves_the_likeliest_codes(machine: Machine) -> None:
    e, o = GLYPHS["E"], GLYPHS["0"]
    # Half of a 6: of the codes that begin so, one segment less is likelier than two.
    found = displays.of_digits(of(machine, "display"), (e, o, GLYPHS["6"] & ~0x08))
    assert found.doubtful[0] == "hot"
    assert found.said == "E0[acefg]"
    missing = displays.of_digits(of(machine, "display"), (e & ~0x08, o & ~0x08, GLYPHS["5"] & ~0x08))
    assert "segment d dark in every digit" in missing.fault
    assert missing.doubtful[0] == "slow"
    assert displays.of_digits(of(machine, "display"), (e, o, GLYPHS["5"])).fault == ""
    with pytest.raises(CannotRead):
        displays.of_digits(of(machine, "display"), (e, e, e, e))


@pytest.mark.parametrize(
    ("steps", "state"), [("04 E04", "lag"), ("17 E17 E", "heat"), ("E04 E", "lag"), ("- -", "rest")]
)
def test_a_code_in_steps_from_anywhere_in_its_round(machine: Machine, steps: str, state: str) -> None:
    assert displays.of_steps(of(machine, "steps"), tuple(steps)).doubtful[0] == state


def test_a_code_in_steps_is_typed_too(machine: Machine) -> None:
    assert sights.of_words(of(machine, "steps"), "E04").doubtful == ("lag",)
    assert sights.of_words(of(machine, "steps"), "4_E04").doubtful[0] == "lag"


def test_what_it_could_be_follows_belief_and_the_fact_does_not(case: Case) -> None:
    before = displays.of_digits(of(case.machine, "display"), (GLYPHS["E"], GLYPHS["0"], None))
    plain = dict(case.could_be("display", before))
    case.say("relay", "high-resistance")
    after = dict(case.could_be("display", before))
    assert after["slow"] > plain["slow"]
    case.sight("display", before)
    stored = next(f for f in case.state.facts if f.indication == "display")
    assert stored.seen == pytest.approx(dict(before.seen))
    assert sum(after.values()) == pytest.approx(1.0)


# ---------------------------------------------------------------- contacts


@pytest.mark.parametrize(
    ("ohms", "state"), [("0.2", "closed"), ("OL", "open"), ("12", "high-resistance"), ("0.4 k", ""), ("2M2", "open")]
)
def test_a_contact_by_its_ohms(machine: Machine, ohms: str, state: str) -> None:
    found = contacts.of_ohms(of(machine, "relay"), ohms)
    if state:
        assert found.doubtful[0] == state
    else:
        assert len(set(found.seen.values())) == 1
        assert "cannot say" in found.note.lower()
    typed = sights.of_words(of(machine, "relay"), ohms)
    assert typed.seen == found.seen


def test_the_leads_are_taken_off(machine: Machine) -> None:
    assert contacts.of_ohms(of(machine, "relay"), "1.4").doubtful[0] == "high-resistance"
    assert contacts.of_ohms(of(machine, "relay"), "1.4", "0.6").doubtful[0] == "closed"


def test_a_contact_by_its_volts(machine: Machine) -> None:
    guard = of(machine, "guard")
    assert contacts.of_volts_across(guard, "24.1", None).doubtful[0] == "open"
    assert set(contacts.of_volts_across(guard, "0.1", None).seen.values()) == {1.0}
    assert contacts.of_volts_across(guard, "0.1", True).doubtful[0] == "closed"
    assert contacts.of_volts_to_common(guard, "24", "0.2").doubtful[0] == "open"
    with pytest.raises(CannotRead, match="ohm"):
        contacts.of_volts_across(guard, "3 ohm", None)


def test_a_contact_says_what_its_coil_should_be(machine: Machine) -> None:
    assert "should be closed" in contacts.contact_about(of(machine, "relay"))
    found = contacts.of_volts_to_common(of(machine, "guard"), "24", "0.2")
    assert "coil is released" in found.note
    assert "should be energised" in found.note


def test_a_contact_and_its_lamp_that_disagree_are_named(case: Case) -> None:
    case.say("fault-lamp", "lit")
    assert not case.state.disagreements
    case.say("relay", "closed")
    (odd,) = case.state.disagreements
    assert odd.name.endswith("lamp says fault, contact says none")
    assert any("welded" in cause for cause in odd.causes)
    assert odd.name in case.sheet()
    case.say("fault-lamp", "dark")
    assert not case.state.disagreements
    case.say("relay", "open")
    assert case.state.disagreements[0].name.endswith("contact says fault, lamp says none")


# ---------------------------------------------------------------- readings


@pytest.mark.parametrize(
    ("said", "states"),
    [
        ("23,9 V", {"good"}),
        ("20.3", {"low", "good"}),
        ("20.45", {"good", "low"}),
        ("OL", {"high"}),
        ("4.97", {"absent", "low"}),
    ],
)
def test_a_reading_near_a_limit_leaves_both_bands(machine: Machine, said: str, states: set[str]) -> None:
    found = sights.of_words(of(machine, "supply"), said)
    assert set(found.seen) == states
    assert ("limit" in found.note) == (len(states) > 1)


@pytest.mark.source("IEC 61131-2: 24 V d.c. -15 %/+20 %", found="values.md")
def test_a_value_on_a_limit_belongs_to_the_normal_band(case: Case) -> None:
    case.say("supply", "20.4")
    fact = case.state.facts[-1]
    assert fact.state == "good"
    assert fact.seen["low"] == pytest.approx(1.0)
    assert "could be good or low" in fact_line(case, fact)


def test_a_gauge_is_taken_to_one_step(machine: Machine) -> None:
    assert set(sights.of_words(of(machine, "air"), "5.5").seen) == {"low", "good"}
    assert set(sights.of_words(of(machine, "air"), "5.7").seen) == {"good"}


@pytest.mark.source(
    "NEMA MG 1, 14.36: unbalance is the largest deviation from the mean over the mean", found="values.md"
)
def test_a_meter_that_reads_high_everywhere_is_no_unbalance(machine: Machine) -> None:
    """What is common to all three falls out of the ratio: one percent of the meter is no percent of unbalance."""
    found = readings.of_formula(of(machine, "unbalance"), ("400", "400", "400"))
    assert set(found.seen) == {"good"}
    near = readings.of_formula(of(machine, "unbalance"), ("404", "400", "396"))
    assert set(near.seen) == {"good", "marginal"}
    with pytest.raises(CannotRead, match="3 values"):
        readings.of_formula(of(machine, "unbalance"), ("400", "400"))


def test_the_tree_waits_where_a_sight_is_in_doubt(case: Case) -> None:
    case.sight("fault-lamp", Sighting({"lit": 1.0, "dark": 0.9}, "hard to see"))
    assert "fault-lamp" not in case.folded.known


# ---------------------------------------------------------------- alarm lists


@pytest.mark.parametrize(
    ("said", "state"),
    [
        ("A1, A2, B7", "worn"),
        ("A2 A1", "stuck"),
        ("b4;A1", "axis"),
        ("Z9, A1", "other"),
        ("empty", "empty"),
        ("A1", "worn"),
    ],
)
def test_the_first_alarm_carries_the_evidence(case: Case, said: str, state: str) -> None:
    case.say("alarms", said)
    fact = case.state.facts[-1]
    assert (fact.state, fact.said) == (state, said)
    assert dict(case.folded.evidence[-1].seen) == {state: 1.0}


def test_an_alarm_list_is_no_proof(case: Case) -> None:
    case.say("alarms", "A1")
    assert "alarms" not in normal_again(case.machine, {"alarms": "worn", "fault-lamp": "lit"})


# ---------------------------------------------------------------- whatever is said


@given(data=st.data())
def test_whatever_is_said_is_a_sight_or_one_clear_line(machine: Machine, data: st.DataObject) -> None:
    indication = data.draw(st.sampled_from(list(machine.indications.values())))
    text = data.draw(st.text(max_size=12) | st.from_regex(r"[<>-]?[0-9]{1,3}[.,]?[0-9]? ?[VkM]?", fullmatch=True))
    try:
        found = sights.of_words(indication, text)
    except CannotRead as error:
        line = str(error)
    else:
        line = ""
    if line:
        assert "\n" not in line
        return
    assert set(found.seen) <= set(indication.state_ids)
    assert max(found.seen.values()) == 1.0
    assert all(0 < p <= 1 for p in found.seen.values())
    json.dumps(dict(found.seen), allow_nan=False)


def test_a_lamp_that_failed_its_test_disagrees_with_nothing(case: Case) -> None:
    case.say("fault-lamp", "dark")
    case.say("relay", "open")
    assert case.state.disagreements
    case.say("lamp-test", "fault")
    assert not case.state.disagreements
