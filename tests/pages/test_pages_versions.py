"""The changelog begins with the version that the package has, and the package says of itself what the README says."""

from __future__ import annotations

import re
import tomllib

from markdown import README, ROOT

PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
PAGE = README.read_text(encoding="utf-8")


def test_the_newest_version_of_the_changelog_is_that_of_the_package() -> None:
    newest, note = re.findall(r"^### (\d+\.\d+\.\d+)(.*)$", PAGE, re.MULTILINE)[0]
    assert re.fullmatch(re.escape(newest) + (r"\.dev\d+" if "not released" in note else ""), PROJECT["version"])


def test_versions_fall() -> None:
    found = [tuple(map(int, one.split("."))) for one in re.findall(r"^### (\d+\.\d+\.\d+)", PAGE, re.MULTILINE)]
    assert found == sorted(found, reverse=True)
    assert len(found) > 1


def test_the_pythons_of_the_readme_are_those_of_the_package() -> None:
    named = set(re.findall(r"Python (3\.\d+), (3\.\d+) or (3\.\d+)", PAGE)[0])
    listed = {one.rsplit(" ", 1)[1] for one in PROJECT["classifiers"] if re.search(r":: 3\.\d+$", one)}
    assert named == listed
    assert PROJECT["requires-python"] == f">={min(named, key=lambda one: int(one[2:]))}"


def test_what_is_the_owners_to_choose_is_left_open() -> None:
    assert "license" not in PROJECT
    assert "urls" not in PROJECT
    assert PROJECT["authors"] == [{"name": "diag developers"}]
    assert "The owner has not chosen a licence yet" in PAGE


def test_what_the_crosscheck_needs_is_not_asked_of_everybody() -> None:
    extras = PROJECT["optional-dependencies"]
    large = {re.split(r"[<>=]", one)[0] for one in extras["crosscheck"]}
    assert large == {"pyagrum", "scikit-learn"}
    assert not large & {re.split(r"[<>=]", one)[0] for one in (*PROJECT["dependencies"], *extras["dev"])}
