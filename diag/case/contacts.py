"""Contacts: ohms or volts, as a sight; what a contact should be, what it says of its coil, and its lamp against it."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from diag.case.sighting import Sighting, weighed
from diag.case.words import clean
from diag.machine.model import Indication, Machine
from diag.machine.say import CannotRead
from diag.panel import contacts
from diag.panel.contacts import Judged
from diag.panel.meter import BadReading, Measured, parse


def of_ohms(indication: Indication, text: str, leads: str = "") -> Sighting:
    """A contact by its resistance, circuit isolated; `leads`: the leads held together. Raises CannotRead."""
    return _judged(indication, lambda: contacts.by_ohms(_ohm(text), _ohm(leads).value if leads else 0.0), text)


def of_volts_across(indication: Indication, text: str, fed: bool | None, supply: str = "") -> Sighting:
    """A live contact by the voltage across it; `fed`: its loop is known to be fed and whole; `supply` as typed, where
    the file names none. Raises CannotRead."""
    return _judged(indication, lambda: contacts.by_volts_across(_volt(text), _supply(indication, supply), fed), text)


def of_volts_to_common(indication: Indication, before: str, behind: str, supply: str = "") -> Sighting:
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
        side = f", its {indication.side} side" if indication.side else ""
        words.append(f"A {form.value} contact{side}.")
        if indication.coil:
            should = contacts.expected(form, indication.coil == "energised", indication.side or "make")
            words.append(f"With its coil {indication.coil} it should be {should.value}.")
    live = "Live work, by a qualified person, under the site's permit."
    words.append(contacts.POWER_OFF if indication.measured == "continuity" else live)
    return " ".join(words)


def judged_as(indication: Indication, judged: Judged) -> str:
    """What a measurement of a contact means for its coil, in one line; empty when it says nothing of it."""
    if not indication.coil or not indication.contact:
        return ""
    form = contacts.Form(indication.contact)
    energised = contacts.coil_from(form, judged.state, indication.side or "make")
    if energised is None:
        return ""
    found = "energised" if energised else "released"
    if found == indication.coil:
        return f"So its coil is {found}, as it should be."
    return f"So its coil is {found}, or the contact does not work; it should be {indication.coil}."


def _judged(indication: Indication, judge: Callable[[], Judged], said: str) -> Sighting:
    try:
        judged = judge()
    except (BadReading, ValueError) as error:
        raise CannotRead(str(error)) from None
    likelihood = judged.likelihood(indication.state_ids)
    known = judged.state.value.replace(" ", "-") in indication.state_ids
    words = "" if known else f"{judged.state.value[:1].upper()}{judged.state.value[1:]}."
    note = " ".join(x for x in (words, judged.why, judged_as(indication, judged), judged.caution) if x)
    return weighed(indication, likelihood, clean(said) + ("" if known else f", {judged.state.value}"), note)


def _ohm(text: str) -> Measured:
    return parse(text, "ohm")


def _volt(text: str) -> float:
    found = parse(text, "V")
    if found.overload:
        raise BadReading("Over the range says nothing about a contact; use a higher range.")
    return found.value


def _supply(indication: Indication, typed: str) -> float:
    return indication.nominal or _volt(typed)


def disagreements(machine: Machine, standing: Mapping[str, str]) -> tuple[tuple[str, str, contacts.Contradiction], ...]:
    """Contacts and lamps that report one thing and do not agree: contact, lamp, and what that is called."""
    found = []
    for id, contact in machine.indications.items():
        for lamp, pairs in contact.agrees:
            agreed = dict(pairs).get(standing.get(lamp, ""))
            now = standing.get(id, "")
            if agreed is None or now not in {state for _, state in pairs}:
                continue
            named = contacts.contradiction(agreed != contact.normal, now != contact.normal)
            if named is not None:
                found.append((id, lamp, named))
    return tuple(found)
