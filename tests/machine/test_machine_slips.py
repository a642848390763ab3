"""Slips of the pen that YAML takes in silence, or tells at another line: each told where it is, with the right form."""

from __future__ import annotations

import re

import pytest
from pydantic import TypeAdapter, ValidationError

from diag.machine.language.fields.field_types import Chance, Rate
from diag.machine.language.fields.machine_fields import MinutesSource
from diag.machine.reader.compose import compose
from diag.machine.states.bands import BadBand, parse

LOST = "what stands after ' #' is a remark and is left out"
SPACE = "after a ':' comes a space"
COMMA = "inside { } and [ ] a comma separates fields"
DASHES = "no dashes inside braces and brackets; a list in one line is written [one, another]"
HASH = "what stands after '#' is a remark and is left out; put"
LINE = "a line that begins with '#' is a remark and is left out; write"
OR = "in quotes, or '# 3' if it is a remark (remark)"
OR_BEFORE = "in quotes, or '# ' before what is a remark (remark)"
DASH = "after the '-' of a list comes a space: write"
OWN_LINE = "a list begins on a line of its own, with nothing before it; else put the text in quotes"
FURTHER = (
    "this line stands further right than line 1 above, which is complete; "
    "check the indent, or whether a line such as 'causes:' is missing between them"
)
COLON = "a text that holds ': ' goes in quotes: write"
PARTS = "in braces a comma separates fields, and"
ABOVE = "is missing above"
BELOW = "what stands below it begins two spaces in (field)"
BELONG = "and what follows belong to"
MORE = "put two spaces more before each line of it (field)"
WHOLE = "has no ':'; put the text in quotes:"
STAR = "a text that begins with '*' goes in quotes (or '&Replace' is missing before it)"


def lines_of(text: str) -> list[str]:
    return [str(problem).removeprefix("f:") for problem in compose(text, "f")[1]]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("label: Lamp #3\n", f"""1:13: warning: {LOST}; write "Lamp #3" {OR}"""),
        ("label: #3\n", f"""1:8: warning: {LOST}; write "#3" {OR}"""),
        ("who:\n- #3\n", f"""2:3: warning: {LOST}; write "#3" {OR}"""),
        ("a: ö ü #3 # old\n", f"""1:8: warning: {LOST}; write "ö ü #3" {OR}"""),
        ("a: [x #3\n  ]\n", f"""1:7: warning: {LOST}; write "x #3" {OR}"""),
        ("a: {--: x, #1: y}\nb: c\n", f"""1:12: error: {HASH} "#1" in quotes (yaml)"""),
        ("a: [x, #3]\nb: c\n", f"""1:8: error: {HASH} "#3" in quotes (yaml)"""),
        ("c:\n  #1: hot\n  x: y\n", f"""2:3: warning: {LINE} "#1" {OR_BEFORE}"""),
    ],
)  # fmt: skip
def test_text_that_yaml_leaves_out_is_told(text: str, said: str) -> None:
    assert lines_of(text) == [said]


@pytest.mark.parametrize(
    "text",
    [
        "a: b # a remark\n",
        "a: b ## a remark\n",
        "a: 'b' #remark\n",
        "a: [b] #remark\n",
        "causes: #remark\n  a: b\n",
        'a: "b #3"\n',
        "a: b#3\n",
        "a: |\n  b #3\n  #1: c\n",
        "a: 'b\n  #1: c'\n",
        "#remark\n#!remark\n# 1: x\n#label: x\na: b\n",
        "a: b # see #3\n",
    ],
)
def test_what_is_meant_as_a_remark_is_none_of_it(text: str) -> None:
    assert lines_of(text) == []


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("title:X\nplace: Y\n", f"1:1: error: {SPACE}: write 'title: X' (yaml)"),
        ("format: 1\nrevision:26-11\nplace: Y\n", f"2:1: error: {SPACE}: write 'revision: 26-11' (yaml)"),
        ("minutes:\n  lock:10\n", f"2:3: error: {SPACE}: write 'lock: 10' (yaml)"),
        ("minutes:\n  lock:10\n  live: 3\n", f"2:3: error: {SPACE}: write 'lock: 10' (yaml)"),
        ("x:\n  normal: lit\n  lamp:green\ny: z\n", f"3:3: error: {SPACE}: write 'lamp: green' (yaml)"),
        ("x:\n  lamp:green", f"2:3: error: {SPACE}: write 'lamp: green' (yaml)"),
        ("a: Lamp failed\n  part:front\n", f"2:3: error: {SPACE}: write 'part: front' (yaml)"),
        ("a: {lamp:dark}\n", f"1:5: error: {SPACE}: write 'lamp: dark' (yaml)"),
        ("a: {x:, b: c}\n", f"1:5: error: {SPACE}, even where nothing follows: write 'x: ' (yaml)"),
        ("a: {x:}\n", f"1:5: error: {SPACE}, even where nothing follows: write 'x: ' (yaml)"),
        (
            "a: 1\nminutes = 35\nb: 2\n",
            "2:1: error: a ':' and a space belong here, and no '=': write 'minutes: 35' (yaml)",
        ),
        ("a: 1\nplace Hall 2\nb: 2\n", "2:1: error: a ':' is missing: write 'place: Hall 2' (yaml)"),
        ("a: 1\ncauses\n  b: 2\n", "2:1: error: a ':' is missing: write 'causes:' (yaml)"),
        ("causes\n  b: 2\n", "1:1: error: a ':' is missing: write 'causes:' (yaml)"),
        ("a: Wait: then go\n", f"""1:8: error: {COLON} a: "Wait: then go" (yaml)"""),
        ("a: X\n    part: y\n", f"2:9: error: {FURTHER} (yaml)"),
    ],
)  # fmt: skip
def test_a_line_without_its_colon_and_space_is_told_at_that_line(text: str, said: str) -> None:
    assert lines_of(text) == [said]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("h:\n  -Hot water\n", f"2:3: error: {DASH} '- Hot water' (yaml)"),
        ("h:\n  - Hot\n  -Knives\nb: c\n", f"3:3: error: {DASH} '- Knives' (yaml)"),
        ("h:\n  - Hot\n    -Knives\nb: c\n", f"3:5: error: {DASH} '- Knives' (yaml)"),
        ("h: Hot\n  - Knives\n", f"2:3: error: {OWN_LINE}; or a line such as 'hazards:' is missing above (yaml)"),
        ("h: - Hot\n", "1:4: error: a list begins on a line of its own, or is written [one, another] (yaml)"),
        ("h: {a: - hood}\n", f"1:8: error: {DASHES} (yaml)"),
        ("h: {- hood, b}\n", f"1:5: error: {DASHES} (yaml)"),
    ],
)  # fmt: skip
def test_dashes(text: str, said: str) -> None:
    assert lines_of(text) == [said]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("a: {low: < 0,2 bar, ok: x}\n", f"""1:14: error: {COMMA}: write '0.2 bar' (yaml)"""),
        ("a: {air: 0,2 bar}\n", f"""1:12: error: {COMMA}: write '0.2 bar', or "0,2 bar" in quotes (yaml)"""),
        ("a: {title: Fuse 0,5 A}\n", f"""1:19: error: {COMMA}: write '0.5 A', or "0,5 A" in quotes (yaml)"""),
        ("a: {usual: {yes: 0,9}}\n", f"""1:20: error: {COMMA}: write '0.9' (yaml)"""),
        ("a: {often: 0,5 a year}\n", f"""1:14: error: {COMMA}: write '0.5 a year' (yaml)"""),
        ("a: {minutes: 0,5}\n", f"""1:16: error: {COMMA}: write '0.5' (yaml)"""),
        ("a: [0,5 A fuse, b]\n", f"""1:7: error: {COMMA}: write '0.5 A fuse', or "0,5 A fuse" in quotes (yaml)"""),
        ("a: {do: Wait 10 s, then}\n", f"""1:20: error: {PARTS} 'then' {WHOLE} "Wait 10 s, then" (yaml)"""),
        ("a: {do: Wait, go on, minutes: 5}\n", f"""1:15: error: {PARTS} 'go on' {WHOLE} "Wait, go on" (yaml)"""),
    ],
)  # fmt: skip
def test_commas_inside_braces_and_brackets(text: str, said: str) -> None:
    assert lines_of(text) == [said]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("a: {code: guard gate-one: open}\n", "1:17: error: a ',' is missing: write 'code: guard, gate-one: open'"),
        ("a: {low: 0.4 none: 0.1, ok: x}\n", "1:14: error: a ',' is missing: write 'low: 0.4, none: 0.1'"),
        ("a: {do: Change it minutes: 5}\n", "1:19: error: a ',' is missing: write 'do: Change it, minutes: 5'"),
        ("""a: {none: "< 5" low: "> 5"}\n""", """1:17: error: a ',' is missing: write 'none: "< 5", low: "> 5"'"""),
        ("a: {when: {b: c} shows: d}\n", "1:18: error: a ',' is missing: write 'when: {b: c}, shows: d'"),
        ("""a: ["b c" "d"]\n""", """1:11: error: a ',' is missing: write '"b c", "d"'"""),
    ],
)  # fmt: skip
def test_a_comma_that_is_missing(text: str, said: str) -> None:
    """What is proposed is read as it was meant."""
    assert lines_of(text) == [f"{said} (yaml)"]
    write = said.partition("write '")[2][:-1]
    column = int(said.split(":")[1])
    before = text[: column - 1].rstrip()
    start = before.rindex(write.partition(", ")[0])
    whole = f"{text[:start]}{write}{text[start + len(write) - 1 :]}"
    assert len(whole) == len(text) + 1
    assert lines_of(whole) == []


@pytest.mark.parametrize(
    "text",
    [
        *("a: [1,2]\n", "a: [1, 2 bar]\n", "a: {x, y: {}}\n", "a: {x: , y}\n", "a: {x: {b: c}, y: }\n"),
        *("a:\n  -5\n", "a: --\n", "a: hot,\n  see http://x\n"),
    ],
)  # fmt: skip
def test_what_only_looks_like_a_slip_is_none(text: str) -> None:
    assert lines_of(text) == []


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("a: *Replace the belt\n", f"1:4: error: {STAR} (yaml)"),
        ("a: *Replace, then go\n", f"1:4: error: {STAR} (yaml)"),
        ("a: %x\n", """1:4: error: a text that begins with '%' goes in quotes: write a: "%x" (yaml)"""),
        ("a: > 28.8\n", """1:4: error: a text that begins with '>' goes in quotes: write a: "> 28.8" (yaml)"""),
        ('a: "Wait" and go\n', '1:11: error: words after the closing "; put all of the text in quotes (yaml)'),
        ("a: {b: c}}\n", "1:10: error: a '}' too many (yaml)"),
        ("a: {b: c\nd: e\n", "1:4: error: the '{' that opens here is not closed, or a ',' is missing (yaml)"),
        ("a:\n\tb: c\n", "2:1: error: a tab; indent with spaces (yaml)"),
    ],
)  # fmt: skip
def test_the_parsers_own_words_do_not_reach_the_reader(text: str, said: str) -> None:
    assert lines_of(text) == [said]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("  a: {title: A, part: p, often: rare}\n", f"1:3: error: the line 'causes:' is missing above; {BELOW}"),
        ("points:\n  q: {}\n  c: {title: A, release: b}", f"3:3: error: the line 'stored:' {ABOVE} 'c' (field)"),
        ("call:\n  engineer: x\n  q: {title: A, where: b}\n", f"3:3: error: the line 'points:' {ABOVE} 'q' (field)"),
        ("checks:\n  a:\n  gives: b\n  do: c\n  d:\n  gives: e\n", f"3:3: error: 'gives' {BELONG} 'a': {MORE}"),
    ],
)  # fmt: skip
def test_lines_that_stand_where_they_cannot_belong_are_told_once(text: str, said: str) -> None:
    assert lines_of(text) == [said]


@pytest.mark.parametrize(
    "text",
    [
        "indications:\n  a:\n  label: {lamp: red, normal: lit}\n",
        "remedies:\n  a: {do: b, minutes: 3, access: outside}\n",
        "checks:\n  do: {do: b, minutes: 3, access: outside, gives: c}\n",
        "tree: a\ntitle: A\ndo: b\n",
    ],
)
def test_entries_where_they_belong_are_let_be(text: str) -> None:
    assert lines_of(text) == []


def test_a_number_with_a_comma_is_told_with_its_point() -> None:
    with pytest.raises(ValidationError, match=r"write 2\.5"):
        MinutesSource(lock="2,5")


def test_a_rate_a_chance_and_a_band_as_people_write_them_are_told_with_what_to_write() -> None:
    rate, chance = TypeAdapter(Rate), TypeAdapter(Chance)
    with pytest.raises(ValidationError, match=r"; write '0\.5 a year' "):
        rate.validate_python("0,5 a year")
    for said, right in (("90 %", "0.9"), ("2,5%", "0.025"), ("100 %", "1"), ("0 %", "0")):
        with pytest.raises(ValidationError, match=rf"; write {re.escape(right)} "):
            chance.validate_python(said)
        assert 0.0 <= chance.validate_python(right) <= 1.0
    with pytest.raises(ValidationError, match=r"from 0 to 1 "):
        chance.validate_python("120 %")
    with pytest.raises(BadBand, match=r'; write "5 \.\. 20\.4"$'):
        parse("low", "5 .. 20,4")
    assert (parse("low", "5 .. 20.4").low, parse("low", "5 .. 20.4").high) == (5.0, 20.4)
    with pytest.raises(BadBand, match=r"'> 28\.8'$"):
        parse("low", "5,0 to 20,4")
