"""A YAML file as a text editor reads it: plain words become numbers and truth values by YAML 1.2's core schema."""

from __future__ import annotations

import re
from typing import Any

import yaml

_INT = re.compile(r"[-+]?[0-9]+|0o[0-7]+|0x[0-9a-fA-F]+")
_FLOAT = re.compile(r"[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?")
_ENDLESS = re.compile(r"([-+]?)\.(?:inf|Inf|INF)")


def scalar(word: str) -> Any:
    """What a plain word is: null, a truth value, a number, or the word itself."""
    if word in ("", "~", "null", "Null", "NULL"):
        return None
    if word in ("true", "True", "TRUE", "false", "False", "FALSE"):
        return word.lower() == "true"
    if _INT.fullmatch(word):
        return int(word, 0) if word[:2] in ("0o", "0x") else int(word)
    if _FLOAT.fullmatch(word):
        return float(word)
    if found := _ENDLESS.fullmatch(word):
        return float(f"{found[1]}inf")
    return float("nan") if word in (".nan", ".NaN", ".NAN") else word


def typed(text: str) -> Any:
    """The document in `text`. Keys stay as they are written; of a key written twice the first counts."""
    root = yaml.compose(text, Loader=yaml.CSafeLoader)
    return None if root is None else _value(root)


def _value(node: yaml.Node) -> Any:
    if isinstance(node, yaml.MappingNode):
        return {key.value: _value(value) for key, value in reversed(node.value)}
    if isinstance(node, yaml.SequenceNode):
        return [_value(item) for item in node.value]
    assert isinstance(node, yaml.ScalarNode)
    return node.value if node.style in ("'", '"', "|", ">") else scalar(node.value)
