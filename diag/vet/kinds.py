"""Rules about one kind of indication: codes that a display can show, contacts that say one thing."""

from __future__ import annotations

from collections.abc import Iterator

from diag.machine.model import Kind
from diag.panel import contacts, segments
from diag.vet.table import Finding, Vetted, rule


@rule(
    "no-glyph",
    "warning",
    "A display may have shapes of its own; they only cannot be drawn from segments.",
    bad="""
indications:
  display: {codes: {M1: {state: brake, means: the brake is shut}}}
""",
    good="""
indications:
  display: {codes: {b1: {state: brake, means: the brake is shut}}}
""",
)
def no_glyph(vetted: Vetted) -> Iterator[Finding]:
    """A code that seven segments cannot show is a slip of the pen: write it as the display shows it."""
    for indication in vetted.machine.indications.values():
        if indication.kind is not Kind.DISPLAY:
            continue
        for code in indication.codes:
            try:
                segments.cells(code.pattern.replace("?", " "))
            except segments.NoGlyph as error:
                place = vetted.key("indications", indication.id, "codes", code.pattern, otherwise=indication.place)
                yield Finding(place, f"code '{code.pattern}': {error}")


@rule(
    "two-meanings",
    "warning",
    "There is a rule for it, the state wins; only whoever writes the code may not expect that.",
    bad="""
indications:
  display: {codes: {E2: {state: trip}, E3: {state: E2}}}
""",
    good="""
indications:
  display: {codes: {E2: {state: trip}, E3: {state: brake}}}
""",
)
def two_meanings(vetted: Vetted) -> Iterator[Finding]:
    """A word that is a code and also the name of another state is taken as the state. Give the state another name."""
    for indication in vetted.machine.indications.values():
        for code in indication.codes:
            if code.pattern in indication.state_ids and code.state != code.pattern:
                place = vetted.key("indications", indication.id, "codes", code.pattern, otherwise=indication.place)
                text = f"'{code.pattern}' is a code for '{code.state}' and the name of another state"
                yield Finding(place, text)


@rule(
    "coil",
    "error",
    "One of the three is wrong, and a person would be told that a good contact is bad.",
    bad="""
indications:
  motor-wire: {coil: energised}
""",
    good="""
indications:
  motor-wire: {coil: released}
""",
)
def coil(vetted: Vetted) -> Iterator[Finding]:
    """A contact's form, its coil and its normal state say one thing three times; they should say the same."""
    for indication in vetted.machine.indications.values():
        if indication.kind is not Kind.CONTACT or not indication.coil or indication.normal not in ("open", "closed"):
            continue
        form = contacts.Form(indication.contact)
        should = contacts.expected(form, indication.coil == "energised", indication.side or "make").value
        if should != indication.normal:
            place = vetted.place("indications", indication.id, "coil", otherwise=indication.place)
            is_now = f"a {form.value} contact with its coil {indication.coil} is {should}"
            yield Finding(place, f"{is_now}, and 'normal' says {indication.normal}")


@rule(
    "no-supply",
    "warning",
    "The person can be asked for it; it is only one question more each time.",
    bad="""
indications:
  motor-wire: {measured: voltage}
""",
    good="""
indications:
  motor-wire: {measured: voltage, nominal: 24}
""",
)
def no_supply(vetted: Vetted) -> Iterator[Finding]:
    """A contact that is judged by volts needs the voltage of its supply: write it as `nominal`."""
    for indication in vetted.machine.indications.values():
        if indication.kind is Kind.CONTACT and indication.measured == "voltage" and not indication.nominal:
            place = vetted.place("indications", indication.id, "measured", otherwise=indication.place)
            yield Finding(place, f"'{indication.id}' is measured by voltage and names no 'nominal', its supply")
