"""The rules about sense: silent on a machine that makes sense, and telling where it does not.

What each rule writes is in `tests/bad/sense-*/expected.txt`; here stand the ways that are easily got wrong.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from diag.machine.load import load
from diag.tree.ways import open_states
from diag.vet import vet_machine
from diag.vet.rules.catalogue import SENSE
from diag.vet.vetted import work_words as words
from diag.vet.vetted.sample import SAMPLE


def test_a_machine_that_makes_sense_has_only_a_count(tmp_path: Path) -> None:
    (tmp_path / "machine.yaml").write_text(SAMPLE)
    assert [problem.rule for problem in vet_machine(tmp_path)] == ["no-example"]


@pytest.mark.parametrize(
    "folder", ["knowledge/tray-stacker", "tests/machines/mixer", "tests/kinds/bench", "tests/ahead/two-lamps"]
)
def test_our_own_machines_have_no_errors(folder: str) -> None:
    assert [str(problem) for problem in vet_machine(ROOT / folder) if problem.level == "error"] == []


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("Open the cabinet and look", "Open"),
        ("Then remove the cover", "remove"),
        ("Reach behind the belt", "Reach"),
        ("Take the two screws out", "Take the two screws out"),
        ("See whether the guard is open", ""),
        ("Look at the open guard", ""),
        ("Note which valve is open or shut", ""),
        ("It was left open", ""),
        ("Ask who opened it", ""),
        ("Look at the removed part", ""),
        ("Look from outside", ""),
    ],
)
def test_words_of_work_in_an_instruction(text: str, word: str) -> None:
    assert words.told(text) == word


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("Is the guard open?", ""),
        ("Is the door all the way open or half open?", ""),
        ("What do you see when you open the door?", "open"),
        ("Unplug the cable: does it click?", "Unplug"),
        ("Does the valve open when it should?", ""),
    ],
)
def test_words_of_work_in_a_question(text: str, word: str) -> None:
    assert words.asked(text) == word


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Open the shut-off valve slowly", ""),
        ("Open the cabinet door", "Open the cabinet"),
        ("Wait, then unscrew the cover", "unscrew the cover"),
        ("Close the guard", ""),
        ("Look through the window of the door", ""),
    ],
)
def test_work_at_a_housing(text: str, found: str) -> None:
    assert words.at_work(text) == found


@pytest.mark.parametrize(
    ("text", "works", "mends"),
    [
        ("Replace the fuse", "Replace the fuse", "Replace the fuse"),
        ("Stop it, then tighten the drive belt", "tighten the drive belt", "tighten the drive belt"),
        ("Measure between the terminals", "Measure between the terminals", ""),
        ("Have the fuse renewed by the site's power staff", "", ""),
        ("Change the filter mat on the outside of the door", "", ""),
        ("With the relay picked up bridge 11 and 14", "", ""),
        ("Bridge 11 and 14 for a moment", "", "Bridge"),
        ("Seat the amplifier and measure 24 V", "", "Seat the amplifier"),
    ],
)
def test_work_on_what_is_kept_from_hands(text: str, works: str, mends: str) -> None:
    assert (words.at_work(text), words.mends(text)) == (works, mends)


@pytest.mark.parametrize(
    ("title", "found"),
    [
        ("Amplifier d.c. bus", "d.c. bus"),
        ("DC-link of the drive", "DC-link"),
        ("Link capacitors", "capacitors"),
        ("Buffer batteries of the clock", "batteries"),
        ("Uninterruptible supply", "Uninterruptible"),
        ("Spring of the brake", ""),
        ("Air receiver", ""),
        ("Oil pressure in the accumulator", ""),
        ("Chain link under the raised load", ""),
    ],
)
def test_stored_energy_that_is_electrical(title: str, found: str) -> None:
    assert words.charged(title) == found


@pytest.mark.parametrize(
    ("where", "found"),
    [
        ("inside the cabinet, upper rail", "inside"),
        ("in the cabinet", "in the cabinet"),
        ("in the cabinet, through the window", ""),
        ("front of the cabinet", ""),
        ("behind the cover", "behind the cover"),
    ],
)
def test_places_inside(where: str, found: str) -> None:
    assert words.inside(where) == found


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("Does the drum turn when START is pressed?", "turn"),
        ("Does the flag go in when the belt is asked to run?", "go in"),
        ("Is the pump running?", "running"),
        ("Does the belt move by hand?", ""),
        ("Is a red button pressed in?", ""),
        ("Did it run before the stop?", ""),
        ("How does the lever stand?", ""),
        ("How do the blades of the wheel look?", ""),
    ],
)
def test_words_of_trying_in_a_question(text: str, word: str) -> None:
    assert words.tried(text) == word


ROOT = Path(__file__).resolve().parents[2]

HEAD = """format: 1
title: Ways
place: here
call: {engineer: x}
indications:
  a: {question: A?, answers: [one, two, three]}
  b: {question: B?, answers: [one, two]}
causes:
  c:
    {title: C, part: p, often: rare, shows: {a: one, b: two}, proof: {a: two}, remedy: REMEDY}
examples: [{example: e, title: E, facts: [{a: one}], cause: c, tree: false}]
""".replace("REMEDY", "{do: X, minutes: 1, access: outside}")


ABOUT_TREES = {"no-branch", "dead-branch", "tree-loop", "unreached-tree"}


def told(folder: Path, trees: str) -> list[str]:
    (folder / "machine.yaml").write_text(HEAD + trees)
    return [f"{problem.line}: {problem.text}" for problem in vet_machine(folder) if problem.rule in ABOUT_TREES]


def test_what_the_way_in_settled_needs_no_branch(tmp_path: Path) -> None:
    trees = """trees:
  - {tree: t, title: T, look: a, when: {one: {go: u}, two: {go: u}, three: {conclude: c}}}
  - {tree: u, title: U, look: a, when: {one: {conclude: c}, two: {conclude: c}}}
"""
    assert told(tmp_path, trees) == []
    assert told(tmp_path, trees.replace("two: {go: u}", "two: {conclude: c}")) == [
        "14: two of 'a' cannot be met here; it was settled earlier"
    ]


def test_ways_from_several_trees_add_up(tmp_path: Path) -> None:
    trees = """trees:
  - {tree: t, title: T, look: a, when: {one: {go: u}, two: {go: v}, three: {conclude: c}}}
  - {tree: u, title: U, look: b, when: {one: {go: w}, two: {conclude: c}}}
  - {tree: v, title: V, look: b, when: {one: {conclude: c}, two: {go: w}}}
  - {tree: w, title: W, look: a, when: {one: {conclude: c}}}
"""
    assert told(tmp_path, trees) == ["16: no branch and no 'otherwise' for two of 'a'"]


def test_a_tree_that_leads_back_is_walked_to_its_end(tmp_path: Path) -> None:
    trees = """trees:
  - {tree: t, title: T, look: a, when: {one: {go: u}}, otherwise: {conclude: c}}
  - {tree: u, title: U, look: b, when: {one: {go: t}, two: {conclude: c}}}
"""
    lines = told(tmp_path, trees)
    assert any("trees lead back to one another: t, u, t" in line for line in lines)
    machine = load(tmp_path).machine
    assert machine is not None
    assert open_states(machine)[id(machine.trees["t"].root)] == {"one", "two", "three"}


def test_one_file_of_a_machine_has_its_own_problems_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("one/trees").mkdir(parents=True)
    Path("one/machine.yaml").write_text(HEAD.replace("title: Ways", "titel: Ways"))
    Path("one/trees/t.yaml").write_text("tree: t\ntitle: T\nlook: z\n")
    everything = [problem.file for problem in vet_machine(Path("one"))]
    assert everything == ["one/machine.yaml", "one/trees/t.yaml", "one/trees/t.yaml"]
    assert {problem.file for problem in vet_machine(Path("one"), Path("one/trees/t.yaml"))} == {"one/trees/t.yaml"}
    assert [str(problem) for problem in vet_machine(Path("nowhere"))] == [
        "nowhere:1:1: error: no such folder (machine)",
    ]


def test_causes_with_one_remedy_need_not_be_told_apart(tmp_path: Path) -> None:
    twin = """  d: {title: D, part: p, often: rare, shows: {b: two, a: one}, remedy: REMEDY, proof: {a: two}}
remedies:
  all: {do: X, minutes: 1, access: outside}
"""
    cause = "remedy: {do: X, minutes: 1, access: outside}}\n"
    for remedy, count in (("all", 0), ("{do: Y, minutes: 1, access: outside}", 1)):
        text = HEAD.replace(cause, f"remedy: all}}\n{twin.replace('REMEDY', remedy)}")
        (tmp_path / "machine.yaml").write_text(text)
        assert sum(problem.rule == "ambiguous" for problem in vet_machine(tmp_path)) == count


def test_a_cause_that_shows_only_the_normal_state_is_not_found(tmp_path: Path) -> None:
    lamp = "  lamp: {lamp: red, where: front, normal: dark}\n"
    dull = "  dull: {title: D, part: p, often: rare, shows: {lamp: {dark: always, lit: never}}}\n"
    (tmp_path / "machine.yaml").write_text(HEAD.replace("causes:\n", f"{lamp}causes:\n{dull}"))
    assert [p.text for p in vet_machine(tmp_path) if p.rule == "unfindable"] == [
        "no fact can raise 'dull': it shows what a healthy machine shows; write under 'shows' what it changes"
    ]


def found(folder: Path, rule: str, *changes: tuple[str, str]) -> list[str]:
    """What a rule says of the sample machine with some text of its file changed."""
    text = SAMPLE
    for old, new in changes:
        assert text.count(old) == 1
        text = text.replace(old, new)
    (folder / "machine.yaml").write_text(text)
    problems = vet_machine(folder)
    assert all(problem.level != "error" for problem in problems if problem.rule not in {r.name for r in SENSE})
    return [problem.text for problem in problems if problem.rule == rule]


def test_causes_are_alike_by_what_follows_and_not_by_how_it_is_written(tmp_path: Path) -> None:
    """No supply makes both lamps and the display dark by itself; to write that as well changes nothing."""
    other = """  fuse-blown:
    title: Fuse blown
    part: supply
    often: rare
    shows: {supply: {absent: usually, low: sometimes}, display: SHOWS}
    remedy: {do: Call, minutes: 5, access: outside}
    proof: {supply-lamp: lit}
  voltage-high:
"""
    after = ("  voltage-high:\n", other.replace("SHOWS", "idle"))
    assert found(tmp_path, "ambiguous", after) == [
        "no check tells supply-lost and fuse-blown apart; write one that does, or one remedy for all"
    ]
    assert found(tmp_path, "ambiguous", ("  voltage-high:\n", other.replace("SHOWS", "filter"))) == []


def test_a_group_is_told_once_with_all_of_its_causes(tmp_path: Path) -> None:
    more = "".join(
        f"  spare-{n}: {{title: S, part: p, often: rare, shows: {{air: {{weak: always}}, display: filter}}, "
        f"remedy: {{do: Call, minutes: {n}, access: outside}}}}\n"
        for n in range(1, 4)
    )
    told_of = found(tmp_path, "ambiguous", ("  wire-broken:\n", more + "  wire-broken:\n"))
    assert told_of == [
        "no check tells filter-full, spare-1, spare-2 and spare-3 apart; write one that does, or one remedy for all"
    ]


def test_a_cause_that_comes_and_goes_is_told_from_one_that_stays(tmp_path: Path) -> None:
    twin = """  wire-cut:
    {title: W, part: p, often: rare, shows: {motor-wire: open, air: {weak: usually}, smell: {burning: seldom}},
     remedy: {do: X, minutes: 1, access: outside}COMES}
  wire-broken:
"""
    assert found(tmp_path, "ambiguous", ("  wire-broken:\n", twin.replace("COMES", ""))) == []
    assert len(found(tmp_path, "ambiguous", ("  wire-broken:\n", twin.replace("COMES", ", comes: intermittent")))) == 1


def test_a_conclusion_is_measured_by_the_ways_that_come(tmp_path: Path) -> None:
    """The share of a hat is 1 of 9 causes, `unlisted` among them; 2 of 9 for two."""
    wrong = ("filter: {conclude: filter-full}", "filter: {conclude: lamp-failed}")
    (line,) = found(tmp_path, "contradicted", wrong)
    assert "the facts on the way here (supply-lamp lit, display filter) speak against lamp-failed: they leave " in line
    assert "% for filter-full; correct the conclusion" in line
    both = ("filter: {conclude: filter-full}", "filter: {conclude: [lamp-failed, filter-full]}")
    assert found(tmp_path, "contradicted", both) == []


def test_a_proof_by_several_things_may_hold_in_some_of_them(tmp_path: Path) -> None:
    """The lamp is lit with the filter full; the display tells that it is not cured."""

    def proof(written: str) -> list[str]:
        cause = "    shows: {display: filter, air: {weak: always}}\n"
        return found(tmp_path, "proof-holds-anyway", (cause, f"{cause}    proof: {written}\n"))

    assert proof("{supply-lamp: lit, display: idle}") == []
    assert len(proof("{supply-lamp: lit, ready-lamp: lit}")) == 1
    assert len(proof("{display: [idle, filter]}")) == 1


LOCKED = """idle:
            look: motor-wire
            when:
              open: {conclude: wire-broken}
              closed:
                look: alarms
                when: {relay: {look: fan-wire, otherwise: {conclude: motor-hot}}}
                otherwise: {call: engineer}
"""
FAN_WIRE = """checks:
  measure-fan-wire:
    {gives: fan-wire, do: Measure, with: meter, access: dead, zone: box, minutes: 6, caution: Sharp edges.}
"""


@pytest.mark.parametrize(
    ("alarms", "again"),
    [
        ("", True),
        ("  read-alarms: {gives: alarms, do: Look, access: outside, energy: any, minutes: 1}\n", False),
        ("  read-alarms: {gives: alarms, do: Look, access: outside, minutes: 1, needs: {motor-wire: closed}}\n", False),
    ],
)
def test_power_between_two_lockouts_is_told_where_it_need_not_be(tmp_path: Path, alarms: str, again: bool) -> None:
    lines = found(
        tmp_path,
        "lockout-again",
        ("idle: {look: motor-wire, when: {open: {conclude: wire-broken}, closed: {call: engineer}}}\n", LOCKED),
        (
            "  motor-wire: {contact",
            "  fan-wire: {contact: make, measured: continuity, normal: closed}\n  motor-wire: {contact",
        ),
        ("checks:\n", FAN_WIRE + alarms),
    )
    text = "'fan-wire' locks out 'box' a second time on this way, since 'alarms' needs power; look at that first"
    assert lines == ([text] if again else [])


def test_a_second_look_that_splits_is_no_repetition(tmp_path: Path) -> None:
    branches = "when: {hot: {conclude: motor-hot}, filter: {conclude: filter-full}}"
    split = f"hot | filter: {{look: air, otherwise: {{look: display, {branches}}}}}\n"
    old = """hot: {do: Note the code, then: {conclude: [motor-hot, voltage-high]}}
          filter: {conclude: filter-full}
"""
    assert found(tmp_path, "asked-again", (old, split)) == []
    same = split.replace(branches, "otherwise: {call: engineer}")
    assert found(tmp_path, "asked-again", (old, same)) == [
        "'display' is known here on every way, and this look decides nothing; take it out"
    ]


def test_live_work_is_spared_only_by_who_may_do_the_other(tmp_path: Path) -> None:
    look = (
        "  see-supply: {gives: supply, do: Look at the desk, access: outside, minutes: 1, who: WHO}\n  measure-wire:\n"
    )
    for who, count in (("electrician", 1), ("operator", 0)):
        assert len(found(tmp_path, "needless-live", ("  measure-wire:\n", look.replace("WHO", who)))) == count


WHEEL = """  wheel: {question: QUESTION, usual: {"yes": 97, "no": 3}ENERGY}
  motor-wire: {contact"""
FOLLOWS = ', follows: {{when: {{{}}}, shows: "{}"}}'
IN_BOX = "access: dead, zone: box"
TRIED = "Does the wheel turn when START is pressed?"


@pytest.mark.parametrize(
    ("question", "energy", "proof", "remedy", "count"),
    [
        (TRIED, "", '{wheel: "yes"}', IN_BOX, 1),
        (TRIED, "", '{wheel: "yes", motor-wire: closed}', IN_BOX, 1),
        (TRIED, "", '{wheel: "yes", display: idle}', IN_BOX, 0),  # looked at with power, both
        (TRIED, "", '{wheel: "yes"}', "access: outside", 0),
        (TRIED, ", energy: on", '{wheel: "yes"}', IN_BOX, 0),
        (TRIED, ", energy: any", '{wheel: "yes"}', IN_BOX, 0),  # the file's own word
        ("Does the wheel sit firm on its shaft?", "", '{wheel: "yes"}', IN_BOX, 0),
        ("Is the switch in?", ', protective: "no"', '{wheel: "yes"}', IN_BOX, 1),
        ("Is it in?", ', protective: "no"', '{wheel: "yes", motor-wire: closed}', IN_BOX, 0),
        ("Is it quiet?", FOLLOWS.format("supply: absent", "yes"), '{wheel: "yes"}', IN_BOX, 1),
        ("Is it quiet?", FOLLOWS.format("supply: absent", "no"), '{wheel: "yes"}', IN_BOX, 0),
        ("Is it quiet?", FOLLOWS.format('main-switch: "off"', "yes"), '{wheel: "yes"}', IN_BOX, 0),
    ],
)  # fmt: skip
def test_a_proof_that_holds_with_the_power_off(
    tmp_path: Path, question: str, energy: str, proof: str, remedy: str, count: int
) -> None:
    told_of = found(
        tmp_path,
        "proof-without-power",
        ("  motor-wire: {contact", WHEEL.replace("QUESTION", question).replace("ENERGY", energy)),
        ("smell: {burning: seldom}}", 'smell: {burning: seldom}, wheel: "no"}'),
        (
            "remedy: {do: Replace the wire, minutes: 30, access: dead, zone: box, who: [electrician, engineer]}\n",
            f"remedy: {{do: Replace the wire, minutes: 30, {remedy}}}\n    proof: {proof}\n",
        ),
    )
    assert len(told_of) == count


SIGN = "  - {when: {smell: burning}, stop"


def smelt(when: str) -> str:
    """The tree goes on to ask for the smell."""
    return f"closed: {{look: smell, when: {{{when}}}}}}}}}"


WEAK = "{air: weak}]"
"""How the facts of the example hot-motor end."""
CALL = "closed: {call: engineer}}}"
"""How the tree first-look ends."""


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ([("smell: {burning: seldom}", "smell: {burning: usually}")], "cause wire-broken"),
        ([("smell: {burning: seldom}", "smell: {burning: sometimes}")], ""),
        ([(WEAK, "{smell: burning}]")], "example hot-motor"),
        ([(WEAK, "{smell: burning}, {smell: none}]")], "example hot-motor"),
        ([(WEAK, "{smell: burning}]"), (SIGN, SIGN.replace("burning}", "burning, air: strong}"))], ""),
        (
            [(WEAK, "{smell: burning}, {air: weak}]"), (SIGN, SIGN.replace("burning}", "burning, air: weak}"))],
            "example hot-motor",
        ),
        ([(CALL, smelt("burning: {call: engineer}, none: {call: engineer}"))], ""),
        ([(CALL, smelt("burning: {conclude: wire-broken}, none: {call: engineer}"))], "a branch"),
        ([(CALL, smelt("burning: {do: Note it, then: {go: no-supply}}, none: {call: engineer}"))], "a branch"),
        ([(CALL, smelt("burning | none: {conclude: wire-broken}"))], ""),
    ],
)
def test_what_leans_on_a_danger_sign(tmp_path: Path, changes: list[tuple[str, str]], named: str) -> None:
    lines = found(tmp_path, "beyond-danger", *changes)
    assert len(lines) == bool(named)
    assert not named or f"never reached: {named} (machine.yaml, line " in lines[0]


def test_infos_of_a_modules_own_entries_are_one_line_for_each_use(tmp_path: Path) -> None:
    """Errors and warnings are told one by one, and so is what stands in the machine's own files."""
    (tmp_path / "modules").mkdir()
    (tmp_path / "modules" / "hums.yaml").write_text(
        "title: T\nparameters: {lamp: {what: L, kind: indication}}\nindications:\n"
        + "".join(f"  {id}: {{question: Q?, usual: {{a: 9, b: 1}}, where: x}}\n" for id in ("one", "two", "three"))
    )
    (tmp_path / "fan").mkdir()
    uses = "uses:\n" + "".join(f"  - {{module: hums, as: {at}, with: {{lamp: ready-lamp}}}}\n" for at in ("p", "q"))
    own = "  own: {question: Q?, usual: {a: 9, b: 1}, where: x}\n  motor-wire: {contact"
    (tmp_path / "fan" / "machine.yaml").write_text(SAMPLE.replace("  motor-wire: {contact", own) + uses)
    told_of = [p for p in vet_machine(tmp_path / "fan") if p.rule == "unshown-state"]
    assert [p.text.split("'")[1] for p in told_of] == ["own", "p-one", "q-one"]
    assert "may stay" not in told_of[0].text
    assert "the same of 'p-two', 'p-three'; of a module, it may stay; used in" in told_of[1].text
