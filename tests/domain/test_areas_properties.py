"""What must hold for any area and any fix, not only for those somebody thought of."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from api.domain.places.areas import Fix, judge_fix, judge_path, signed_distance_m
from api.domain.places.ellipsoid import WGS84
from tests.domain.geodesic_search import boundary_distance_m


@st.composite
def areas(draw):
    """Star-shaped outlines from 50 m to 3 km across, up to 80 degrees north and south, anywhere around the earth."""
    lat = draw(st.floats(-80, 80))
    lon = draw(st.one_of(st.floats(-179, 179), st.floats(179.9, 180), st.floats(-180, -179.9)))
    size = draw(st.floats(50, 3000))
    count = draw(st.integers(3, 9))
    shares = draw(st.lists(st.floats(0.3, 1), min_size=count, max_size=count))
    corners = [WGS84.fwd(lon, lat, 360 - 360 * number / count, size * share)[:2] for number, share in enumerate(shares)]
    # Counted on beyond 180 rather than jumping to the other side of the map.
    return shapely.Polygon([(x + 360 * round((lon - x) / 360), y) for x, y in corners]), lon, lat


@settings(max_examples=40, deadline=None)
@given(areas(), st.floats(0, 360), st.floats(0, 5000))
def test_signed_distance_is_geodesic_within_a_decimetre_up_to_five_kilometres(area, azimuth, away):
    shape, lon, lat = area
    x, y, _ = WGS84.fwd(lon, lat, azimuth, away)
    signed = signed_distance_m(shape, x, y)
    assert abs(signed) == pytest.approx(boundary_distance_m(shape, x, y, samples=30), abs=0.1)
    turned = x + 360 * round((lon - x) / 360)
    if abs(signed) > 0.01:
        assert (signed > 0) == shape.contains(shapely.Point(turned, y))


@settings(max_examples=30, deadline=None)
@given(areas(), st.floats(0, 360), st.floats(0, 1.5), st.floats(1, 3000))
def test_the_chance_is_within_a_hundredth_of_a_simulation(area, azimuth, share, radius):
    shape, lon, lat = area
    size = math.sqrt(abs(WGS84.geometry_area_perimeter(shape)[0]))
    x, y, _ = WGS84.fwd(lon, lat, azimuth, size * share)
    chance = judge_fix(shape, Fix(lat=y, lon=x, radius_m=radius)).probability_inside
    rng = np.random.default_rng(3)
    east, north = rng.normal(0, radius / 2.447746830680816, (2, 100_000))
    lons, lats, _ = WGS84.fwd(
        np.full(100_000, x), np.full(100_000, y), np.degrees(np.arctan2(east, north)), np.hypot(east, north)
    )
    lons += 360 * np.round((lon - lons) / 360)
    assert chance == pytest.approx(float(shapely.contains_xy(shape, lons, lats).mean()), abs=0.01)


@settings(max_examples=60, deadline=None)
@given(areas(), st.floats(0, 360), st.floats(0, 6000), st.floats(1, 1000), st.floats(1.01, 10))
def test_a_smaller_radius_never_takes_back_a_certain_verdict(area, azimuth, away, radius, factor):
    shape, lon, lat = area
    x, y, _ = WGS84.fwd(lon, lat, azimuth, away)
    wide = judge_fix(shape, Fix(lat=y, lon=x, radius_m=radius * factor))
    narrow = judge_fix(shape, Fix(lat=y, lon=x, radius_m=radius))
    if wide.verdict != "cannot tell":
        assert narrow.verdict == wide.verdict
    assert 0 <= wide.probability_inside <= 1
    if narrow.verdict == "inside":
        assert narrow.probability_inside >= 0.95 - 1e-6
    if narrow.verdict == "outside":
        assert narrow.probability_inside <= 0.05 + 1e-6


@settings(max_examples=40, deadline=None)
@given(areas(), st.lists(st.tuples(st.floats(0, 360), st.floats(0, 4000), st.floats(1, 200)), min_size=1, max_size=4))
def test_a_haul_is_never_surer_than_its_fixes(area, legs):
    shape, lon, lat = area
    spots = [(*WGS84.fwd(lon, lat, azimuth, away)[:2], radius) for azimuth, away, radius in legs]
    fixes = [Fix(lat=y, lon=x, radius_m=radius) for x, y, radius in spots]
    answer = judge_path(shape, fixes)
    alone = [judge_fix(shape, fix) for fix in fixes]
    assert answer.least_m <= min(one.distance_m for one in alone)
    assert answer.greatest_m >= max(one.distance_m for one in alone)
    if answer.whole != "cannot tell":
        assert {one.verdict for one in alone} == {answer.whole}
    assert answer.leaves_for_certain >= any(one.verdict == "outside" for one in alone)
    assert answer.enters_for_certain >= any(one.verdict == "inside" for one in alone)
    assert not (answer.whole == "inside" and answer.leaves_for_certain)
    assert not (answer.whole == "outside" and answer.enters_for_certain)
    backwards = judge_path(shape, fixes[::-1])
    assert (backwards.whole, backwards.leaves_for_certain) == (answer.whole, answer.leaves_for_certain)
