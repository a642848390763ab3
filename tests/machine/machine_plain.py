"""A machine as plain lists, to compare two of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any


def without_places(value: Any) -> Any:
    """A machine as plain lists, in order, without its files' digest and the places where things were written."""
    left = ("place", "files")
    if is_dataclass(value):
        return [(f.name, without_places(getattr(value, f.name))) for f in fields(value) if f.name not in left]
    if isinstance(value, Mapping):
        return [(key, without_places(child)) for key, child in value.items()]
    if isinstance(value, tuple):
        return [without_places(child) for child in value]
    return value
