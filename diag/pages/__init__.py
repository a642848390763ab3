"""The written pages: how to write a machine, the keys, the figures and the rest, as Markdown files in this folder.

`topics()` lists them in reading order, `page(name)` gives the text of one. `diag help TOPIC` and the app show them.
"""

from __future__ import annotations

import re
from importlib.resources import files

__all__ = ["page", "topics"]

READING_ORDER = (
    "faq",
    "troubleshooting",
    "keys",
    "commands",
    "data",
    "safety",
    "trainer",
    "modules",
    "language",
    "accuracy",
    "glossary",
)
"""The names of the pages, in the order in which a new reader wants them. A page that is not named here comes last."""

COMMENT = re.compile(r"^<!--[^>]*-->\n+|<!--[^>]*-->", re.MULTILINE)
"""A remark in the Markdown, such as the mark around a figure. It is for the commands that keep the pages up to date."""


def topics() -> tuple[tuple[str, str], ...]:
    """The name and the title of every page, in reading order."""
    found = sorted(
        (entry.name.removesuffix(".md") for entry in files(__name__).iterdir() if entry.name.endswith(".md")),
        key=lambda name: (READING_ORDER.index(name) if name in READING_ORDER else len(READING_ORDER), name),
    )
    return tuple((name, title(name)) for name in found)


def page(name: str) -> str:
    """The Markdown of the page `name`, without the remarks in it. Raises KeyError where there is no such page."""
    return COMMENT.sub("", source(name))


def source(name: str) -> str:
    """The Markdown of the page `name` as it stands in its file."""
    file = files(__name__) / f"{name}.md"
    if not name.replace("-", "").isalnum() or not file.is_file():
        raise KeyError(name)
    return file.read_text(encoding="utf-8")


def title(name: str) -> str:
    """The first heading of the page `name`."""
    first = page(name).lstrip().partition("\n")[0]
    return first.removeprefix("# ").strip()
