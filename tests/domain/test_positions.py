from __future__ import annotations

import math

import numpy as np
import pytest

from api.domain.places.positions import Fix, grid_uncertainty_m, precision_uncertainty_m, radius_95, sigma_m


@pytest.mark.parametrize(
    ("confidence", "factor"),
    [
        (0.68, 1.621),
        (1 - math.exp(-1), 1.731),  # two-dimensional root mean square: 63.2 %
        (0.50, 2.079),
        (0.95, 1.0),
    ],
)
def test_radius_is_brought_to_95_percent_by_the_circular_normal_factors(confidence, factor):
    # Rayleigh distribution; the factors stand in reference/STANDARDS.md, 3 (vector geo.accuracy.scale).
    assert radius_95(10.0, confidence) == pytest.approx(10 * factor, abs=0.0051)


def test_a_95_percent_radius_stays_exactly_as_recorded():
    assert radius_95(35.7, 0.95) == 35.7


@pytest.mark.parametrize("confidence", [0.5, 0.68, 0.95])
def test_readings_drawn_with_sigma_fall_within_the_radius_as_often_as_claimed(confidence):
    errors = np.random.default_rng(11).normal(0, sigma_m(12.0, confidence), (2, 400_000))
    assert (np.hypot(*errors) <= 12.0).mean() == pytest.approx(confidence, abs=0.004)
    assert (np.hypot(*errors) <= radius_95(12.0, confidence)).mean() == pytest.approx(0.95, abs=0.002)


def test_no_radius_recorded_is_none_and_not_zero():
    fix = Fix(lat=-36.2, lon=150.1)
    assert fix.radius_m is None
    assert fix.radius_95_m is None


def test_a_fix_gives_its_radius_at_95_percent():
    assert Fix(lat=-36.2, lon=150.1, radius_m=5, confidence=0.5).radius_95_m == pytest.approx(10.395, abs=0.001)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"lat": 150.1, "lon": -36.2}, "latitude 150.1 lies outside"),
        ({"lat": -36.2, "lon": 181}, "longitude 181 lies outside"),
        ({"lat": math.nan, "lon": 150.1}, "latitude nan is not a number"),
        ({"lat": -36.2, "lon": math.inf}, "longitude inf is not a number"),
        ({"lat": -36.2, "lon": 150.1, "radius_m": 0}, "radius of 0 m is not above zero"),
        ({"lat": -36.2, "lon": 150.1, "radius_m": math.nan}, "radius of nan m"),
        ({"lat": -36.2, "lon": 150.1, "radius_m": 5, "confidence": 1}, "confidence 1 does not lie between"),
        ({"lat": -36.2, "lon": 150.1, "confidence": 0}, "confidence 0 does not lie between"),
    ],
)
def test_what_cannot_be_a_fix_is_refused_with_the_value_named(values, words):
    with pytest.raises(ValueError, match=words):
        Fix(**values)


def test_the_edges_of_the_earth_are_positions():
    assert Fix(lat=-90, lon=-180).lat == -90
    assert Fix(lat=90, lon=180).lon == 180


def test_coordinate_precision_follows_the_published_worked_example():
    # Chapman & Wieczorek 2020, Georeferencing Best Practices v1.0 (GBIF), worked example "Coordinate precision"
    # (vector geo.prec.worked): latitude 10.27, 0.01 degree -> 1556.8 m.
    assert precision_uncertainty_m(10.27, 0.01) == pytest.approx(1556.8, abs=0.2)


@pytest.mark.parametrize(("lat", "printed"), [(0, [1570, 157, 16]), (30, [1470, 147, 15])])
def test_coordinate_precision_follows_the_published_table(lat, printed):
    # The same work, table of uncertainty due to coordinate precision, rounded up (vectors geo.prec.table.*).
    steps = [0.01, 0.001, 0.0001]
    assert [precision_uncertainty_m(lat, step) for step in steps] == pytest.approx(printed, abs=1.1)


def test_a_hundred_metre_grid_square_is_uncertain_by_71_metres():
    # Darwin Core, coordinateUncertaintyInMeters, example value 71 (vector geo.utm100m).
    assert grid_uncertainty_m(100) == pytest.approx(71, abs=0.5)


@pytest.mark.parametrize(
    "call",
    [
        lambda: precision_uncertainty_m(91, 0.1),
        lambda: precision_uncertainty_m(0, 0),
        lambda: grid_uncertainty_m(-1),
        lambda: sigma_m(-1),
        lambda: radius_95(5, 1.5),
    ],
)
def test_impossible_figures_are_refused(call):
    with pytest.raises(ValueError):
        call()
