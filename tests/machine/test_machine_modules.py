"""Modules with parameters: what a use stands for is what one would have written by hand."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from machine_plain import without_places

from diag.machine.load import load, read

HEAD = "format: 1\ntitle: Packer 1\nplace: Hall 2\ncall: {engineer: the engineer on duty}\n"
LAMP = "indications:\n  run-lamp: {lamp: green, label: RUN, where: front, normal: lit}\n"
OWN_CAUSE = """causes:
  lamp-failed: {title: Lamp failed, part: front, often: rare, shows: {run-lamp: dark}}
"""


def machine_in(folder: Path, text: str, **modules: str) -> Path:
    machine = folder / "packer"
    machine.mkdir(exist_ok=True)
    (machine / "machine.yaml").write_text(text, encoding="utf-8")
    (folder / "modules").mkdir(exist_ok=True)
    for name, module in modules.items():
        (folder / "modules" / f"{name}.yaml").write_text(module, encoding="utf-8")
    return machine


def problems_of(folder: Path) -> list[str]:
    return [problem.text for problem in load(folder).problems if problem.level == "error"]


# ------------------------------------------------------------ the same by hand

Word = Callable[[str], str]


def sections(own: Word, name: Word, text: Word, shape: Mapping[str, Any]) -> dict[str, Any]:
    """What a module holds, or what one would write by hand: `own` gives a name of its own, `name` one that is given,
    `text` a text with what is given filled in."""
    volts, lamps, causes = shape["volts"], range(shape["lamps"]), range(shape["causes"])
    out = own("out")
    return {
        "resets": {
            own("clear"): {"title": text("Clear {label}"), "do": "Press it", "who": "engineer", "note-first": out}
        },
        "groups": {own("all-lamps"): [own(f"lamp-{k}") for k in lamps] + [name("lamp")]},
        "indications": {
            out: {
                "reading": "V d.c.",
                "title": text("Voltage of {label}"),
                "nominal": text("{nominal}"),
                "normal": "good",
                "bands": {"absent": text("< {20 % of nominal}"), "good": text(">= {20 % of nominal}")},
                "source": "common practice",
                "follows": {"when": {"all": {name("lamp"): "dark", own("lamp-0"): "dark"}}, "shows": "absent"},
            },
            **{
                own(f"lamp-{k}"): {
                    "lamp": "green",
                    "normal": "lit",
                    "protective": "dark",
                    "latched": {"dark": [own("clear"), "power"]},
                    **({"follows": {"when": {own("lamp-0"): "dark"}, "shows": "dark"}} if k else {}),
                }
                for k in lamps
            },
        },
        "remedies": {
            own("change"): {
                "do": text("Change {label}"),
                "minutes": text("{nominal}"),
                "access": "dead",
                "zone": name("zone"),
            }
        },
        "causes": {
            own(f"cause-{k}"): {
                "title": text(f"Cause {k} of {{label}}"),
                "part": text("{label}"),
                "often": shape["often"],
                "shows": {
                    **({own("all-lamps"): {"dark": "usually"}} if k % 3 == 0 else {name("lamp"): "dark"}),
                    **({out: {"absent": "always"}} if k % 2 else {}),
                    own("clear"): {"back-at-once": "usually"},
                },
                "remedy": own("change")
                if k % 2
                else {"do": "Do", "minutes": "3", "access": "dead", "zone": name("zone")},
                "proof": {out: "good", name("lamp"): "lit"},
            }
            for k in causes
        },
        "checks": {
            own("measure"): {
                "gives": [out, own("all-lamps")],
                "do": text("Measure {nominal} V, {85 % of nominal} V at least"),
                "minutes": "4",
                "access": "live",
                "zone": name("zone"),
                "needs": {name("lamp"): ["dark", "lit"]},
            }
        },
        "trees": [
            {
                "tree": own("first"),
                "title": text("First look at {label}"),
                "look": out,
                "when": {
                    "absent": {"look": name("lamp"), "when": {"dark | lit": {"conclude": [own("cause-0")]}}},
                    "good": {"go": own("second")} if volts else {"call": "engineer"},
                },
            },
            {"tree": own("second"), "title": "Second", "do": "Look", "then": {"conclude": own("cause-0")}},
        ],
    }


def by_hand(machine: dict[str, Any], shape: Mapping[str, Any], use: Mapping[str, str], volts: str) -> None:
    """Adds to a machine what a use stands for, with the names and figures put in here."""
    given_words = {
        "{label}": use["label"],
        "{nominal}": volts,
        "{20 % of nominal}": f"{float(volts) * 0.2:.6f}".rstrip("0").rstrip("."),
        "{85 % of nominal}": f"{float(volts) * 0.85:.6f}".rstrip("0").rstrip("."),
    }

    def text(words: str) -> str:
        for field, word in given_words.items():
            words = words.replace(field, word)
        return words

    made = sections(lambda word: f"{use['as']}-{word}", lambda word: use[word], text, shape)
    for section, entries in made.items():
        if isinstance(entries, list):
            machine.setdefault(section, []).extend(entries)
        else:
            machine.setdefault(section, {}).update(entries)


def base() -> dict[str, Any]:
    return {
        "format": "1",
        "title": "Packer 1",
        "place": "Hall 2",
        "call": {"engineer": "the engineer on duty"},
        "points": {"main": {"title": "Main switch", "where": "left"}},
        "test-points": {"bars": {"title": "Bars", "expects": "0 V"}},
        "zones": {zone: {"title": zone, "points": "main", "test-points": "bars"} for zone in ("box", "hatch")},
        "indications": {lamp: {"lamp": "green", "normal": "lit"} for lamp in ("out", "run-lamp", "lamp-0")},
        "causes": {"dark": {"title": "Dark", "part": "front", "often": "rare", "shows": {"run-lamp": "dark"}}},
    }


SHAPES = st.fixed_dictionaries(
    {
        "volts": st.booleans(),
        "lamps": st.integers(1, 4),
        "causes": st.integers(1, 6),
        "often": st.sampled_from(["common", "rare", "0.3 a year"]),
    }
)
USES = st.lists(
    st.fixed_dictionaries(
        {
            "as": st.sampled_from(["rack", "a", "rack-2", "out"]),
            "lamp": st.sampled_from(["out", "run-lamp", "lamp-0"]),
            "zone": st.sampled_from(["box", "hatch"]),
            "label": st.sampled_from(["the rack", "out", "lamp", "{odd", "100 %"]),
        },
        optional={"nominal": st.sampled_from(["24", "48", "12.5", "110", "0.1"])},
    ),
    min_size=1,
    max_size=3,
    unique_by=lambda use: use["as"],
)
PARAMETERS = {
    "lamp": {"what": "its lamp", "kind": "indication"},
    "zone": {"what": "its zone", "kind": "zone"},
    "label": {"what": "what it is called", "kind": "text"},
    "nominal": {"what": "its voltage", "kind": "number", "default": "24"},
}


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(shape=SHAPES, uses=USES, braces=st.booleans(), nested=st.booleans())
def test_a_use_is_what_one_would_have_written_by_hand(
    tmp_path: Path, shape: dict[str, Any], uses: list[dict[str, str]], braces: bool, nested: bool
) -> None:
    def given_name(word: str) -> str:
        return f"{{{word}}}" if braces else word

    module = {
        "title": "A module",
        "parameters": PARAMETERS,
        **sections(lambda word: word, given_name, lambda text: text, shape),
    }
    outer = {
        "title": "A module that hands on what it is given",
        "parameters": PARAMETERS,
        "uses": [{"module": "inner", "as": "deep", "with": {word: given_name(word) for word in ("lamp", "zone")}}],
    }
    outer["uses"][0]["with"].update({"label": "{label}", "nominal": "{nominal}"})  # type: ignore[index]
    asked, expected = base(), base()
    asked["uses"] = [
        {
            "module": "outer" if nested else "inner",
            "as": use["as"],
            "with": {word: value for word, value in use.items() if word != "as"},
        }
        for use in uses
    ]
    for use in uses:
        whole = {**use, "as": f"{use['as']}-deep"} if nested else use
        by_hand(expected, shape, whole, use.get("nominal", "24"))
    folder = machine_in(tmp_path, json.dumps(asked), inner=json.dumps(module), outer=json.dumps(outer))
    found = read(folder)
    machine_in(tmp_path, json.dumps(expected))
    assert without_places(found) == without_places(read(folder))


# ------------------------------------------------------------ one by one


def test_the_machine_may_say_single_entries_otherwise(tmp_path: Path) -> None:
    module = """
title: A supply
parameters: {lamp: {what: the lamp, kind: indication}}
remedies: {change: {do: Change it, minutes: 30, access: outside, parts: [unit]}}
causes: {dead: {title: Dead, part: supply, often: rare, shows: {lamp: dark}, remedy: change}}
"""
    uses = """uses:
  - module: supply
    as: rack
    with: {lamp: run-lamp}
    but:
      remedies: {change: {minutes: 50}}
      causes: {dead: {often: common, shows: {door: ajar}}}
"""
    door = "  door: {question: How is the door?, answers: [shut, ajar], normal: shut}\n"
    machine = read(machine_in(tmp_path, HEAD + LAMP + door + OWN_CAUSE + uses, supply=module))
    cause = machine.causes["rack-dead"]
    assert cause.rate == 2.0
    assert cause.shows == {"run-lamp": {"dark": 0.98}, "door": {"ajar": 0.98}}
    assert cause.remedy is not None
    assert (cause.remedy.id, cause.remedy.minutes, cause.remedy.parts) == ("rack-change", 50.0, ("unit",))


def test_what_the_machine_leaves_empty_is_taken_out(tmp_path: Path) -> None:
    """A state, a field of an entry, a whole entry; what the module itself still names is told as unknown."""
    module = """
title: A supply
parameters: {lamp: {what: the lamp, kind: indication}}
indications: {output: {question: Output?, usual: {good: 90, low: 5, gone: 5}}}
causes:
  dead: {title: Dead, part: supply, often: rare, shows: {output: gone, lamp: dark}}
  weak: {title: Weak, part: supply, often: rare, shows: {output: low}}
checks: {ask: {gives: output, do: Ask, access: outside, minutes: 1}}
"""
    uses = """uses:
  - module: supply
    as: rack
    with: {lamp: run-lamp}
    but: {indications: {output: {usual: {low: }}}, causes: {weak: , dead: {shows: {run-lamp: }}}}
"""
    machine = read(machine_in(tmp_path, HEAD + LAMP + OWN_CAUSE + uses, supply=module))
    assert machine.indications["rack-output"].state_ids == ("good", "gone")
    assert "rack-weak" not in machine.causes
    assert machine.causes["rack-dead"].shows == {"rack-output": {"gone": 0.98}}
    without = uses.replace("indications: {output: {usual: {low: }}}", "indications: {output: }")
    assert (
        "unknown indication 'rack-output'"
        in problems_of(machine_in(tmp_path, HEAD + LAMP + OWN_CAUSE + without, supply=module))[0]
    )


def test_words_in_braces_need_no_quotes(tmp_path: Path) -> None:
    module = """
title: A supply
parameters:
  lamp: {what: the lamp, kind: indication}
  long: {what: minutes to change it, kind: number}
  names: {what: what else goes dark, kind: list, default: []}
causes:
  dead:
    title: Dead
    part: supply
    often: rare
    shows: {lamp: dark}
    remedy: {do: Change it, minutes: {long}, access: outside, parts: {names}}
  slow:
    title: Slow
    part: supply
    often: rare
    shows: {lamp: dark}
    remedy: {do: Wait, minutes: {50 % of long}, access: outside}
"""
    uses = "uses:\n  - {module: supply, as: rack, with: {lamp: run-lamp, long: 13, names: [unit, fuse]}}\n"
    causes = read(machine_in(tmp_path, HEAD + LAMP + OWN_CAUSE + uses, supply=module)).causes
    assert causes["rack-dead"].remedy.minutes == 13.0  # type: ignore[union-attr]
    assert causes["rack-dead"].remedy.parts == ("unit", "fuse")  # type: ignore[union-attr]
    assert causes["rack-slow"].remedy.minutes == 6.5  # type: ignore[union-attr]


def test_a_module_of_the_site_goes_before_the_one_that_came_with_the_program(tmp_path: Path) -> None:
    module = """title: Ours
causes: {odd: {title: Odd, part: x, often: rare, shows: {out: gone}}}
indications: {out: {question: Out?, answers: [there, gone], normal: there}}
"""
    text = HEAD + LAMP + OWN_CAUSE + "uses: [{module: dc-supply, as: rack}]\n"
    assert "'lamp' is missing" in problems_of(machine_in(tmp_path, text))[0]
    assert "rack-odd" in read(machine_in(tmp_path, text, **{"dc-supply": module})).causes


def test_a_list_that_grows_from_module_to_module_is_stopped(tmp_path: Path) -> None:
    modules = {
        f"m{k}": "title: Twice\nparameters: {many: {what: names, kind: list}}\n"
        f'uses: [{{module: m{k + 1}, as: a, with: {{many: ["{{many}}", "{{many}}"]}}}}]\n'
        for k in range(40)
    }
    modules["m40"] = "title: The last\nparameters: {many: {what: names, kind: list}}\n"
    text = HEAD + LAMP + OWN_CAUSE + "uses: [{module: m0, as: a, with: {many: [x]}}]\n"
    (problem,) = problems_of(machine_in(tmp_path, text, **modules))
    assert "more than 200,000 words" in problem


def test_a_text_that_grows_from_module_to_module_is_stopped(tmp_path: Path) -> None:
    modules = {
        f"m{k}": "title: Ten times\nparameters: {word: {what: a word, kind: text}}\n"
        f'uses: [{{module: m{k + 1}, as: a, with: {{word: "{"{word}" * 10}"}}}}]\n'
        for k in range(20)
    }
    modules["m20"] = "title: The last\nparameters: {word: {what: a word, kind: text}}\n"
    text = HEAD + LAMP + OWN_CAUSE + "uses: [{module: m0, as: a, with: {word: word}}]\n"
    (problem,) = problems_of(machine_in(tmp_path, text, **modules))
    assert "characters once filled in; 2,000 at most" in problem


def test_modules_within_modules_have_an_end(tmp_path: Path) -> None:
    modules = {f"m{k}": f"title: One more\nuses: [{{module: m{k + 1}, as: a}}]\n" for k in range(400)}
    modules["m400"] = "title: The last\n"
    (problem,) = problems_of(machine_in(tmp_path, HEAD + LAMP + OWN_CAUSE + "uses: [{module: m0, as: a}]\n", **modules))
    assert problem.startswith("modules within modules, 40 deep")


def test_a_fault_at_the_bottom_of_doubling_modules_is_told_in_good_time(tmp_path: Path) -> None:
    modules = {
        f"m{k}": f"title: Twice\nuses: [{{module: m{k + 1}, as: a}}, {{module: m{k + 1}, as: b}}]\n" for k in range(30)
    }
    modules["m30"] = "title: The last\ncauses: {dead: {title: '{x}'}}\n"
    began = time.process_time()
    found = problems_of(machine_in(tmp_path, HEAD + LAMP + OWN_CAUSE + "uses: [{module: m0, as: a}]\n", **modules))
    assert any("unknown parameter 'x'" in text for text in found)
    assert any("200,000 words" in text for text in found)
    assert len(found) < 10
    assert time.process_time() - began < 30
