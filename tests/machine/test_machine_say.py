"""What people say of an indication, and the state that it means."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diag.machine.model import Band, Code, Indication, Kind, Machine, State
from diag.machine.states import bands
from diag.machine.states.codes import decode, width
from diag.machine.states.say import CannotRead, band, state_of


@pytest.mark.parametrize(
    ("indication", "said", "state"),
    [
        ("supply-lamp", "lit", "lit"),
        ("supply-lamp", " LIT ", "lit"),
        ("supply-lamp", "off", "dark"),
        ("supply-lamp", "steady", "lit"),
        ("supply-lamp", "flickering", "dim"),
        ("supply-lamp", "green steady", "lit"),
        ("before-stop", "power dip", "power-dip"),
        ("before-stop", "Power-Dip", "power-dip"),
        ("main-switch", "on", "on"),
        ("dc-supply", "23.9", "good"),
        ("dc-supply", "23,9 V", "good"),
        ("dc-supply", "-0.2", "absent"),
        ("dc-supply", "low", "low"),
        ("dc-supply", "300 mV", "absent"),
        ("drive-fuse", "OL", "open"),
        ("drive-fuse", "1k2", "open"),
        ("drive-fuse", "0.3", "good"),
        ("drive-fuse", ">40M", "open"),
        ("box-display", "--", "idle"),
        ("box-display", "d1", "drive-trip"),
        ("box-display", "D1", "drive-trip"),
        ("box-display", "A3", "start-up"),
        ("box-display", "g0", "guard-open"),
        ("box-display", "", "blank"),
        ("box-display", "  ", "blank"),
        ("box-display", "blank", "blank"),
        ("box-display", "guard open", "guard-open"),
        ("box-display", "77", "other"),
        ("panel-reset", "ran on", "ran-on"),
    ],
)
def test_what_is_said(mixer: Machine, indication: str, said: str, state: str) -> None:
    assert state_of(mixer.indications[indication], said) == state


@pytest.mark.parametrize(
    ("indication", "said", "text"),
    [
        ("supply-lamp", "drak", "unknown state 'drak'; nearest: 'dark'"),
        ("supply-lamp", "red steady", "unknown state 'red steady'; known: lit, dim, dark"),
        ("supply-lamp", "blink 1 Hz", "unknown state 'blink 1 Hz'; known: lit, dim, dark"),
        ("supply-lamp", "", "unknown state ''; known: lit, dim, dark"),
        ("box-display", "gaurd-open", "unknown state 'gaurd-open'; nearest: 'guard-open'"),
        ("dc-supply", "lwo", "unknown state 'lwo'; nearest: 'low'"),
        ("guard-contact", "clsoed", "unknown state 'clsoed'; nearest: 'closed'"),
        ("drive-fuse", ">10", "'>10' does not say which of good, high, open it is; name one"),
    ],
)
def test_what_cannot_be_read_names_what_can(mixer: Machine, indication: str, said: str, text: str) -> None:
    with pytest.raises(CannotRead) as error:
        state_of(mixer.indications[indication], said)
    assert str(error.value) == text


@pytest.mark.parametrize("said", ["abc V", "12 bar", "1e3", "--5", "23.9 24.1", "\x1b[31m", "9" * 500])
def test_what_is_no_reading_is_one_line(mixer: Machine, said: str) -> None:
    with pytest.raises(CannotRead) as error:
        state_of(mixer.indications["dc-supply"], said)
    assert str(error.value).isprintable()


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=30))
def test_any_text_gives_a_state_or_one_line(mixer: Machine, said: str) -> None:
    for indication in mixer.indications.values():
        try:
            found = state_of(indication, said)
        except CannotRead as error:
            found, text = "", str(error)
        assert found in indication.state_ids or text.isprintable()


@pytest.mark.source(
    "IEC 61131-2: 24 V d.c., -15 %/+20 %, so 20.4 and 28.8 V are still good", found="read in a summary of the standard"
)
def test_a_value_on_a_limit_belongs_to_the_normal_band(mixer: Machine) -> None:
    supply = mixer.indications["dc-supply"]
    assert [band(supply, value) for value in (20.4, 28.8)] == ["good", "good"]
    assert [band(supply, value) for value in (20.39, 28.81)] == ["low", "high"]


def test_a_value_on_another_limit_belongs_to_the_band_nearer_the_normal_one(mixer: Machine) -> None:
    supply, fuse = mixer.indications["dc-supply"], mixer.indications["drive-fuse"]
    assert band(supply, 5.0) == "low"
    assert band(fuse, 1.0) == "good"
    assert band(fuse, 1000.0) == "high"
    assert band(fuse, float("inf")) == "open"
    assert band(supply, float("-inf")) == "absent"
    with pytest.raises(CannotRead):
        band(supply, float("nan"))


limits = st.lists(st.integers(-1000, 1000), min_size=1, max_size=6, unique=True).map(sorted)


@settings(max_examples=150, deadline=None)
@given(limits, st.integers(0, 6), st.integers(-4400, 4400).map(lambda n: n / 4))
def test_bands_take_every_value(limits: list[int], normal: int, value: float) -> None:
    names = [f"b{i}" for i in range(len(limits) + 1)]
    texts = [f"< {limits[0]}", *(f"{a} .. {b}" for a, b in pairwise(limits)), f">= {limits[-1]}"]
    found = bands.parse_all(dict(reversed(list(zip(names, texts, strict=True)))))
    assert [b.state for b in found] == names
    home = normal % len(names)
    at = names.index(bands.place(found, names[home], value))
    inside = [i for i in range(len(names)) if _within(limits, i, value)]
    assert at == min(inside, key=lambda i: abs(i - home))


def _within(limits: list[int], i: int, value: float) -> bool:
    """Whether the closed band i holds the value."""
    return (i == 0 or value >= limits[i - 1]) and (i == len(limits) or value <= limits[i])


def display(*codes: tuple[str, str], characters: int = 3) -> Indication:
    states = dict.fromkeys(state for _, state in codes)
    return Indication(
        id="d",
        kind=Kind.DISPLAY,
        title="D",
        states=tuple(State(state) for state in [*states, "other"]),
        normal=codes[0][1],
        characters=characters,
        codes=tuple(Code(pattern, state) for pattern, state in codes),
    )


def test_an_exact_code_beats_a_pattern_wherever_it_stands() -> None:
    shown = display(("E??", "any"), ("E1?", "ones"), ("E12", "twelve"), ("b1", "small"), ("B1", "large"))
    assert [decode(shown, text) for text in ("E12", "E13", "E99", "e12", "e13")] == [
        "twelve",
        "ones",
        "any",
        "twelve",
        "ones",
    ]
    assert (decode(shown, "b1"), decode(shown, "B1"), decode(shown, "F00")) == ("small", "large", "other")


def test_case_that_leaves_two_states_decides_nothing() -> None:
    shown = display(("bA", "small"), ("Ba", "large"))
    assert decode(shown, "BA") == "other"


def test_the_earlier_of_two_equal_patterns_goes_first() -> None:
    assert decode(display(("?1", "left"), ("1?", "right")), "11") == "left"


def test_a_declared_other_is_kept(mixer: Machine) -> None:
    shown = replace(mixer.indications["box-display"], codes=(Code("??", "other"),))
    assert state_of(shown, "77") == "other"


def test_over_range_is_no_misspelt_state() -> None:
    reading = Indication(
        id="r", kind=Kind.READING, title="R", states=(State("cool"), State("hot")), normal="cool", unit="ohm",
        bands=(Band("cool", None, 1000.0), Band("hot", 1000.0, None)),
    )  # fmt: skip
    assert state_of(reading, "OL") == "hot"
    with pytest.raises(CannotRead, match="nearest: 'cool'"):
        state_of(reading, "coool")


@pytest.mark.parametrize(("code", "wide"), [("12", 2), ("1.2", 2), ("1.2.", 2), (".5", 2), ("..", 2), ("", 0)])
def test_a_point_shares_the_place_before_it(code: str, wide: int) -> None:
    assert width(code) == wide


def test_the_ohms_of_a_contact_measured_by_continuity() -> None:
    states = tuple(State(id) for id in ("open", "closed", "high-resistance"))
    contact = Indication(
        id="c", kind=Kind.CONTACT, title="C", states=states, normal="closed", contact="make", measured="continuity"
    )
    assert [state_of(contact, said) for said in ("0.3 ohm", "OL", "38")] == ["closed", "open", "high-resistance"]
    with pytest.raises(CannotRead, match="take one side off"):
        state_of(contact, "4k7")
    with pytest.raises(CannotRead, match="unknown state"):
        state_of(replace(contact, measured=""), "0.3 ohm")
    named = replace(contact, states=(State("through"), State("broken")), normal="through")
    with pytest.raises(CannotRead, match="Name one of through, broken"):
        state_of(named, "0.3 ohm")


def test_a_code_in_steps_may_be_longer_than_its_display() -> None:
    digit = replace(display(("-", "ready"), ("L04", "earth"), characters=1), scrolls=True)
    assert [state_of(digit, said) for said in ("-", "L04", "04L")] == ["ready", "earth", "other"]
    with pytest.raises(CannotRead):
        state_of(digit, "123456789")
    with pytest.raises(CannotRead):
        state_of(replace(digit, scrolls=False), "04L")
