"""What panel.yaml says of the indications: what can be seen, read, measured or asked."""

from __future__ import annotations

from typing import Annotated, Final, Literal, get_args

from pydantic import BeforeValidator

from diag.machine.language.fields.base_source import Source, first_field, needed, optional
from diag.machine.language.fields.field_types import (
    Characters,
    Flag,
    IndicationWord,
    Minutes,
    Name,
    Names,
    Number,
    Some,
    Text,
    When,
    Words,
    complaint,
    is_name,
    one_or_many_maps,
)
from diag.machine.language.fields.marks import Refers
from diag.machine.model import Energy
from diag.machine.names import Named
from diag.machine.problem import Broken


class FollowSource(Source):
    """Shown whatever the cause is, while something else stands in a certain way."""

    when: When = needed("What stands how.", "{supply-lamp: dark}")
    shows: Text = needed("What this indication then shows.", "dark")


class IndicationSource(Source):
    """Something to see, read, measure or ask. Its first field says what: lamp, display, contact, reading, question or
    history."""

    title: Text | None = optional(
        None, "What to call it on the screen. Left out: the label, the question, or the name.", "Ready lamp"
    )
    where: Text = optional("", "Where it is, unless it is on the face.", "front, top left")
    normal: Text | None = optional(None, "Its state on a stopped, energised, healthy machine.", "lit")
    energy: Energy | None = optional(None, "What the machine must be for it to mean anything: on, off, or any.", "on")
    follows: Annotated[tuple[FollowSource, ...], BeforeValidator(one_or_many_maps)] = optional(
        (),
        "What it shows because something else shows something: dark without supply, for one.",
        "{when: {supply-lamp: dark}, shows: dark}",
    )
    source: Text | None = optional(None, "Where the limits come from. Limits need one.", "IEC 61131-2")
    protective: Words = optional((), "States in which a protective device has tripped.", "[tripped]")
    latched: dict[Text, Annotated[Words, Refers(Named.RESET)]] = optional(
        {}, "States that stay until they are cleared, and what clears them: a reset, or power.", "{dark: reset-key}"
    )


class LampSource(IndicationSource):
    """A lamp."""

    lamp: Literal["red", "yellow", "amber", "orange", "green", "blue", "white"] = needed("Its colour as seen.", "green")
    label: Text | None = optional(None, "As printed beside it.", "READY")
    states: dict[Name, Text] | None = optional(
        None, "State to how it looks: steady, off, blink 1 Hz. Left out: lit and dark.", "{lit: steady, dark: off}"
    )
    lamp_test: dict[IndicationWord, Words] = optional(
        {}, "The question that a lamp test answers, and the answer that says that this lamp failed.", "{test-key: dark}"
    )


class CodeSource(Source):
    """What a code says."""

    state: Name = needed("The state that it is; several codes may share one.", "hot")
    means: Text = optional("", "What it means, in words.", "what it means")


def code_of(value: object) -> object:
    """`hot` stands for `{state: hot}`."""
    if isinstance(value, str) and value and not is_name(value):
        form = "{state: hot, means: what it means}"
        raise complaint(Broken.KIND, f"names a state in one word, such as hot; what it means goes beside it: {form}")
    return {"state": value} if isinstance(value, str) else value


class DisplaySource(IndicationSource):
    """A display that shows codes."""

    display: Characters = needed("How many characters, as in 2 characters.", "2 characters")
    label: Text | None = optional(None, "As printed beside it.", "STATUS")
    codes: dict[str, Annotated[CodeSource, BeforeValidator(code_of)]] = needed(
        "Code to state. ? stands for any one character. Put codes in quotes. blank stands for nothing shown.",
        '{"--": idle, "E1": {state: hot, means: what it means}}',
    )
    scrolls: Flag = optional(False, "true when a display of one character shows a code step by step.", "true")
    lamp_test: dict[IndicationWord, Words] = optional(
        {},
        "The question that a lamp test answers, and the answer that says that this display failed.",
        "{test-key: dark}",
    )


class HistorySource(IndicationSource):
    """A list of alarms, read out in order; the first of them counts."""

    history: Text = needed("What the list is called on the machine.", "Alarm page")
    label: Text | None = optional(None, "As printed beside it.", "ALARMS")
    codes: dict[str, Annotated[CodeSource, BeforeValidator(code_of)]] = needed(
        "Code to state. ? stands for any one character. Put codes in quotes.",
        '{"A17": {state: hot, means: what it means}}',
    )


class ContactSource(IndicationSource):
    """A contact: open or closed."""

    contact: Literal["make", "break", "changeover"] = needed(
        "make closes when operated, break opens, changeover has both.", "make"
    )
    label: Text | None = optional(None, "As printed beside it.", "S4")
    measured: Literal["continuity", "voltage"] | None = optional(
        None, "continuity: by ohms, with the power off. voltage: by volts. Left out: seen, by a lamp on it.", "voltage"
    )
    states: Names = optional((), "Left out: open and closed.", "[open, closed]")
    nominal: Number | None = optional(None, "The voltage of its supply, when it is measured by voltage.", "24")
    side: Literal["make", "break"] | None = optional(None, "Which half of a changeover is meant.", "make")
    coil: Literal["energised", "released"] | None = optional(
        None, "What the coil or the operator does on a healthy, stopped machine.", "energised"
    )
    agrees: dict[IndicationWord, dict[Name, Name]] = optional(
        {},
        "A lamp that shows the same: its state, and the contact's state that goes with it.",
        "{run-lamp: {lit: closed}}",
    )


class ReadingSource(IndicationSource):
    """Something that a meter or a gauge reads."""

    reading: Text = needed("The unit, as in V d.c., ohm, bar; or plain number.", "V d.c.")
    label: Text | None = optional(None, "As printed beside it.", "U1")
    nominal: Number | None = optional(None, "The value that it should have.", "24")
    bands: Annotated[dict[Name, Text], Some] = needed(
        "State to its span, without a gap: < 5, 5 .. 20.4, > 28.8.", '{low: "< 20", good: "20 .. 28", high: "> 28"}'
    )
    formula: Text | None = optional(
        None, "For what is worked out from several values: which formula.", "voltage unbalance"
    )
    accuracy: Text | None = optional(None, "Of the meter, as in 0.5 % + 3.", "0.5 % + 3")


class QuestionSource(IndicationSource):
    """Something to ask a person."""

    question: Text = needed("In the words that one would ask it.", "Does it hum?")
    usual: dict[Name, Minutes] | None = optional(
        None,
        "Answer to how often it is given, on stops of all kinds. The most frequent is the normal one.",
        "{nothing: 6, power-dip: 1}",
    )
    answers: Names | None = optional(
        None, "The answers, where nothing is known of how often; in place of usual.", "[yes, no]"
    )


Indication = LampSource | DisplaySource | ContactSource | ReadingSource | QuestionSource | HistorySource
KINDS: Final[dict[str, type[IndicationSource]]] = {first_field(model): model for model in get_args(Indication)}
"""What an indication may be, by the field that tells it."""
OPEN: Final = "open"
CLOSED: Final = "closed"
"""The states of a contact that names none."""
ALL: Final = "all"
"""Stands above several conditions that hold at once, where an indication's name could stand."""
POWER: Final = "power"
"""Stands where a reset could, for a state that is cleared by switching the power off and on."""
