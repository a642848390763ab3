"""Contacts by their form, by ohms, by volts, and against their lamp."""

from __future__ import annotations

import pytest

from diag.panel.contacts.contact import (
    Form,
    Is,
    by_ohms,
    by_volts_across,
    by_volts_to_common,
    coil_from,
    contradiction,
    expected,
)
from diag.panel.meter.meter import parse


@pytest.mark.source("Make closes and break opens when the coil is energised", found="common practice")
def test_what_a_contact_should_be() -> None:
    assert expected(Form.MAKE, True) is Is.CLOSED
    assert expected(Form.MAKE, False) is Is.OPEN
    assert expected(Form.BREAK, True) is Is.OPEN
    assert expected(Form.BREAK, False) is Is.CLOSED
    for coil in (True, False):
        assert expected(Form.CHANGEOVER, coil, "make") is expected(Form.MAKE, coil)
        assert expected(Form.CHANGEOVER, coil, "break") is expected(Form.BREAK, coil)
        for form in Form:
            for side in ("make", "break"):
                assert coil_from(form, expected(form, coil, side), side) is coil
    assert coil_from(Form.MAKE, Is.HIGH) is None


@pytest.mark.source("A closed contact has under 1 ohm with the power off", found="common practice")
@pytest.mark.parametrize(
    ("text", "state"),
    [
        ("0.2", Is.CLOSED),
        ("1.0", Is.CLOSED),
        ("1.1", Is.HIGH),
        ("48", Is.HIGH),
        ("300", Is.UNSURE),
        ("47k", Is.UNSURE),
        (">400", Is.UNSURE),
        ("1M", Is.OPEN),
        (">40M", Is.OPEN),
        ("OL", Is.OPEN),
    ],
)
def test_a_contact_by_ohms(text: str, state: Is) -> None:
    judged = by_ohms(parse(text, "ohm"))
    assert judged.state is state
    assert judged.why


def test_leads_are_taken_off() -> None:
    assert by_ohms(parse("1.3", "ohm"), lead=0.4).state is Is.CLOSED
    with pytest.raises(ValueError, match="negative"):
        by_ohms(parse("1", "ohm"), lead=-1)


@pytest.mark.parametrize(
    ("volts", "fed", "state"),
    [
        (24.1, None, Is.OPEN),
        (-24.1, None, Is.OPEN),
        (20.4, None, Is.OPEN),
        (0.1, True, Is.CLOSED),
        (0.1, None, Is.UNSURE),
        (0.1, False, Is.UNSURE),
        (6.0, True, Is.HIGH),
        (15.0, True, Is.UNSURE),
    ],
)
def test_a_live_contact_by_the_voltage_across(volts: float, fed: bool | None, state: Is) -> None:
    """Nothing across it proves it closed only when its loop is fed: another opening leaves nothing either."""
    assert by_volts_across(volts, 24, fed).state is state


@pytest.mark.parametrize(
    ("before", "behind", "state"),
    [
        (24, 0, Is.OPEN),
        (24, 4.8, Is.OPEN),
        (24, 23.9, Is.CLOSED),
        (24, 18, Is.HIGH),
        (24, 9, Is.UNSURE),
        (3, 0, Is.UNSURE),
    ],
)
def test_a_live_contact_by_the_voltage_to_common(before: float, behind: float, state: Is) -> None:
    assert by_volts_to_common(before, behind, 24).state is state


def test_a_circuit_without_a_supply_is_refused() -> None:
    for supply in (0.0, -24.0, float("nan")):
        with pytest.raises(ValueError, match="positive"):
            by_volts_across(1, supply)


def test_a_judgement_as_likelihoods() -> None:
    plain = ("open", "closed")
    assert by_ohms(parse("OL", "ohm")).likelihood(plain) == {"open": 1.0, "closed": 0.01}
    high = by_ohms(parse("20", "ohm"))
    assert high.likelihood(plain) == {"open": 0.5, "closed": 1.0}
    weights = high.likelihood((*plain, "high-resistance"))
    assert max(weights, key=weights.__getitem__) == "high-resistance"
    unsure = by_ohms(parse("5k", "ohm")).likelihood(plain)
    assert len(set(unsure.values())) == 1


def test_a_contact_against_its_lamp() -> None:
    assert contradiction(True, True) is None
    assert contradiction(False, False) is None
    lamp, contact = contradiction(True, False), contradiction(False, True)
    assert lamp is not None
    assert contact is not None
    assert lamp.name != contact.name
    assert any("lamp test" in cause for cause in contact.causes)
    assert not any("lamp is dead" in cause for cause in lamp.causes)
