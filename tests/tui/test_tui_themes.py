"""Both themes can be read, and every lamp colour is told from the others in both."""

from __future__ import annotations

from itertools import combinations

import pytest
from stage import OLE, Stage
from textual.color import Color, rgb_to_lab
from textual.theme import Theme

from diag.cli.config import THEMES as NAMED
from diag.tui.looks.themes import LAMPS, THEMES

CONTRAST = pytest.mark.source("WCAG 2.2, SC 1.4.3 and 1.4.11", found="from memory")


def luminance(colour: str) -> float:
    """Relative luminance as WCAG defines it."""
    parts = [c / 255 for c in Color.parse(colour).rgb]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


BOTH = pytest.mark.parametrize("theme", THEMES.values(), ids=THEMES)


def test_the_config_file_names_the_themes_that_there_are() -> None:
    assert tuple(THEMES) == NAMED


@CONTRAST
@BOTH
def test_text_can_be_read(theme: Theme) -> None:
    """4.5 to 1 for text on the grounds that it stands on."""
    assert theme.background is not None
    for ground in (theme.background, theme.surface):
        for ink in (theme.foreground, theme.variables["quiet"], theme.success, theme.warning, theme.accent):
            assert ink is not None
            assert ground is not None
            assert contrast(ink, ground) >= 4.5, (ink, ground)
    for level in ("energised", "locking", "dead", "live", "stop", "stop-box"):
        assert contrast(theme.variables[f"on-{level}"], theme.variables[level]) >= 4.5, level


@CONTRAST
@BOTH
def test_a_lamp_is_seen_on_its_ground(theme: Theme) -> None:
    """3 to 1 for what is no text."""
    for lamp in LAMPS:
        assert contrast(theme.variables[lamp], theme.variables["lamp-ground"]) >= 3.0, lamp


@pytest.mark.source("CIE 1976 L*a*b*, colour difference; a just noticeable one is about 2.3", found="from memory")
@BOTH
def test_lamp_colours_are_told_apart(theme: Theme) -> None:
    """Any two differ ten times more than what is just noticed side by side."""
    for one, other in combinations(LAMPS, 2):
        a, b = (rgb_to_lab(Color.parse(theme.variables[lamp])) for lamp in (one, other))
        assert ((a.L - b.L) ** 2 + (a.a - b.a) ** 2 + (a.b - b.b) ** 2) ** 0.5 >= 23, (one, other)


@BOTH
def test_both_say_the_same_names(theme: Theme) -> None:
    assert {name for known in THEMES.values() for name in known.variables} == set(theme.variables)


async def test_a_key_turns_to_the_other_and_back(stage: Stage) -> None:
    async with stage.run("mixer") as hand:
        await hand.press(*OLE)
        text = hand.text
        await hand.press("ctrl+t")
        assert hand.app.theme == "light"
        assert hand.text == text
        assert hand.app.screen.styles.background == Color.parse(THEMES["light"].background or "")
        await hand.press("ctrl+t")
        assert hand.app.theme == "dark"
