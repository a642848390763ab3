"""Contacts: ohms or volts as an observation; what a contact should be, what it says of its coil and of its lamp."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from diag.case.observe.observation import Observation, weighed
from diag.machine.model import Indication, Machine
from diag.machine.states.say import CannotRead
from diag.panel.contacts import contact as contacts
from diag.panel.contacts.contact import Judged
from diag.panel.meter.meter import BadReading, parse
from diag.text import clean


def of_ohms(indication: Indication, text: str, leads: str = "") -> Observation:
    """A contact by its resistance, circuit isolated; `leads`: the leads held together. Raises CannotRead."""
    return _judged(
        indication, lambda: contacts.by_ohms(parse(text, "ohm"), parse(leads, "ohm").value if leads else 0.0), text
    )


def of_volts_across(indication: Indication, text: str, fed: bool | None, supply: str = "") -> Observation:
    """A live contact by the voltage across it; `fed`: its loop is known to be fed and whole; `supply` as typed, where
    the file names none. Raises CannotRead."""
    return _judged(indication, lambda: contacts.by_volts_across(_volt(text), _supply(indication, supply), fed), text)


def of_volts_to_common(indication: Indication, before: str, behind: str, supply: str = "") -> Observation:
    """A live contact by the voltages to common before and behind it. Raises CannotRead."""
    said = f"{clean(before)} before, {clean(behind)} behind"
    return _judged(
        indication, lambda: contacts.by_volts_to_common(_volt(before), _volt(behind), _supply(indication, supply)), said
    )


def contact_about(indication: Indication) -> str:
    """What a contact should be, and what to mind when it is measured."""
    words = []
    if indication.contact:
        form = contacts.Form(indication.contact)
        words.append(f"A {form.value} contact{f', its {indication.side} side' if indication.side else ''}.")
        if indication.coil:
            should = contacts.expected(form, indication.coil == "energised", indication.side)
            words.append(f"With its coil {indication.coil} it should be {should.value}.")
    live = "Live work, by a qualified person, under the site's permit."
    return " ".join((*words, contacts.POWER_OFF if indication.measured == "continuity" else live))


def judged_as(indication: Indication, judged: Judged) -> str:
    """What a measurement of a contact means for its coil, in one line; empty when it says nothing of it."""
    form = contacts.Form(indication.contact) if indication.coil and indication.contact else None
    energised = contacts.coil_from(form, judged.state, indication.side) if form else None
    if energised is None:
        return ""
    found = "energised" if energised else "released"
    if found == indication.coil:
        return f"So its coil is {found}, as it should be."
    return f"So its coil is {found}, or the contact does not work; it should be {indication.coil}."


def _judged(indication: Indication, judge: Callable[[], Judged], said: str) -> Observation:
    try:
        judged = judge()
    except (BadReading, ValueError) as error:
        raise CannotRead(str(error)) from None
    found = judged.state.value
    known = found.replace(" ", "-") in indication.state_ids
    words = "" if known else f"{found[:1].upper()}{found[1:]}."
    note = " ".join(filter(None, (words, judged.why, judged_as(indication, judged), judged.caution)))
    said = clean(said) + ("" if known else f", {found}")
    return weighed(indication, judged.likelihood(indication.state_ids), said, note)


def _volt(text: str) -> float:
    found = parse(text, "V")
    if found.overload:
        raise BadReading("Over the range says nothing about a contact; use a higher range.")
    return found.value


def _supply(indication: Indication, typed: str) -> float:
    return indication.nominal or _volt(typed)


def disagreements(machine: Machine, current: Mapping[str, str]) -> tuple[tuple[str, str, contacts.Contradiction], ...]:
    """Contacts and lamps that report one thing and do not agree: contact, lamp, and what that is called."""
    found = []
    for id, contact in machine.indications.items():
        for lamp, pairs in contact.agrees:
            agreed = dict(pairs)
            if id in current and lamp in current and current[lamp] in agreed and current[id] in agreed.values():
                should = agreed[current[lamp]] != contact.normal
                named = contacts.contradiction(should, current[id] != contact.normal)
                if named is not None:
                    found.append((id, lamp, named))
    return tuple(found)
