"""The pages are found in the package, in reading order, and their text comes without remarks."""

from __future__ import annotations

from pathlib import Path

import pytest

from diag import pages

FOLDER = Path(pages.__file__).parent


def test_every_file_is_a_topic_and_has_a_title_of_its_own() -> None:
    listed = pages.topics()
    assert {name for name, _ in listed} == {file.stem for file in FOLDER.glob("*.md")}
    titles = [title for _, title in listed]
    assert len(set(titles)) == len(titles)
    for name, title in listed:
        assert pages.source(name).startswith(f"# {title}\n"), name


def test_they_stand_in_reading_order() -> None:
    names = [name for name, _ in pages.topics()]
    assert names == [name for name in pages.READING_ORDER if name in names]


def test_a_page_is_shown_without_its_remarks() -> None:
    for name, _ in pages.topics():
        assert "<!--" not in pages.page(name)


@pytest.mark.parametrize("name", ["", "no-such-page", "../__init__", "faq.md", ".", "a/b"])
def test_an_unknown_page_is_refused(name: str) -> None:
    with pytest.raises(KeyError):
        pages.page(name)
