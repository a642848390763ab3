"""Contacts in series: voltage is there up to the one that is open."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from diag.machine.chain_parts import Chain, Member, Part, node_of, words
from diag.machine.parameters import unmarked
from diag.machine.span import Plain
from diag.machine.words import is_number

NOMINAL: Final = "24"
"""Volts at a test point, where the chain does not say otherwise."""


def series_parts(chain: Chain) -> Iterator[Part]:
    """For each member the cause that it, or its wire, is open; for each place between two the voltage, and its check.

    A member that is an indication already usually shows `open` itself, or the state that it says: the wire beside it
    may be what is open.
    """
    members = chain.members
    measured = chain.word("test-points", "between") == "between"
    points = members[:-1] if measured else ()
    for k, member in enumerate(points):
        yield from _point(chain, k, member)
    for k, member in enumerate(members):
        shows: dict[str, Plain] = {after(chain, behind): "absent" for behind in points[k:]}
        if member.there:
            state = member.says.get("open")
            shows[member.word] = {str(state.value) if state is not None else "open": "usually"}
        cause: Plain = {
            "title": "{member} open, or its wire broken",
            "part": chain.title,
            "often": "occasional",
            "shows": shows,
        }
        over = (chain.says("cause"), member.says.get("cause"))
        yield Part(
            "causes", f"{chain.id}-{member.id}-open", node_of(cause, member.at), over, member.at, words(chain, k)
        )


def after(chain: Chain, member: Member) -> str:
    """The indication of the voltage behind a member."""
    return f"{chain.id}-after-{member.id}"


def _point(chain: Chain, k: int, member: Member) -> Iterator[Part]:
    named, title = words(chain, k), "{chain}: voltage after {member}"
    over = (chain.says("point"), member.says.get("point"))
    nominal = NOMINAL
    for node in over:
        written = node.value.get("nominal") if node is not None and isinstance(node.value, dict) else None
        if written is not None and isinstance(written.value, str):
            nominal = unmarked(written.value)
    half = f"{float(nominal) / 2:g}" if is_number(nominal) else "12"
    reading: Plain = {
        "reading": "V d.c.",
        "title": title,
        "nominal": nominal,
        "normal": "present",
        "bands": {"absent": f"< {half}", "present": f">= {half}"},
        "source": "there or not, with half the nominal voltage as the limit (common practice)",
    }
    yield Part("indications", after(chain, member), node_of(reading, member.at), over, member.at, named)
    check: Plain = {
        "title": title,
        "gives": after(chain, member),
        "do": "Measure at the terminal between {member} and {after}, against minus",
        "with": "multimeter on V d.c., CAT III",
        "access": "live",
        "minutes": "3",
    }
    over = (chain.says("check"), member.says.get("check"))
    yield Part("checks", f"{chain.id}-test-{member.id}", node_of(check, member.at), over, member.at, named)
