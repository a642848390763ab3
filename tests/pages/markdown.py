"""Reads the README and the pages as Markdown, as far as the tests need it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from diag import pages

ROOT = Path(__file__).resolve().parents[2]
README = ROOT / "README.md"
FOLDER = Path(pages.__file__).parent
FENCE = re.compile(r"^```(\w*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
SPAN = re.compile(r"`([^`\n]+)`")
REMARK = re.compile(r"<!--[^>]*-->")


@dataclass(frozen=True)
class Text:
    """One Markdown file."""

    path: Path
    raw: str

    @property
    def name(self) -> str:
        return str(self.path.relative_to(ROOT))

    @property
    def blocks(self) -> list[tuple[str, str]]:
        """Each code block: its language, and what is in it."""
        return FENCE.findall(self.raw)

    @property
    def prose(self) -> str:
        """Without code blocks and remarks."""
        return REMARK.sub("", FENCE.sub("", self.raw))

    @property
    def spans(self) -> list[str]:
        """Each piece of code within a line."""
        return SPAN.findall(self.prose)

    @property
    def commands(self) -> list[str]:
        """Each call of diag, in a line or in a block, without the prompt."""
        typed = [span for span in self.spans if re.match(r"diag [a-z-]", span)]
        for language, block in self.blocks:
            if language in ("sh", "console", "powershell"):
                for line in block.splitlines():
                    typed += re.findall(r"(?:^|[\s/\\])(diag [a-z-][^&|]*)", line.removeprefix("$ "))[:1]
        return [command.split(" | ")[0].strip() for command in typed]

    @property
    def tables(self) -> list[list[str]]:
        """Each table as its lines."""
        found: list[list[str]] = []
        inside = False
        for line in self.prose.splitlines():
            if line.startswith("|"):
                if not inside:
                    found.append([])
                found[-1].append(line)
            inside = line.startswith("|")
        return found


def texts() -> list[Text]:
    """The README and every page, with their remarks."""
    paths = [README, *sorted(FOLDER.glob("*.md"))]
    return [Text(path, path.read_text(encoding="utf-8")) for path in paths]


def page(name: str) -> Text:
    path = FOLDER / f"{name}.md"
    return Text(path, path.read_text(encoding="utf-8"))


def cells(row: str) -> list[str]:
    """What stands in a row of a table."""
    return [cell.strip() for cell in re.split(r"(?<!\\)\|", row.strip())[1:-1]]
