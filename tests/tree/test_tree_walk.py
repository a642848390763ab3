"""Where an authored tree stands over facts that come in any order."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from diag.machine.model import Machine
from diag.machine.nodes import Do, Go, Look, Tree, TreeNode
from diag.tree.walk import Ask, CallFor, Concluded, Ended, Instruct, NoBranch, TreePosition, Unknown, walk

NOTE = ("first-look", "Note the code, and ask what was in the bowl")


def test_it_asks_from_the_root(mixer: Machine) -> None:
    assert walk(mixer, "first-look", {}) == Ask("first-look", "supply-lamp", "")


def test_it_skips_what_is_known(mixer: Machine) -> None:
    stand = walk(mixer, "first-look", {"box-display": "guard-open", "supply-lamp": "lit"})
    assert isinstance(stand, Ask)
    assert stand.indication == "guard-seen"


def test_it_says_why(mixer: Machine) -> None:
    stand = walk(mixer, "first-look", {"supply-lamp": "lit"})
    assert stand == Ask("first-look", "box-display", "The display says which part stopped the mixer")


def test_it_goes_on_in_another_tree(mixer: Machine) -> None:
    known = {"supply-lamp": "dark", "main-switch": "on", "ready-lamp": "dark", "mains": "absent"}
    stand = walk(mixer, "first-look", known)
    assert isinstance(stand, Concluded)
    assert (stand.tree, stand.causes) == ("no-supply", ("mains-lost",))
    assert isinstance(walk(mixer, "first-look", known | {"mains": "high"}), CallFor), "otherwise"


def test_otherwise_no_branch_and_cannot_tell(mixer: Machine) -> None:
    lit = {"supply-lamp": "lit"}
    assert isinstance(walk(mixer, "first-look", lit | {"box-display": "blank"}), CallFor)
    stand = walk(mixer, "first-look", {"supply-lamp": "dim-ish"})
    assert isinstance(stand, NoBranch)
    assert (stand.indication, stand.state) == ("supply-lamp", "dim-ish")
    stand = walk(mixer, "first-look", lit, {"box-display"})
    assert isinstance(stand, Unknown)
    assert stand.indication == "box-display"
    known = walk(mixer, "first-look", lit | {"box-display": "guard-open"}, {"box-display"})
    assert isinstance(known, Ask), "what is known goes before what could not be told"


def test_an_instruction_waits_until_it_was_carried_out(mixer: Machine) -> None:
    known = {"supply-lamp": "lit", "box-display": "drive-trip", "motor-warm": "warm"}
    stand = walk(mixer, "first-look", known)
    assert isinstance(stand, Instruct)
    assert (stand.tree, stand.text) == NOTE
    stand = walk(mixer, "first-look", known, did={NOTE})
    assert isinstance(stand, Concluded)
    assert stand.causes == ("drive-overload", "bowl-too-full")


def with_trees(mixer: Machine, **roots: TreeNode) -> Machine:
    return replace(mixer, trees={id: Tree(id, id, root) for id, root in roots.items()})


def test_trees_that_lead_in_a_circle_end(mixer: Machine) -> None:
    machine = with_trees(
        mixer, one=Look("supply-lamp", {"lit": Go("two")}, None), two=Do("Look round", Go("three")), three=Go("one")
    )
    stand = walk(machine, "one", {"supply-lamp": "lit"}, did={("two", "Look round")})
    assert stand == Ended("three")


def test_a_tree_may_end_with_an_instruction(mixer: Machine) -> None:
    machine = with_trees(mixer, one=Do("Sweep the floor"))
    assert walk(machine, "one", {}, did={("one", "Sweep the floor")}) == Ended("one")


@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_where_it_stands_depends_on_the_facts_alone(mixer: Machine, data: st.DataObject) -> None:
    """Answering what it asks, in its order, ends where all the answers given ahead do."""
    answers = {i: data.draw(st.sampled_from(ind.state_ids)) for i, ind in mixer.indications.items()}
    known: dict[str, str] = {}
    did: set[tuple[str, str]] = set()
    stand: TreePosition
    for _ in range(50):
        stand = walk(mixer, mixer.start, known, did=did)
        if isinstance(stand, Ask):
            assert stand.indication not in known
            known[stand.indication] = answers[stand.indication]
        elif isinstance(stand, Instruct):
            did.add((stand.tree, stand.text))
        else:
            break
    assert isinstance(stand, Concluded | CallFor | NoBranch | Ended)
    assert walk(mixer, mixer.start, answers, did=did) == stand
