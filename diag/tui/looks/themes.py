"""The two themes: dark, a quiet instrument that does not dazzle at night, and light, for a bright hall.

Lamps keep their colours in both: in the light theme they stand on a dark ground of their own, so that a white lamp is
seen and every colour is told from the others as it is at night.
"""

from __future__ import annotations

from typing import Any

from textual.theme import Theme

BASE = {
    "primary": ("#7fb2dc", "#1f5f8f"),
    "secondary": ("#8fa3b5", "#43525f"),
    "accent": ("#e3b15f", "#7a4d00"),
    "foreground": ("#cfd6dd", "#1f262c"),
    "background": ("#11161b", "#f6f5f0"),
    "surface": ("#171d24", "#eceae3"),
    "panel": ("#202831", "#dfddd4"),
    "success": ("#63c07b", "#17602c"),
    "warning": ("#e3b15f", "#7d4700"),
    "error": ("#f0655d", "#a8211a"),
}
"""Textual's own names of colours, each with the dark theme's colour and the light theme's."""

OWN = {
    "quiet": ("#8393a1", "#4c565f"),
    "rule": ("#33404c", "#a9a89d"),
    "ghost": ("#33404c", "#c4c3b8"),
    "lamp-ground": ("#11161b", "#20282f"),
    "typed-in": ("#2b3641", "#ffffff"),
    "energised": ("#3a3115", "#ffe08a"),
    "on-energised": ("#ffe9b8", "#3d2c00"),
    "locking": ("#3b2a12", "#ffcf8f"),
    "on-locking": ("#ffd9a0", "#3f2600"),
    "dead": ("#14361f", "#bfe8c8"),
    "on-dead": ("#c9f2d2", "#0d3a1a"),
    "live": ("#4a1f4d", "#e9c6ee"),
    "on-live": ("#f6d6f8", "#3e0f45"),
    "stop": ("#6b1512", "#a8211a"),
    "on-stop": ("#ffe3e0", "#ffffff"),
    "stop-box": ("#4d0f0d", "#fbd9d5"),
    "on-stop-box": ("#ffe9e6", "#5a0f0a"),
}
"""The names that the style sheet has besides, in the same way."""

LAMPS = {
    "lamp-red": "#ff5d55",
    "lamp-amber": "#ff9d3c",
    "lamp-yellow": "#f2d43d",
    "lamp-green": "#4fd36e",
    "lamp-blue": "#5aa7ff",
    "lamp-white": "#f4f4ec",
}


def _theme(name: str, column: int) -> Theme:
    own = {colour: pair[column] for colour, pair in OWN.items()}
    base: dict[str, Any] = {colour: pair[column] for colour, pair in BASE.items()}
    return Theme(name, dark=name == "dark", variables={**own, **LAMPS}, **base)


DARK, LIGHT = _theme("dark", 0), _theme("light", 1)
THEMES = {theme.name: theme for theme in (DARK, LIGHT)}


def other(name: str) -> str:
    """The theme that is not this one."""
    return LIGHT.name if name == DARK.name else DARK.name
