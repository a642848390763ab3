"""Rules about indications, checks, resets and danger signs."""

from __future__ import annotations

from collections.abc import Iterator

from diag.machine.model import Access, Indication, Kind, Role
from diag.machine.nodes import Look
from diag.panel import contacts, segments
from diag.vet import words
from diag.vet.table import Finding, Vetted


def idle_check(vetted: Vetted) -> Iterator[Finding]:
    """A written check that no cause's signature hangs on, and no danger sign and no lamp test either."""
    machine = vetted.machine
    dangers = {id for danger in machine.dangers for id, _ in danger.when} | set(_joined(vetted))
    for check in vetted.machine.checks.values():
        if not check.implied and not any(id in vetted.shown or id in dangers for id in check.gives):
            yield Finding(vetted.where(check.place), f"no cause shows anything on what '{check.id}' gives")


def unused(vetted: Vetted) -> Iterator[Finding]:
    """An indication that nothing uses: no cause, danger sign, tree, need or proof."""
    machine = vetted.machine
    used = set(vetted.shown) | set(machine.resets)
    used.update(id for danger in machine.dangers for id, _ in danger.when)
    used.update(on for ind in machine.indications.values() for rule in ind.follows for on, _ in rule.when)
    used.update(id for check in machine.checks.values() for id in check.needs)
    used.update(_joined(vetted))
    used.update(id for cause in machine.causes.values() for id in cause.proof)
    used.update(id for reset in machine.resets.values() for id in reset.note_first)
    used.update(node.indication for _, node in vetted.nodes if isinstance(node, Look))
    for indication in machine.indications.values():
        if indication.id not in used:
            yield Finding(vetted.where(indication.place), f"nothing uses '{indication.id}'")


def _joined(vetted: Vetted) -> Iterator[str]:
    """Lamp tests, and lamps that a contact agrees with."""
    for indication in vetted.machine.indications.values():
        yield from (id for id, _ in indication.lamp_test)
        yield from (id for id, _ in indication.agrees)


def no_source(vetted: Vetted) -> Iterator[Finding]:
    """Limits without a source cannot be argued with."""
    for indication in vetted.machine.indications.values():
        if indication.kind is Kind.READING and not indication.source:
            yield Finding(vetted.where(indication.place), f"the limits of '{indication.id}' have no source")


def bare_check(vetted: Vetted) -> Iterator[Finding]:
    """Work inside says what with, and what to watch out for."""
    for check in vetted.machine.checks.values():
        if check.access is Access.OUTSIDE:
            continue
        missing = [name for name, text in (("caution", check.caution), ("with", check.tool)) if not text]
        if missing:
            text = f"'{check.id}' needs access {check.access} and has no {' and no '.join(repr(m) for m in missing)}"
            yield Finding(vetted.where(check.place), text)


def hidden_danger(vetted: Vetted) -> Iterator[Finding]:
    """A danger sign must be there to be seen from outside, by anybody."""
    machine = vetted.machine
    for danger, item in zip(machine.dangers, vetted.written.lists["dangers"], strict=True):
        for id, _ in danger.when:
            open_to_all = any(
                check.access is Access.OUTSIDE and set(Role) <= set(check.who) for check in machine.checks_for[id]
            )
            if not open_to_all:
                text = f"the danger sign '{id}' has no look from outside that anybody may take"
                yield Finding(item.place("when"), text)


def not_found(vetted: Vetted) -> Iterator[Finding]:
    """A lamp, display or contact that is neither on the face nor said to be anywhere, and that no check leads to."""
    on_face = {id for block in vetted.machine.face for row in block.rows for id in row}
    for indication in _looked_at(vetted):
        if indication.kind is not Kind.QUESTION and indication.id not in on_face and not indication.where:
            text = f"'{indication.id}' is not on the face, has no 'where' and no check; nobody could find it"
            yield Finding(vetted.where(indication.place), text)


def measured_by_nobody(vetted: Vetted) -> Iterator[Finding]:
    """What takes a meter takes a check that says how, and with what access."""
    for indication in _looked_at(vetted):
        if indication.measured:
            text = f"'{indication.id}' is measured, and no check says how; as it stands it is looked at from outside"
            yield Finding(vetted.where(indication.place), text)


def inside_look(vetted: Vetted) -> Iterator[Finding]:
    """What has no written check is looked at from outside, so it had better be there."""
    for indication in _looked_at(vetted):
        where = words.inside(indication.where)
        if where:
            text = f"'{indication.id}' is looked at from outside, and its place says '{where}'; write a check for it"
            yield Finding(vetted.place("indications", indication.id, "where"), text)


def _looked_at(vetted: Vetted) -> Iterator[Indication]:
    """Indications without a written check."""
    for check in vetted.machine.checks.values():
        if check.implied:
            yield vetted.machine.indications[check.gives[0]]


def physical(vetted: Vetted) -> Iterator[Finding]:
    """Physical work belongs to a check or a remedy with the access that it needs, where the gate sees it."""
    machine = vetted.machine
    for id, reset in machine.resets.items():
        word = words.told(reset.do)
        if word:
            text = f"'{word}' in a reset; physical work belongs in a check or a remedy"
            yield Finding(vetted.place("resets", id, "do"), text)
    for indication in machine.indications.values():
        if indication.kind is Kind.QUESTION and indication.id not in machine.resets:
            item = vetted.written.maps["indications"][indication.id]
            asked = item.node.find(["question"]).value
            word = words.asked(asked) if isinstance(asked, str) else ""
            if word:
                text = f"'{word}' in a question; physical work belongs in a check or a remedy"
                yield Finding(item.place("question"), text)
    for check in machine.checks.values():
        word = words.at_housing(check.do) if check.access is Access.OUTSIDE and not check.implied else ""
        if word:
            text = f"'{check.id}' has access outside and says '{word}'"
            yield Finding(vetted.place("checks", check.id, "do"), text)
    for remedy in machine.remedies.values():
        word = words.at_housing(remedy.do) if remedy.access is Access.OUTSIDE else ""
        if word:
            text = f"'{remedy.id}' has access outside and says '{word}'"
            yield Finding(vetted.where(remedy.place), text)


def no_glyph(vetted: Vetted) -> Iterator[Finding]:
    """A code that seven segments cannot show is a slip of the pen."""
    for indication in vetted.machine.indications.values():
        for code in indication.codes:
            try:
                segments.cells(code.pattern.replace("?", " "))
            except segments.NoGlyph as error:
                place = vetted.written.maps["indications"][indication.id].key_place("codes", code.pattern)
                yield Finding(place, f"code '{code.pattern}': {error}")


def two_meanings(vetted: Vetted) -> Iterator[Finding]:
    """A word that is a code and also the name of another state is taken as the state."""
    for indication in vetted.machine.indications.values():
        for code in indication.codes:
            if code.pattern in indication.state_ids and code.state != code.pattern:
                place = vetted.written.maps["indications"][indication.id].key_place("codes", code.pattern)
                text = f"'{code.pattern}' is a code for '{code.state}' and the name of another state"
                yield Finding(place, text)


def nobody_to_call(vetted: Vetted) -> Iterator[Finding]:
    """The screens name an engineer to call; a machine file should say which."""
    head = vetted.written.head
    if head is not None and head.node.find(["call", "engineer"]) in (head.node, head.node.find(["call"])):
        yield Finding(vetted.top, "'call' does not say how to reach an engineer")


def coil(vetted: Vetted) -> Iterator[Finding]:
    """A contact's form, its coil and its normal state say one thing three times; they should say the same."""
    for indication in vetted.machine.indications.values():
        if indication.kind is not Kind.CONTACT or not indication.coil or indication.normal not in ("open", "closed"):
            continue
        form = contacts.Form(indication.contact)
        should = contacts.expected(form, indication.coil == "energised", indication.side or "make").value
        if should != indication.normal:
            place = vetted.written.maps["indications"][indication.id].place("coil")
            is_now = f"a {form.value} contact with its coil {indication.coil} is {should}"
            yield Finding(place, f"{is_now}, and 'normal' says {indication.normal}")


def no_supply(vetted: Vetted) -> Iterator[Finding]:
    """A contact that is judged by volts needs the voltage of its supply, or the person is asked for it each time."""
    for indication in vetted.machine.indications.values():
        if indication.kind is Kind.CONTACT and indication.measured == "voltage" and not indication.nominal:
            place = vetted.written.maps["indications"][indication.id].place("measured")
            yield Finding(place, f"'{indication.id}' is measured by voltage and names no 'nominal', its supply")
