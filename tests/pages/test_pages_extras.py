"""Without the extra `crosscheck` a test that needs one of its libraries is skipped, and no other one is."""

from __future__ import annotations

import pytest
from crosscheck import Library

MISSING = Library("no_such_library")


def test_a_test_that_reaches_for_it_is_skipped_and_says_why() -> None:
    with pytest.raises(
        pytest.skip.Exception, match=r"no_such_library is missing: pip install -e '\.\[dev,crosscheck\]'"
    ):
        MISSING.anything()


def test_what_pytest_asks_of_a_name_in_a_file_skips_nothing() -> None:
    assert not hasattr(MISSING, "__test__")
    assert not hasattr(MISSING, "pytestmark")


def test_a_library_that_is_there_is_used() -> None:
    assert Library("math").sqrt(4) == 2
