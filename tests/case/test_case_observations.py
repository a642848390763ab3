"""What an eye, a thumb and a meter gave, as P(seen | true state): each kind of entry through the door of the case."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diag.case.case import Case
from diag.case.log.proof_facts import normal_again
from diag.case.log.replay import replay
from diag.case.observe import from_contact as contacts
from diag.case.observe import from_display as displays
from diag.case.observe import from_lamp as lamps
from diag.case.observe import from_reading as readings
from diag.case.observe import observe as observing
from diag.case.observe.from_lamp import Tapped
from diag.case.observe.observation import LEAST, Observation, weighed
from diag.case.sheet.sheet import markdown
from diag.case.sheet.sheet_content import fact_line
from diag.machine.load import read
from diag.machine.model import Band, Code, Indication, Machine, Role, State
from diag.machine.states.say import CannotRead
from diag.panel.contacts.contact import POWER_OFF, WETTING, by_ohms
from diag.panel.display.segments import GLYPHS
from diag.panel.formulas.formulas import FORMULAS
from diag.panel.lamps.dead_lamp import DEAD, FALSE_LIGHT
from diag.panel.meter.accuracy import ORDINARY, Accuracy
from diag.panel.meter.meter import parse
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
    with pytest.raises(CannotRead, match="nothing was tapped"):
        lamps.of_taps(of(machine, "run-lamp"), Tapped())


@pytest.mark.parametrize(
    ("lamp", "tapped", "said", "note"),
    [
        ("run-lamp", Tapped(rhythm((0,), 1000)), "tapped 5 times", ""),
        ("run-lamp", Tapped(rhythm((0, 400, 800), 2000)), "tapped 15 times", "It looks like 3 flashes, "),
        ("run-lamp", Tapped(looks="dark"), "stays dark", ""),
        ("blinker", Tapped(looks="lit"), "stays lit", "It stays lit, "),
        ("run-lamp", Tapped(too_fast=True), "too fast to tap", ""),
        ("fault-lamp", Tapped(too_fast=True), "too fast to tap", "It flashes faster than any state of this lamp "),
        ("run-lamp", Tapped(held=((0, 500), (1000, 1500), (2000, 2500))), "held along 3 times", ""),
        ("run-lamp", Tapped(held=((0, 1000), (2000, 3000), (4000, 5000))), "held along 3 times", "It looks like slow "),
        ("slow-lamp", Tapped(rhythm((0,), 9000)), "tapped 5 times", ""),
    ],
)
def test_what_is_said_of_a_lamp_that_was_tapped(
    machine: Machine, lamp: str, tapped: Tapped, said: str, note: str
) -> None:
    """A line is added only where the lamp does what no state of it in the file does."""
    run = of(machine, "run-lamp")
    made = {
        "blinker": replace(run, states=tuple(s for s in run.states if s.id in ("slow", "single"))),
        "slow-lamp": replace(run, states=(State("slow", pattern="3000/6000 ms"), State("dark", pattern="off"))),
    }
    found = lamps.of_taps(made.get(lamp) or of(machine, lamp), tapped)
    assert found.said == said
    assert found.note == "" if not note else found.note.startswith(note)
    assert not note or found.note.endswith("state of this lamp in the file.")


def test_a_lamp_that_is_watched_and_stays_as_it_is_does_not_flash(machine: Machine) -> None:
    assert set(lamps.of_taps(of(machine, "run-lamp"), Tapped(looks="dark")).seen) == {"dark", "lit"}


def test_tapping_is_enough_when_one_state_stands_out(machine: Machine) -> None:
    run = of(machine, "run-lamp")
    assert lamps.settled(run, lamps.of_taps(run, Tapped(rhythm((0,), 1000))))
    assert not lamps.settled(run, lamps.of_taps(run, Tapped(rhythm((0, 400, 800), 2000))))


def test_presses_that_overlap_are_refused_in_one_line(machine: Machine) -> None:
    with pytest.raises(CannotRead, match="Presses end after they begin, one after the other"):
        lamps.of_taps(of(machine, "run-lamp"), Tapped(held=((5, 3),)))


def evidence(case: Case, id: str) -> dict[str, float]:
    return dict(
        next(f.seen for f in replay(case.machine, case.id, case.entries).projection().evidence if f.indication == id)
    )


def test_a_dark_lamp_may_be_dead_until_its_test(case: Case) -> None:
    case.say("fault-lamp", "dark")
    assert evidence(case, "fault-lamp")["lit"] == pytest.approx(DEAD, rel=0.01)
    case.say("lamp-test", "none")
    assert "lit" not in evidence(case, "fault-lamp")
    case.say("lamp-test", "fault")
    fact = next(f for f in case.state.facts if f.indication == "fault-lamp")
    assert not fact.counts
    assert "lamp test" in fact.why
    assert not any(
        f.indication == "fault-lamp" for f in replay(case.machine, case.id, case.entries).projection().evidence
    )
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


def test_light_from_elsewhere_is_allowed_for_even_in_a_lamp_that_passed_its_test(case: Case) -> None:
    case.say("lamp-test", "none")
    case.say("fault-lamp", "lit")
    assert evidence(case, "fault-lamp") == pytest.approx({"lit": 1.0, "dark": FALSE_LIGHT})


@pytest.mark.parametrize("state", ["lit", "dark"])
def test_a_lamp_that_may_be_dead_still_shows_its_likeliest_state_in_full(case: Case, state: str) -> None:
    case.say("fault-lamp", state)
    seen = evidence(case, "fault-lamp")
    assert seen[state] == max(seen.values()) == 1.0


def test_a_lamp_that_lost_one_colour_leaves_both_states_open(case: Case) -> None:
    case.say("pair-lamp", "blinks")
    assert evidence(case, "pair-lamp")["both"] == pytest.approx(DEAD, rel=0.1)


# ---------------------------------------------------------------- displays


def test_a_code_as_it_stands_in_the_file_is_that_state(machine: Machine) -> None:
    assert max(observing.of_words(of(machine, "display"), "E05").seen.items(), key=lambda p: p[1]) == ("slow", 1.0)
    assert observing.of_words(of(machine, "display"), "hot").seen == {"hot": 1.0}


def test_a_display_keeps_what_was_said_of_it(machine: Machine, mixer: Machine) -> None:
    assert observing.of_words(of(machine, "display"), "hot").said == "hot"
    assert observing.of_words(of(machine, "display"), " Hot ").said == "Hot"
    assert observing.of_words(of(mixer, "box-display"), " blank ").said == "blank"


def test_a_state_is_left_out_only_below_the_least_share(machine: Machine) -> None:
    """At the share itself it stays, so that the bound is what its sentence says."""
    for share, kept in ((2 * LEAST, True), (LEAST, True), (LEAST / 2, False)):
        found = weighed(of(machine, "fault-lamp"), {"lit": 1.0, "dark": share}, "lit")
        assert ("dark" in found.seen) is kept, share


def test_a_slip_of_one_segment_is_allowed_for_in_a_code_as_it_stands(machine: Machine) -> None:
    found = observing.of_words(of(machine, "display"), "E05")
    assert found.seen == pytest.approx({"slow": 1.0, "hot": 0.0093}, rel=0.01)
    assert found.note == ""


def test_of_codes_that_look_alike_the_one_that_was_typed_goes_first(machine: Machine) -> None:
    """Seven segments show S as they show 5, so neither is ruled out."""
    states = (State("five"), State("ess"), State("other"))
    alike = replace(of(machine, "display"), characters=2, codes=(Code("E5", "five"), Code("ES", "ess")), states=states)
    assert observing.of_words(alike, "E5").doubtful == ("five", "ess")
    assert observing.of_words(alike, "ES").doubtful == ("ess", "five")


@pytest.mark.parametrize("said", ["", "  ", "blank"])
def test_a_display_that_shows_nothing_is_blank_and_nothing_else(mixer: Machine, said: str) -> None:
    display = of(mixer, "box-display")
    assert observing.of_words(display, said) == Observation({"blank": 1.0}, "blank")
    renamed = replace(display, codes=(Code("  ", "nothing"),), states=(State("nothing"), State("other")))
    assert observing.of_words(renamed, said) == Observation({"nothing": 1.0}, "blank")


def test_what_a_code_could_be_is_said_where_it_is_in_doubt(machine: Machine) -> None:
    display, steps = of(machine, "display"), of(machine, "steps")
    assert observing.of_words(display, "E0").note == "It could be slow or hot."
    assert observing.of_words(display, "EO5").note == ""
    assert observing.of_words(display, "05E").doubtful == ("other",), "a code in steps only where it comes in steps"
    assert observing.of_words(steps, "E").note == "It could be lag or heat."
    four = tuple(Code(f"E0{n}", f"s{n}") for n in range(4))
    many = replace(display, codes=four, states=tuple(State(c.state) for c in four))
    assert displays.of_digits(many, ("E", "0", None)).note == "It could be s0, s1 or s2."
    both = displays.of_digits(display, (GLYPHS["E"] & ~0x08, GLYPHS["0"] & ~0x08, None))
    assert both.note == f"{both.fault} It could be slow or hot."


def test_an_observation_is_scaled_by_the_state_that_it_fits_best(machine: Machine) -> None:
    assert weighed(of(machine, "fault-lamp"), {"lit": 0.5}, "lit").seen == {"lit": 1.0}
    with pytest.raises(CannotRead, match="that fits no state of it"):
        weighed(of(machine, "fault-lamp"), {"lit": 0.0, "purple": 1.0}, "lit")


@pytest.mark.parametrize("said", ["EO5", "E0S", "eo5"])
def test_characters_that_look_alike_are_taken_for_what_they_are(machine: Machine, said: str) -> None:
    found = observing.of_words(of(machine, "display"), said)
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


def test_a_fault_of_the_display_is_looked_for_in_the_codes_that_fit_it(machine: Machine, mixer: Machine) -> None:
    """The points of a code are left out, and digits that were not entered are dark. A code that no segments can show
    tells nothing of the display."""
    display = of(machine, "display")
    eight = GLYPHS["8"]
    pointed = replace(display, codes=(Code("8.8.8.", "start"),))
    assert displays.of_digits(pointed, (eight, eight, eight)).fault == ""
    assert "segment d dark in every digit" in displays.of_digits(pointed, (eight & ~0x08,) * 3).fault
    assert "digit 2 dark" in displays.of_digits(display, (GLYPHS["E"],)).fault
    assert displays.of_digits(of(mixer, "box-display"), (GLYPHS["d"], GLYPHS["1"])).fault == ""
    worded = replace(display, codes=(*display.codes, Code("KEY", "run")))
    assert displays.of_digits(worded, (eight & ~0x08,) * 3).fault == ""


def test_only_the_characters_that_a_display_has_are_taken(machine: Machine) -> None:
    with pytest.raises(CannotRead, match="4 characters do not fit a display of 3"):
        displays.of_digits(of(machine, "display"), "E055")
    with pytest.raises(CannotRead, match="no step was entered"):
        displays.of_steps(of(machine, "steps"), ())


def test_digits_are_put_into_words(machine: Machine) -> None:
    """Drawn ones by their character, typed ones as they are, `?` for one that cannot be read."""
    found = displays.of_digits(of(machine, "display"), (GLYPHS["E"], None, "5"))
    assert found.said == "E?5"
    assert displays.of_digits(of(machine, "display"), (" ", " ", " ")).said == "blank"


@pytest.mark.parametrize(
    ("steps", "state"), [("04 E04", "lag"), ("17 E17 E", "heat"), ("E04 E", "lag"), ("- -", "rest")]
)
def test_a_code_in_steps_from_anywhere_in_its_round(machine: Machine, steps: str, state: str) -> None:
    assert displays.of_steps(of(machine, "steps"), tuple(steps)).doubtful[0] == state


def test_a_code_in_steps_is_typed_too(machine: Machine) -> None:
    assert observing.of_words(of(machine, "steps"), "E04").doubtful == ("lag",)
    found = observing.of_words(of(machine, "steps"), "4_E04")
    assert found.doubtful == ("lag",)
    assert found.said == "4 E04"
    assert displays.of_steps(of(machine, "steps"), tuple("E04"), "E, 0, 4").said == "E, 0, 4"


def test_what_it_could_be_follows_belief_and_the_fact_does_not(case: Case) -> None:
    before = displays.of_digits(of(case.machine, "display"), (GLYPHS["E"], GLYPHS["0"], None))
    plain = dict(case.could_be("display", before))
    assert set(plain) <= set(before.seen) < set(case.machine.indications["display"].state_ids)
    case.say("relay", "high-resistance")
    after = dict(case.could_be("display", before))
    assert after["slow"] > plain["slow"]
    case.observe("display", before)
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
    typed = observing.of_words(of(machine, "relay"), ohms)
    assert typed.seen == found.seen


@pytest.mark.parametrize("ohms", [">2M", ".4", ",4", "+3", "ol"])
def test_ohms_are_known_by_how_they_begin(machine: Machine, ohms: str) -> None:
    relay = of(machine, "relay")
    assert observing.of_words(relay, ohms).seen == contacts.of_ohms(relay, ohms).seen
    assert observing.of_words(relay, "Closed").seen == {"closed": 1.0}, "a word is no reading"
    with pytest.raises(CannotRead, match="write the number the meter shows"):
        observing.of_words(relay, "<1")


def test_the_leads_are_taken_off(machine: Machine) -> None:
    assert contacts.of_ohms(of(machine, "relay"), "1.4").doubtful[0] == "high-resistance"
    assert contacts.of_ohms(of(machine, "relay"), "1.4", "0.6").doubtful[0] == "closed"


def test_the_leads_are_typed_with_or_without_their_unit(machine: Machine) -> None:
    for leads in ("0.6", "0.6 ohm"):
        assert contacts.of_ohms(of(machine, "relay"), "1.4", leads).doubtful[0] == "closed"
    with pytest.raises(CannotRead, match="cannot be negative"):
        contacts.of_ohms(of(machine, "relay"), "1.4", "-1")


def test_the_supply_of_a_contact_is_typed_where_the_file_names_none(machine: Machine) -> None:
    bare = replace(of(machine, "guard"), nominal=None)
    assert contacts.of_volts_across(bare, "24", None, "24 V").doubtful[0] == "open"
    assert contacts.of_volts_to_common(bare, "24", "0.2", "24 V").doubtful[0] == "open"
    for ask in (contacts.of_volts_across(bare, "24", None, "48"), contacts.of_volts_to_common(bare, "24", "1", "48")):
        assert set(ask.seen.values()) == {1.0}, "half of the supply says nothing"
    with pytest.raises(CannotRead, match="Write the number the meter shows, in V"):
        contacts.of_volts_across(bare, "24", None)
    with pytest.raises(CannotRead, match="Write the number the meter shows, in V"):
        contacts.of_volts_to_common(bare, "24", "0.2")


def test_over_the_range_says_nothing_of_a_live_contact(machine: Machine) -> None:
    with pytest.raises(CannotRead, match="Over the range says nothing about a contact; use a higher range"):
        contacts.of_volts_across(of(machine, "guard"), "OL", None)


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


@pytest.mark.parametrize(
    ("ohms", "said", "note"),
    [
        ("0.2", "0.2", "0.2 ohm; closed is at most 1 ohm. So its coil is released, as it should be."),
        (
            "OL",
            "OL",
            "No path: at least 1 Mohm. So its coil is energised, or the contact does not work; it should be released.",
        ),
        ("12", "12", f"12 ohm; a closed contact has at most 1 ohm. {WETTING}"),
        (
            "400",
            "400, cannot say",
            f"Cannot say. 400 ohm may be a path in parallel; take one side off and measure again. {POWER_OFF}",
        ),
    ],
)
def test_what_is_said_of_a_contact_that_was_measured(machine: Machine, ohms: str, said: str, note: str) -> None:
    found = contacts.of_ohms(of(machine, "relay"), ohms)
    assert (found.said, found.note) == (said, note)


def test_a_state_that_the_file_does_not_name_is_said_beside_the_reading(machine: Machine) -> None:
    found = contacts.of_ohms(replace(of(machine, "relay"), states=(State("open"), State("closed"))), "12")
    assert found.said == "12, high resistance"
    assert found.note.startswith("High resistance. 12 ohm; ")


def test_a_contact_of_which_the_file_says_no_more_says_nothing_of_its_coil(machine: Machine) -> None:
    relay = of(machine, "relay")
    assert contacts.contact_about(replace(relay, contact="", coil="")) == POWER_OFF
    assert contacts.of_ohms(replace(relay, contact="", coil=""), "0.2").note == "0.2 ohm; closed is at most 1 ohm."
    assert contacts.of_ohms(replace(relay, coil=""), "0.2").note == "0.2 ohm; closed is at most 1 ohm."
    assert contacts.judged_as(replace(relay, coil=""), by_ohms(parse("0.2", "ohm"))) == ""
    assert contacts.contact_about(replace(relay, coil="")) == f"A break contact. {POWER_OFF}"
    assert contacts.contact_about(relay) == f"A break contact. With its coil released it should be closed. {POWER_OFF}"
    side = "A changeover contact, its make side. With its coil energised it should be closed. Live work, "
    assert contacts.contact_about(of(machine, "guard")).startswith(side)
    other = contacts.contact_about(replace(of(machine, "guard"), side="break"))
    assert "its break side. With its coil energised it should be open." in other


def test_a_contact_says_whether_it_is_measured_without_power_or_live(machine: Machine) -> None:
    relay = of(machine, "relay")
    dead, live = (contacts.contact_about(replace(relay, measured=way)) for way in ("continuity", "voltage"))
    assert (POWER_OFF in dead, "Live work" in dead) == (True, False)
    assert (POWER_OFF in live, "Live work" in live) == (False, True)


def test_a_contact_and_its_lamp_that_disagree_are_named(case: Case) -> None:
    case.say("fault-lamp", "lit")
    assert not case.state.disagreements
    case.say("relay", "closed")
    (odd,) = case.state.disagreements
    assert odd.name.endswith("lamp says fault, contact says none")
    assert any("welded" in cause for cause in odd.causes)
    assert odd.name in markdown(case)
    case.say("fault-lamp", "dark")
    assert not case.state.disagreements
    case.say("relay", "open")
    assert case.state.disagreements[0].name.endswith("contact says fault, lamp says none")


def test_a_contact_in_a_state_that_no_lamp_tells_disagrees_with_nothing(case: Case) -> None:
    case.say("relay", "high-resistance")
    case.say("fault-lamp", "lit")
    assert not case.state.disagreements


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
    found = observing.of_words(of(machine, "supply"), said)
    assert set(found.seen) == states
    assert ("limit" in found.note) == (len(states) > 1)


def test_a_state_is_in_doubt_from_a_twentieth_of_the_best_on() -> None:
    assert Observation({"low": 0.05, "good": 1.0, "high": 0.0499}, "20.4").doubtful == ("good", "low")


@pytest.mark.source("IEC 61131-2: 24 V d.c. -15 %/+20 %", found="read in a summary of the standard")
def test_a_value_on_a_limit_belongs_to_the_normal_band(case: Case) -> None:
    case.say("supply", "20.4")
    fact = case.state.facts[-1]
    assert fact.state == "good"
    assert fact.seen["low"] == pytest.approx(1.0)
    assert "could be good or low" in fact_line(case, fact)


def test_a_gauge_is_taken_to_one_step(machine: Machine) -> None:
    assert set(observing.of_words(of(machine, "air"), "5.5").seen) == {"low", "good"}
    assert set(observing.of_words(of(machine, "air"), "5.7").seen) == {"good"}


@pytest.mark.source(
    "NEMA MG 1, 14.36: unbalance is the largest deviation from the mean over the mean",
    found="read in a summary of the standard",
)
def test_a_meter_that_reads_high_everywhere_is_no_unbalance(machine: Machine) -> None:
    """What is common to all three falls out of the ratio: one percent of the meter is no percent of unbalance."""
    found = readings.of_formula(of(machine, "unbalance"), ("400", "400", "400"))
    assert set(found.seen) == {"good"}
    near = readings.of_formula(of(machine, "unbalance"), ("404", "400", "396"))
    assert set(near.seen) == {"good", "marginal"}
    with pytest.raises(CannotRead, match="3 values"):
        readings.of_formula(of(machine, "unbalance"), ("400", "400"))


def worked_out(machine: Machine, formula: str, unit: str, limit: float, texts: tuple[str, ...], **more: Any) -> float:
    """How far the result may lie from its value, from the shares of two bands: `limit` lies above the value and
    within."""
    bands = (Band("low", None, limit), Band("high", limit, None))
    states = (State("low"), State("high"))
    made = replace(
        of(machine, "unbalance"), formula=formula, unit=unit, bands=bands, states=states, normal="low", **more
    )
    found = readings.of_formula(made, texts)
    share = found.seen["high"] / sum(found.seen.values())
    value = FORMULAS[formula].compute(texts)
    return (limit - value) / (1 - 2 * share)


@pytest.mark.source("GUM, JCGM 100 5.1: independent contributions add up as squares", found="worked by hand")
def test_how_far_a_result_may_be_off_follows_from_the_meter(machine: Machine) -> None:
    """1 % and 2 counts of an ordinary meter; other instruments count as exact."""
    # 12.00 mA of 4 .. 20 mA: 1 % is 0.12 mA, two counts 0.02 mA, of 16 mA.
    loop = math.hypot(0.12 / 16, 0.02 / 16) * 100
    assert worked_out(machine, "loop percent", "%", 50.4, ("12.00",)) == pytest.approx(loop)
    # A better meter that the file names: 0.5 % and 3 counts.
    better = math.hypot(0.06 / 16, 0.03 / 16) * 100
    named = worked_out(machine, "loop percent", "%", 50.2, ("12.00",), accuracy=Accuracy(0.5, 3))
    assert named == pytest.approx(better)
    # R C ln(V / 60 V): volts and ohms are a meter's, each with its percent and its counts (100 V, 1 kohm); uF is not.
    rc = 22e3 * 1000e-6
    value = rc * math.log(600 / 60)
    parts = (rc * math.log(1.01), 0.01 * value, rc * math.log(800 / 600), 2 / 22 * value)
    off = worked_out(machine, "discharge time", "s", 51.0, ("0.6k", "1000", "22k"))
    assert off == pytest.approx(math.hypot(*parts))


def test_a_result_at_the_end_of_its_range_is_taken_as_it_is(machine: Machine) -> None:
    """One percent more than 390.4 ohm is no value of a Pt100, so nothing is said of how far it is off."""
    bands = (Band("low", None, 849.9), Band("high", 849.9, None))
    states = (State("low"), State("high"))
    probe = replace(
        of(machine, "unbalance"), formula="pt100 temperature", unit="degC", bands=bands, states=states, normal="low"
    )
    assert readings.of_formula(probe, ("390.4",)).seen == {"low": 1.0}
    ends = replace(probe, formula="bus termination", unit="", bands=(Band("low", None, 0.5), Band("high", 0.5, None)))
    open_ = readings.of_formula(ends, ("OL",))
    assert open_.seen == {"low": 1.0}
    assert open_.said == "0 from OL"


def test_a_result_is_said_with_its_values_and_what_it_means(machine: Machine) -> None:
    found = readings.of_formula(of(machine, "unbalance"), ("398", "400", "409"))
    assert found.said == "1.66 % from 398, 400, 409"
    assert found.note == "1.66 %. A motor may give 97 % of its rated power (NEMA MG 1, read off its curve)."
    on_limit = readings.of_formula(of(machine, "unbalance"), ("404", "400", "396"))
    assert on_limit.note.endswith(" Near a limit for this meter: good 50 %, marginal 50 %.")


@pytest.mark.parametrize(
    ("unit", "electrical"),
    [("V d.c.", True), ("mA", True), ("ohm", True), ("kohm", True), ("bar", False), ("", False), ("degC", False)],
)
def test_an_ordinary_meter_is_taken_where_the_unit_is_electrical(machine: Machine, unit: str, electrical: bool) -> None:
    bare = replace(of(machine, "supply"), unit=unit, accuracy=None)
    assert readings.accuracy_of(bare) == (ORDINARY if electrical else readings.FINE)
    assert readings.accuracy_of(replace(bare, accuracy=Accuracy(0.1))) == Accuracy(0.1)


@pytest.mark.parametrize(("said", "states"), [("5", ["low", "absent"]), ("20.4", ["good", "low"])])
def test_on_a_limit_the_band_nearer_to_normal_goes_first(machine: Machine, said: str, states: list[str]) -> None:
    found = observing.of_words(of(machine, "supply"), said)
    assert list(found.seen) == states
    assert found.note == f"Near a limit for this meter: {states[0]} 50 %, {states[1]} 50 %."
    exact = observing.of_words(replace(of(machine, "supply"), accuracy=Accuracy(0.0)), said)
    assert exact.seen == {states[0]: 1.0}, "the other one only where the meter may be off"


def test_the_name_of_a_band_may_be_said_in_place_of_a_value(machine: Machine) -> None:
    assert observing.of_words(of(machine, "supply"), "Low") == Observation({"low": 1.0}, "Low")


def test_the_tree_waits_where_a_sight_is_in_doubt(case: Case) -> None:
    case.observe("fault-lamp", Observation({"lit": 1.0, "dark": 0.9}, "hard to see"))
    assert "fault-lamp" not in replay(case.machine, case.id, case.entries).projection().known


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
    assert dict(replay(case.machine, case.id, case.entries).projection().evidence[-1].seen) == {state: 1.0}


def test_an_alarm_list_is_no_proof(case: Case) -> None:
    case.say("alarms", "A1")
    assert "alarms" not in normal_again(case.machine, {"alarms": "worn", "fault-lamp": "lit"})


# ---------------------------------------------------------------- whatever is said


@given(data=st.data())
def test_whatever_is_said_is_a_sight_or_one_clear_line(machine: Machine, data: st.DataObject) -> None:
    indication = data.draw(st.sampled_from(list(machine.indications.values())))
    text = data.draw(st.text(max_size=12) | st.from_regex(r"[<>-]?[0-9]{1,3}[.,]?[0-9]? ?[VkM]?", fullmatch=True))
    try:
        found = observing.of_words(indication, text)
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
