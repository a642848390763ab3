"""Figures: scores and reliability against scikit-learn and worked examples, isolation on a published matrix."""

from __future__ import annotations

import numpy as np
import pytest
from crosscheck import calibration, metrics

from diag.reason.figures import BadFigures, brier, diagnosability, log_score, reliability

LEARN = "scikit-learn 1.9, {}"
RAIN = [0.7, 0.9, 0.8, 0.4, 0.2, 0, 0, 0, 0, 0.1]
RAINED = [0, 1, 1, 1, 0, 0, 0, 0, 0, 0]


def both(p: list[float]) -> list[list[float]]:
    return [[1 - x, x] for x in p]


@pytest.mark.source("Brier 1950, ten forecasts of rain: .19 over both classes", found="from memory, recomputed")
def test_brier_of_ten_forecasts_of_rain() -> None:
    """The form in use today, for two classes, is half of it: .095."""
    assert brier(both(RAIN), RAINED) == pytest.approx(0.19, abs=1e-12)
    assert brier(both(RAIN), RAINED) / 2 == pytest.approx(0.095, abs=1e-12)
    assert metrics.brier_score_loss(RAINED, RAIN) == pytest.approx(0.095, abs=1e-12)


@pytest.mark.source("scikit-learn 1.9 user guide: three classes .146667, not halved", found="recomputed")
def test_brier_of_three_classes() -> None:
    said = [[0.8, 0.1, 0.1], [0.2, 0.7, 0.1], [0.2, 0.2, 0.6]]
    assert brier(said, [0, 1, 2]) == pytest.approx(0.146667, abs=1e-6)
    assert metrics.brier_score_loss([0, 1, 2], said, scale_by_half=False) == pytest.approx(0.146667, abs=1e-6)


@pytest.mark.source("scikit-learn 1.9 documentation of log_loss: .2161619", found="recomputed")
def test_log_score_of_four_letters() -> None:
    assert log_score(both([0.9, 0.1, 0.2, 0.65]), [1, 0, 0, 1]) == pytest.approx(0.2161619, abs=1e-7)


def test_log_score_of_what_was_ruled_out_is_infinite() -> None:
    assert log_score([[1.0, 0.0]], [1]) == np.inf


def drawn(seed: int, n: int = 400, k: int = 5) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    p = rng.dirichlet(np.full(k, 0.4), n)
    return p, np.array([rng.choice(k, p=row) for row in rng.permutation(p)])


@pytest.mark.source(LEARN.format("brier_score_loss and log_loss"), found="recomputed")
@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize(("n", "k"), [(1, 2), (20, 2), (60, 3), (400, 5), (1000, 40)])
def test_scores_agree_with_a_library(n: int, k: int, seed: int) -> None:
    p, came = drawn(seed, n, k)
    p = 0.999 * p + 0.001 / k  # the library clips a zero
    assert brier(p, came) == pytest.approx(
        metrics.brier_score_loss(came, p, scale_by_half=False, labels=range(k)), abs=1e-12
    )
    assert log_score(p, came) == pytest.approx(metrics.log_loss(came, p, labels=range(k)), abs=1e-12)


@pytest.mark.source("scikit-learn 1.9 documentation of calibration_curve", found="recomputed")
def test_reliability_in_three_bins_of_equal_width() -> None:
    found = reliability([0.1, 0.2, 0.3, 0.4, 0.65, 0.7, 0.8, 0.9, 1], [0] * 4 + [1] * 5, bins=3, equal="width")
    assert found.came == pytest.approx([0, 0.5, 1])
    assert found.said == pytest.approx([0.2, 0.525, 0.85])
    assert found.count.tolist() == [3, 2, 4]
    assert found.error == pytest.approx(0.138889, abs=1e-6)


@pytest.mark.source(LEARN.format("calibration_curve, uniform and quantile"), found="recomputed")
@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize(("equal", "strategy"), [("width", "uniform"), ("count", "quantile")])
def test_reliability_agrees_with_a_library(seed: int, equal: str, strategy: str) -> None:
    forecast, truth = drawn(seed)
    said, came = np.round(forecast.max(axis=1), 2), forecast.argmax(axis=1) == truth  # with ties
    found = reliability(said, came, 15, equal)  # type: ignore[arg-type]
    theirs, mean = calibration.calibration_curve(came, said, n_bins=15, strategy=strategy)
    assert found.came == pytest.approx(theirs, abs=1e-12)
    assert found.said == pytest.approx(mean, abs=1e-12)
    assert found.count.sum() == len(said)


def test_bins_of_equal_count_hold_as_many() -> None:
    rng = np.random.default_rng(1)
    assert np.ptp(reliability(rng.random(150), rng.random(150) < 0.5, 15).count) <= 1


def test_forecasts_that_come_as_said_have_no_error() -> None:
    assert reliability([0.25] * 8 + [0.75] * 4, [1, 1, 0, 0, 0, 0, 0, 0, 1, 1, 1, 0], 15).error == 0


@pytest.mark.source(
    "Pattipati and Alexandridis 1990, six states; terms of IEEE 1522", found="matrix from memory, figures recomputed"
)
def test_isolation_by_two_of_five_tests() -> None:
    """Detection .9333, isolation to one .3929, to two 1, mean group 1.333, by weight 1.6071."""
    found = diagnosability(["01", "00", "10", "11", "11"], [0.01, 0.02, 0.10, 0.05, 0.12], "00")
    assert found.detection == pytest.approx(0.9333, abs=5e-5)
    assert found.isolation(1) == pytest.approx(0.3929, abs=5e-5)
    assert found.isolation(2) == pytest.approx(1.0)
    assert found.mean_size == pytest.approx(4 / 3)
    assert found.expected_size == pytest.approx(1.6071, abs=5e-5)
    assert found.groups == ((0,), (2,), (3, 4))


def test_nothing_detected() -> None:
    found = diagnosability(["00"], [1.0], "00")
    assert (found.detection, found.groups, found.isolation(1), found.mean_size, found.expected_size) == (0, (), 0, 0, 0)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: brier([[0.5, 0.6]], [0]), "no distribution"),
        (lambda: brier([[np.nan, 1.0]], [0]), "no distribution"),
        (lambda: brier([0.5, 0.5], [0]), "shapes"),
        (lambda: log_score([[0.5, 0.5]], [2]), "0 to 1"),
        (lambda: log_score([[0.5, 0.5]], [0.5]), "0 to 1"),
        (lambda: log_score([["a", "b"]], [0]), "not an array of numbers"),
        (lambda: reliability([1.5], [1]), "probabilities"),
        (lambda: reliability([np.nan], [1]), "probabilities"),
        (lambda: reliability([0.5], [2]), "true or false"),
        (lambda: reliability([], []), "at least one"),
        (lambda: reliability([0.5], [1], bins=0), "at least 1"),
        (lambda: diagnosability(["01"], [0.0], "00"), "above 0"),
        (lambda: diagnosability(["01"], [1.0, 1.0], "00"), "one for each fault"),
        (lambda: diagnosability(["011"], [1.0], "00"), "3 outcomes, wanted 2"),
    ],
)
def test_bad_figures_are_refused_in_one_line(call, says) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(BadFigures, match=says) as caught:
        call()
    assert "\n" not in str(caught.value)


def test_one_bin_holds_all_forecasts() -> None:
    found = reliability([0.2, 0.4, 0.9], [False, True, True], bins=1)
    assert found.said.tolist() == [pytest.approx(0.5)]
    assert found.came.tolist() == [pytest.approx(2 / 3)]
    assert found.count.tolist() == [3]
