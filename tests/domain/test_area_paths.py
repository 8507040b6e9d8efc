from __future__ import annotations

import numpy as np
import pytest
import shapely

from api.domain.places.areas import (
    Fix,
    distance_to_m,
    judge_fix,
    judge_path,
    signed_distance_m,
)
from api.domain.places.ellipsoid import WGS84
from tests.domain.waters import ONWARD, SPLIT, SQUARE, at, creek, moved


def test_a_haul_that_leaves_between_two_fixes_inside_is_noticed():
    bent = shapely.Polygon(
        [
            (150, -36),
            (150.02, -36),
            (150.02, -36.02),
            (150.012, -36.02),
            (150.012, -36.008),
            (150.008, -36.008),
            (150.008, -36.02),
            (150, -36.02),
        ]
    )
    haul = [at(150.004, -36.015), at(150.016, -36.015)]
    assert all(judge_fix(bent, fix).verdict == "inside" for fix in haul)
    answer = judge_path(bent, haul)
    assert answer.whole == "cannot tell"
    assert answer.leaves_for_certain
    assert answer.enters_for_certain
    # Deepest outside in the middle of the gap, half its width from either bank.
    half = WGS84.inv(150.008, -36.015, 150.012, -36.015)[2] / 2
    assert answer.least_m == pytest.approx(-half, abs=0.1)


def test_a_haul_wholly_inside_or_outside_is_told_for_certain():
    inside = judge_path(SQUARE, [at(150.005, -36.005), at(150.01, -36.01), at(150.015, -36.005)])
    assert (inside.whole, inside.leaves_for_certain, inside.enters_for_certain) == ("inside", False, True)
    outside = judge_path(SQUARE, [at(150.03, -36.03), at(150.03, -35.99)])
    assert (outside.whole, outside.leaves_for_certain, outside.enters_for_certain) == ("outside", True, False)
    # Meridians draw together southward, so the haul is nearest at the southern end of the eastern side.
    assert (
        outside.distance_m
        == outside.greatest_m
        == pytest.approx(-WGS84.inv(150.03, -36.02, 150.02, -36.02)[2], abs=0.1)
    )


def test_a_haul_along_the_edge_cannot_be_told_and_neither_leaves_nor_enters():
    answer = judge_path(SQUARE, [at(150.005, -36.00001), at(150.015, -36.00001)])
    assert (answer.whole, answer.leaves_for_certain, answer.enters_for_certain) == ("cannot tell", False, False)
    assert answer.least_m == pytest.approx(answer.greatest_m, abs=0.05)
    assert answer.probability_inside == pytest.approx(0.7, abs=0.05)


def test_between_two_fixes_the_larger_radius_holds_but_each_fix_keeps_its_own():
    edge_lon, edge_lat = moved(150.02, -36.01, 90, 30)
    far_lon, _ = moved(150.02, -36.01, 90, 40)
    answer = judge_path(SQUARE, [at(edge_lon, edge_lat, 5), at(far_lon, edge_lat, 200)])
    assert answer.whole == "cannot tell"
    assert answer.radius_m == 200
    assert answer.leaves_for_certain  # the first fix alone is outside for certain
    both_wide = judge_path(SQUARE, [at(edge_lon, edge_lat, 200), at(far_lon, edge_lat, 200)])
    assert not both_wide.leaves_for_certain


def test_a_fix_without_radius_keeps_the_whole_open_but_not_what_others_show():
    answer = judge_path(SQUARE, [at(150.01, -36.01), Fix(lat=-36.01, lon=150.015)])
    assert (answer.whole, answer.radius_m, answer.probability_inside) == ("cannot tell", None, None)
    assert answer.enters_for_certain
    assert not answer.leaves_for_certain


def test_one_fix_is_judged_like_a_fix():
    fix = at(150.0201, -36.01, 30)
    answer, single = judge_path(SQUARE, [fix]), judge_fix(SQUARE, fix)
    assert (answer.verdict, answer.distance_m, answer.probability_inside) == (
        single.verdict, single.distance_m, single.probability_inside
    )  # fmt: skip
    assert judge_path(SQUARE, [fix, fix]) == answer


def test_a_haul_across_the_antimeridian_goes_the_short_way():
    answer = judge_path(SPLIT, [at(179.95, -16.95), at(-179.95, -16.95)])
    assert answer.whole == "inside"
    assert judge_path(ONWARD, [at(179.95, -16.95), at(-179.95, -16.95)]).whole == "inside"
    assert judge_path(SPLIT, [at(179.95, -16.95), at(-179.85, -16.95)]).leaves_for_certain


def test_a_haul_over_an_island_leaves_the_water():
    answer = judge_path(creek(), [at(150.117, -36.2105), at(150.125, -36.2107)])
    assert answer.leaves_for_certain
    assert answer.least_m < -20


def test_two_fixes_apart_by_the_last_digit_only_are_one_place():
    dust = [at(0.0, 0.0001), at(1e-19, 0.0001)]
    area = shapely.Polygon([(0, 0.0005), (-0.0004, -0.0001), (0.0004, -0.0001)])
    assert judge_path(area, dust).least_m == pytest.approx(judge_fix(area, dust[0]).distance_m, abs=1e-6)


def test_an_empty_haul_is_refused():
    with pytest.raises(ValueError, match="no position"):
        judge_path(SQUARE, [])


def test_extremes_on_a_long_way_are_those_of_dense_sampling():
    water = creek()
    answer = judge_path(water, [at(150.095, -36.203), at(150.155, -36.212)])
    shares = np.linspace(0, 1, 4001)
    signed = [signed_distance_m(water, 150.095 + 0.06 * s, -36.203 - 0.009 * s) for s in shares]
    assert answer.least_m == pytest.approx(min(signed), abs=0.7)  # samples lie 1.4 m apart
    assert answer.greatest_m == pytest.approx(max(signed), abs=0.7)
    assert answer.least_m <= min(signed) + 0.03
    assert answer.greatest_m >= max(signed) - 0.03


def test_a_haul_across_a_line_feature_is_at_it_wherever_it_crosses():
    """From no end of the haul or of the line is that seen: the crossing itself is the nearest place."""
    line = shapely.LineString([(150.03, -45.06), (150.04, -45.06)])
    for lon in np.linspace(150.0301, 150.0397, 50):
        gap = distance_to_m(line, [at(lon, -45.061), at(lon + 0.0002, -45.0592)])
        assert gap.best_m < 0.01
