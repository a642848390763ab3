"""Rules about one kind of indication: codes that a display can show, contacts that say one thing."""

from __future__ import annotations

from collections.abc import Iterator

from diag.machine.model import Kind
from diag.panel.contacts import contact as contacts
from diag.panel.display import segments
from diag.vet.vetted.rule import Finding, Vetted, rule


@rule(
    "no-glyph",
    "warning",
    "A display may have shapes of its own, which cannot be drawn with segments.",
    bad="""
indications:
  display: {codes: {M1: {state: brake, means: the brake is shut}}}
""",
    mend=("M1", "b1"),
)
def no_glyph(vetted: Vetted) -> Iterator[Finding]:
    """A code that seven segments cannot show is probably a slip of the pen: write it as the display shows it."""
    for indication in vetted.machine.indications.values():
        if indication.kind is not Kind.DISPLAY:
            continue
        for code in indication.codes:
            try:
                segments.cells(code.pattern.replace("?", " "))
            except segments.NoGlyph as error:
                yield Finding(vetted.key(indication, "codes", code.pattern), f"code '{code.pattern}': {error}")


@rule(
    "two-meanings",
    "warning",
    "It is settled that the state wins, but somebody who types the code may not expect that.",
    bad="""
indications:
  display: {codes: {E2: {state: trip}, E3: {state: E2}}}
""",
    mend=("state: E2", "state: brake"),
)
def two_meanings(vetted: Vetted) -> Iterator[Finding]:
    """A word that is a code and also the name of another state is taken as the state. Give the state another name."""
    for indication in vetted.machine.indications.values():
        for code in indication.codes:
            if code.pattern in indication.state_ids and code.state != code.pattern:
                text = f"'{code.pattern}' is a code for '{code.state}' and the name of another state"
                yield Finding(vetted.key(indication, "codes", code.pattern), text)


@rule(
    "coil",
    "error",
    "One of the three is wrong, so people would be told that a good contact is bad.",
    bad="""
indications:
  motor-wire: {coil: energised}
""",
    mend=("energised", "released"),
)
def coil(vetted: Vetted) -> Iterator[Finding]:
    """A contact's form, its coil and its normal state say one thing three times over; they must agree."""
    for indication in vetted.machine.indications.values():
        if indication.kind is not Kind.CONTACT or not indication.coil or indication.normal not in ("open", "closed"):
            continue
        form = contacts.Form(indication.contact)
        should = contacts.expected(form, indication.coil == "energised", indication.side or "make").value
        if should != indication.normal:
            is_now = f"a {form.value} contact with its coil {indication.coil} is {should}"
            yield vetted.finding(indication, f"{is_now}, and 'normal' says {indication.normal}", "coil")


@rule(
    "no-supply",
    "warning",
    "The person can be asked for it, at the price of one more question each time.",
    bad="""
indications:
  motor-wire: {measured: voltage}
""",
    mend=("voltage", "voltage, nominal: 24"),
)
def no_supply(vetted: Vetted) -> Iterator[Finding]:
    """A contact that is judged by volts needs the voltage of its supply: write it as `nominal`."""
    for indication in vetted.machine.indications.values():
        if indication.kind is Kind.CONTACT and indication.measured == "voltage" and not indication.nominal:
            text = f"'{indication.id}' is judged by voltage and has no 'nominal', the voltage of its supply"
            yield vetted.finding(indication, text, "measured")
