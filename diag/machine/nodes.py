"""Authored trees, resolved: the nodes that a walk goes over. Names in them are known to exist."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from diag.machine.place import Place


@dataclass(frozen=True, slots=True)
class Look:
    indication: str
    when: Mapping[str, TreeNode]
    otherwise: TreeNode | None = None
    why: str = ""
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class Do:
    """An instruction for outside only; physical work is a check or a remedy, so that the gate sees it."""

    text: str
    then: TreeNode | None = None
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class Conclude:
    causes: tuple[str, ...]
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class Go:
    tree: str
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class Call:
    role: str
    place: Place | None = None


TreeNode = Look | Do | Conclude | Go | Call


@dataclass(frozen=True, slots=True)
class Tree:
    id: str
    title: str
    root: TreeNode
    place: Place | None = None
