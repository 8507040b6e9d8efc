from __future__ import annotations

import numpy as np
import pytest
import shapely
from pyproj import Geod

from api.domain.area_faults import faults_of, looks_misplaced, looks_shifted, looks_swapped, ring_faults
from api.domain.areas import (
    Area,
    Fix,
    distance_to_m,
    judge_fix,
    judge_path,
    normalised,
    signed_distance_m,
    together,
    verdicts_among,
)
from api.domain.areas_bulk import judge_many
from api.domain.ellipsoid import WGS84, metres_per_degree
from tests.domain.geodesic_search import boundary_distance_m

BOX = shapely.box(-75, 45, -74.99, 45.01)
CODES = {"inside": 1, "cannot tell": 0, "outside": -1}


def creek() -> shapely.Polygon:
    """A bent water with an island, about 4 km long."""
    shell = [
        (150.10, -36.20),
        (150.13, -36.21),
        (150.15, -36.20),
        (150.152, -36.205),
        (150.13, -36.22),
        (150.098, -36.208),
    ]
    island = [(150.120, -36.210), (150.122, -36.2105), (150.121, -36.2115)]
    return shapely.Polygon(shell, [island])


def moved(lon, lat, azimuth, distance) -> tuple[float, float]:
    x, y, _ = WGS84.fwd(lon, lat, azimuth, distance)
    return x, y


def simulated(geometry, lon, lat, radius_95, count=200_000) -> float:
    """Share of places drawn with a circular normal error that fall in the area; each laid out geodesically."""
    rng = np.random.default_rng(42)
    sigma = radius_95 / 2.447746830680816
    east, north = rng.normal(0, sigma, (2, count))
    azimuths, distances = np.degrees(np.arctan2(east, north)), np.hypot(east, north)
    lons, lats, _ = WGS84.fwd(np.full(count, lon), np.full(count, lat), azimuths, distances)
    return float(shapely.contains_xy(geometry, lons, lats).mean())


# --- what the geodesy rests on ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("start", "end", "expected", "tolerance"),
    [
        # Karney 2013, J. Geodesy 87, inverse example near the antipode.
        ((-30, 0), (29.9, 179.8), 19989832.82761, 1e-5),
        # GeographicLib, python test_geodesic.py, test cases (lat, lon).
        ((35.60777, -139.44815), (-11.17491, -69.95921), 8935244.56048183, 1e-6),
        ((55.52454, 106.05087), (77.03196, 197.18234), 4105086.171392441, 1e-6),
        ((-21.97856, 142.59065), (41.84138, 98.56635), 8394328.894657671, 1e-6),
    ],
)
def test_the_geodesic_distance_meets_published_values(start, end, expected, tolerance):
    assert WGS84.inv(start[1], start[0], end[1], end[0])[2] == pytest.approx(expected, abs=tolerance)


def test_the_geodesic_end_point_meets_karneys_direct_example():
    # Karney 2013, worked example: lat 40, azimuth 30, 10 000 km.
    lon, lat, back = WGS84.fwd(0, 40, 30, 10_000_000)
    assert (lat, lon) == pytest.approx((41.79331020506, 137.84490004377), abs=1e-10)
    assert back % 360 - 180 == pytest.approx(149.09016931807, abs=1e-10)


def test_the_line_flinders_peak_to_buninyong_meets_the_datum_manual():
    # Geocentric Datum of Australia Technical Manual v2.4 (ICSM 2014), Vincenty's worked line on GRS80.
    def degrees(d, m, s):
        return d + m / 60 + s / 3600

    start = (degrees(144, 25, 29.52440), -degrees(37, 57, 3.72030))
    end = (degrees(143, 55, 35.38390), -degrees(37, 39, 10.15610))
    azimuth, back, length = Geod(ellps="GRS80").inv(*start, *end)
    assert length == pytest.approx(54972.271, abs=0.0006)
    assert azimuth % 360 == pytest.approx(306.8681583333333, abs=1e-6)
    assert back % 360 == pytest.approx(127.17363055555556, abs=1e-6)


def test_the_area_and_perimeter_of_a_small_box_are_geodesic():
    # Vector geo.area.box45 (computed): 41 % less than degree area x 111320^2 would give.
    area, perimeter = WGS84.geometry_area_perimeter(BOX)
    assert (area, perimeter) == pytest.approx((876163.448, 3799.437), abs=0.01)


@pytest.mark.parametrize(
    ("lat", "north", "east"),
    [(0, 110574.3, 111319.49), (30, 110852.46, 96485.97), (45, 111131.78, 78846.33), (60, 111412.27, 55799.47)],
)
def test_a_degree_has_as_many_metres_as_the_ellipsoid_gives_it(lat, north, east):
    # Vectors geo.degree.* (WGS84). Those are whole degrees along the geodesic, ours the rate at the latitude.
    assert metres_per_degree(lat) == pytest.approx((east, north), rel=4e-5)


# --- signed distance -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("lon", "radius", "verdict", "signed"),
    [
        (-74.9902, 10, "inside", 15.768),
        (-74.9902, 30, "cannot tell", 15.768),
        (-74.9898, 30, "cannot tell", -15.768),
        (-74.9898, 10, "outside", -15.768),
    ],
)
def test_a_fix_near_a_box_edge_is_judged_by_its_whole_radius(lon, radius, verdict, signed):
    # Vectors geo.inpoly.*, computed after the point-radius method (Chapman & Wieczorek 2020); last row by symmetry.
    answer = judge_fix(BOX, Fix(lat=45.005, lon=lon, radius_m=radius))
    assert answer.distance_m == pytest.approx(signed, abs=0.003)
    assert answer.verdict == verdict


def test_signed_distance_is_within_a_decimetre_of_the_slow_geodesic_search():
    water = creek()
    rng = np.random.default_rng(5)
    for lon, lat in zip(rng.uniform(150.06, 150.19, 12), rng.uniform(-36.25, -36.17, 12), strict=True):
        slow = boundary_distance_m(water, lon, lat)
        signed = signed_distance_m(water, lon, lat)
        assert abs(signed) == pytest.approx(slow, abs=0.1)
        assert (signed > 0) == water.contains(shapely.Point(lon, lat))


@pytest.mark.parametrize(("width", "gap"), [(0.1, 1.216), (1, 121.636)])
def test_a_long_edge_is_straight_in_degrees_not_a_geodesic(width, gap):
    # Vectors geo.edge.*: at 45 N a geodesic between the corners passes this far north of the edge's middle.
    wide = shapely.box(-75, 44, -75 + width, 45)
    lon, lat = WGS84.npts(-75, 45, -75 + width, 45, 1)[0]
    assert signed_distance_m(wide, lon, lat) == pytest.approx(-gap, abs=0.01)
    assert signed_distance_m(wide, -75 + width / 2, 45) == pytest.approx(0, abs=1e-6)


@pytest.mark.parametrize("lat", [0, 45, 60, -80])
def test_distance_due_east_of_an_edge_is_what_was_laid_out_at_any_latitude(lat):
    # Vectors geo.buffer.*: degree and web-map buffers fall 29 % short at 45 degrees; this must not.
    area = shapely.box(-76, lat - 0.5, -75, lat + 0.5)
    lon, north = moved(-75, lat, 90, 100)
    assert signed_distance_m(area, lon, north) == pytest.approx(-100, abs=0.01)


def test_a_hole_is_outside_and_its_rim_is_boundary():
    water = creek()
    on_island = signed_distance_m(water, 150.121, -36.2107)
    assert -60 < on_island < 0
    beside = signed_distance_m(water, 150.1195, -36.2102)
    assert 0 < beside == pytest.approx(boundary_distance_m(water, 150.1195, -36.2102), abs=0.1)


def test_each_part_of_a_multipolygon_counts():
    two = shapely.MultiPolygon([shapely.box(150, -36, 150.01, -35.99), shapely.box(150.02, -36, 150.03, -35.99)])
    assert signed_distance_m(two, 150.005, -35.995) > 0
    assert signed_distance_m(two, 150.025, -35.995) > 0
    assert signed_distance_m(two, 150.015, -35.995) == pytest.approx(
        -WGS84.inv(150.015, -35.995, 150.02, -35.995)[2], abs=0.01
    )


SPLIT = shapely.MultiPolygon([shapely.box(179.9, -17, 180, -16.9), shapely.box(-180, -17, -179.9, -16.9)])
ONWARD = shapely.box(179.9, -17, 180.1, -16.9)


@pytest.mark.parametrize("area", [SPLIT, ONWARD, shapely.box(-180.1, -17, -179.9, -16.9)])
@pytest.mark.parametrize("lon", [180, -180, 179.999, -179.999])
def test_the_seam_at_the_antimeridian_is_no_boundary(area, lon):
    to_side = WGS84.inv(lon, -16.95, 179.9 if lon < 0 else -179.9, -16.95)[2]
    nearest = min(to_side, WGS84.inv(lon, -16.95, lon, -16.9)[2])
    assert signed_distance_m(area, lon, -16.95) == pytest.approx(nearest, abs=0.1)
    assert judge_fix(area, Fix(lat=-16.95, lon=lon, radius_m=500)).verdict == "inside"


def test_the_antimeridian_is_a_boundary_where_only_one_side_belongs_to_the_area():
    area = shapely.MultiPolygon([shapely.box(179.9, -17, 180, -16.8), shapely.box(-180, -17, -179.9, -16.9)])
    assert signed_distance_m(area, -179.999, -16.85) == pytest.approx(
        -WGS84.inv(-179.999, -16.85, 180, -16.85)[2], abs=0.01
    )
    answer = judge_fix(area, Fix(lat=-16.85, lon=180, radius_m=50))
    assert answer.distance_m == pytest.approx(0, abs=1e-6)
    assert answer.probability_inside == pytest.approx(0.5, abs=0.001)
    # On the seam itself, 100 m south of the corner where it ends: the nearest outside is that corner.
    assert signed_distance_m(area, 180, -16.901) == pytest.approx(WGS84.inv(180, -16.901, 180, -16.9)[2], abs=0.01)


def test_longitudes_beyond_180_are_brought_back_and_split():
    back = normalised(ONWARD)
    assert back.bounds == (-180, -17, 180, -16.9)
    assert len(back.geoms) == 2
    assert back.equals(SPLIT)


@pytest.mark.parametrize(("lon", "held"), [(179, True), (-179, True), (0, False)])
def test_the_fiji_box_holds_both_sides_of_the_antimeridian(lon, held):
    # RFC 7946, 5.2: bbox 177, -20, -178, -16 (west beyond east).
    fiji = normalised(shapely.box(177, -20, 182, -16))
    assert (signed_distance_m(fiji, lon, -18) > 0) is held


def test_a_cap_over_the_pole_has_no_edge_at_the_pole_nor_at_its_seam():
    cap = shapely.box(-180, -90, 180, -80)
    for lon in (0, 180, -180, 77):
        assert signed_distance_m(cap, lon, -90) == pytest.approx(WGS84.inv(0, -90, 0, -80)[2], abs=0.1)
    assert signed_distance_m(cap, 180, -81) == pytest.approx(WGS84.inv(0, -81, 0, -80)[2], abs=0.1)


def test_far_away_the_distance_goes_on_growing():
    distances = [-signed_distance_m(BOX, *moved(-74.995, 45.005, 100, step)) for step in np.geomspace(2e3, 1.5e7, 60)]
    assert distances == sorted(distances)
    assert distances[-1] == pytest.approx(1.5e7, rel=1e-3)


# --- a fix -----------------------------------------------------------------------------------------------------


def test_twenty_metres_outside_with_a_radius_of_35_cannot_be_told_and_is_8_percent():
    # The case of a fix 20 m beyond a straight edge: P = Phi(-20 / (35 / 2.4477)) = 0.081.
    closed = shapely.box(150.0, -36.3, 150.1, -36.2)
    lon, lat = moved(150.1, -36.25, 90, 20)
    answer = judge_fix(Area("c1", "Closed reach", closed), Fix(lat=lat, lon=lon, radius_m=35))
    assert answer.verdict == "cannot tell"
    assert answer.distance_m == pytest.approx(-20, abs=0.05)
    assert answer.probability_inside == pytest.approx(0.081, abs=0.001)


@pytest.mark.parametrize("confidence", [0.5, 0.68, 0.95])
def test_exactly_on_the_limit_the_whole_radius_fits(confidence):
    for lon in (-74.9902, -74.9898):
        distance = judge_fix(BOX, Fix(lat=45.005, lon=lon)).distance_m
        on_limit = Fix(lat=45.005, lon=lon, radius_m=abs(distance))
        assert judge_fix(BOX, on_limit).verdict == ("inside" if distance > 0 else "outside")
        beyond = Fix(lat=45.005, lon=lon, radius_m=abs(distance) + 0.001)
        assert judge_fix(BOX, beyond).verdict == "cannot tell"
        same_at_95 = Fix(lat=45.005, lon=lon, radius_m=abs(distance) * 1.01, confidence=confidence)
        assert judge_fix(BOX, same_at_95).verdict == "cannot tell"


def test_the_confidence_of_a_radius_decides():
    # 10 m at 50 % is 20.8 m at 95 %, more than the 15.768 m to the edge.
    assert judge_fix(BOX, Fix(lat=45.005, lon=-74.9902, radius_m=10)).verdict == "inside"
    answer = judge_fix(BOX, Fix(lat=45.005, lon=-74.9902, radius_m=10, confidence=0.5))
    assert answer.verdict == "cannot tell"
    assert answer.radius_m == pytest.approx(20.79, abs=0.01)


def test_without_a_radius_only_the_distance_is_told():
    answer = judge_fix(BOX, Fix(lat=45.005, lon=-74.995))
    assert (answer.verdict, answer.radius_m, answer.probability_inside) == ("cannot tell", None, None)
    assert answer.distance_m == pytest.approx(WGS84.inv(-74.995, 45.005, -75, 45.005)[2], abs=0.1)


def test_the_edge_tolerance_of_an_area_adds_to_the_radius():
    fix = Fix(lat=45.005, lon=-74.9902, radius_m=10)
    assert judge_fix(Area("a", "A", BOX, edge_tolerance_m=5), fix).verdict == "inside"
    assert judge_fix(Area("a", "A", BOX, edge_tolerance_m=6), fix).verdict == "cannot tell"


@pytest.mark.parametrize(
    ("lon", "lat", "radius"),
    [
        (150.121, -36.2107, 60),  # on the island
        (150.121, -36.2107, 400),  # the island and both shores
        (150.13, -36.2095, 150),
        (150.15, -36.20, 80),  # exactly on a sharp corner
        (150.0985, -36.2075, 3000),
    ],
)
def test_the_chance_of_being_inside_is_that_of_a_simulation(lon, lat, radius):
    answer = judge_fix(creek(), Fix(lat=lat, lon=lon, radius_m=radius))
    assert answer.probability_inside == pytest.approx(simulated(creek(), lon, lat, radius), abs=0.01)


def test_the_chance_across_the_antimeridian_is_that_of_a_simulation():
    fix = Fix(lat=-16.9, lon=-179.9999, radius_m=700)
    for area in (SPLIT, ONWARD):
        # Half the circle lies south of the edge at -16.9, wherever the seam is.
        assert judge_fix(area, fix).probability_inside == pytest.approx(0.5, abs=0.001)


def test_verdicts_among_many_areas_are_those_of_each():
    areas = [
        creek(),
        BOX,
        Area("t", "T", shapely.box(150, -36.3, 150.2, -36.1), edge_tolerance_m=3),
        shapely.Polygon(
            shapely.box(140, -40, 160, -30).exterior, [shapely.box(150.1, -36.21, 150.102, -36.2).exterior]
        ),
    ]
    for fix in (Fix(lat=-36.2, lon=150.1, radius_m=20), Fix(lat=-36.19, lon=150.3, radius_m=2000), Fix(lat=0, lon=0)):
        assert verdicts_among(areas, fix) == tuple(judge_fix(area, fix).verdict for area in areas)


# --- a haul ----------------------------------------------------------------------------------------------------


def at(lon, lat, radius=5.0) -> Fix:
    return Fix(lat=lat, lon=lon, radius_m=radius)


SQUARE = shapely.box(150.0, -36.02, 150.02, -36.0)


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


# --- keeping away, joining, many at once -----------------------------------------------------------------------


def test_distance_to_a_point_a_line_and_an_area_has_low_best_and_high():
    lon, lat = moved(150.0, -36.0, 90, 100)
    gap = distance_to_m(shapely.Point(150, -36), at(lon, lat, 12))
    assert (gap.low_m, gap.best_m, gap.high_m) == pytest.approx((88, 100, 112), abs=0.01)
    jetty = shapely.LineString([(150, -36.01), (150, -35.99)])
    assert distance_to_m(jetty, at(lon, lat, 12)).best_m == pytest.approx(100, abs=0.01)
    lease = Area("l", "Lease", shapely.box(149.99, -36.01, 150, -35.99), edge_tolerance_m=8)
    gap = distance_to_m(lease, at(lon, lat, 12))
    assert (gap.low_m, gap.best_m, gap.high_m) == pytest.approx((80, 100, 120), abs=0.01)


def test_distance_within_a_feature_is_zero_and_unknown_radius_leaves_the_ends_open():
    assert distance_to_m(SQUARE, at(150.01, -36.01)).high_m == 0
    gap = distance_to_m(SQUARE, Fix(lat=-36.01, lon=150.03))
    assert (gap.low_m, gap.high_m) == (None, None)
    assert gap.best_m == pytest.approx(WGS84.inv(150.03, -36.01, 150.02, -36.01)[2], abs=0.1)


def test_a_haul_is_as_near_as_its_nearest_stretch():
    point = shapely.Point(150.01, -36.0)
    gap = distance_to_m(point, [at(150.0, -36.001), at(150.02, -36.001)])
    assert gap.best_m == pytest.approx(WGS84.inv(150.01, -36.0, 150.01, -36.001)[2], abs=0.05)
    assert gap.low_m == pytest.approx(gap.best_m - 5, abs=1e-9)


def test_areas_taken_together_lose_their_inner_edge():
    west = Area("w", "West", shapely.box(150, -36.01, 150.01, -36), edge_tolerance_m=2, kind="permitted")
    east = Area("e", "East", shapely.box(150.01, -36.01, 150.02, -36), edge_tolerance_m=4, kind="permitted")
    both = together([west, east])
    fix = at(150.01, -36.005, 100)
    assert judge_fix(west, fix).verdict == "cannot tell"
    assert judge_fix(both, fix).verdict == "inside"
    assert (both.edge_tolerance_m, both.kind) == (4, "permitted")
    with pytest.raises(ValueError, match="no area to join"):
        together([])


def test_many_fixes_at_once_get_the_verdicts_of_one_by_one():
    rng = np.random.default_rng(8)
    places = [
        creek(),
        Area("s", "S", SQUARE, edge_tolerance_m=15),
        SPLIT,
        ONWARD,
        shapely.box(-180, -90, 180, -80),
        shapely.box(148, -38, 152, -34),
        shapely.box(179.5, -17, 179.99, -16),
    ]
    centres = [(150.12, -36.21), (150.01, -36.01), (180, -16.95), (180, -16.95), (20, -80), (150, -36), (180, -16.5)]
    lons = np.concatenate([rng.normal(lon, 0.04, 120) for lon, _ in centres])
    lons = (lons + 180) % 360 - 180
    lats = np.clip(np.concatenate([rng.normal(lat, 0.04, 120) for _, lat in centres]), -90, 90)
    radii = 10 ** rng.uniform(0, 5.3, len(lons))
    radii[::50] = np.nan
    verdicts = judge_many(places, lons, lats, radii)
    for row, place in zip(verdicts, places, strict=True):
        alone = [
            CODES[judge_fix(place, Fix(lat=lat, lon=lon, radius_m=None if np.isnan(r) else r)).verdict]
            for lon, lat, r in zip(lons.tolist(), lats.tolist(), radii.tolist(), strict=True)
        ]
        assert row.tolist() == alone
        assert {-1, 0, 1} >= set(alone) > {0}


@pytest.mark.parametrize(
    ("lons", "lats", "radii"),
    [([150, 151], [-36], [5]), ([150], [-91], [5]), ([np.nan], [-36], [5]), ([150], [-36], [0])],
)
def test_many_fixes_with_impossible_values_are_refused(lons, lats, radii):
    with pytest.raises(ValueError):
        judge_many([SQUARE], np.array(lons), np.array(lats), np.array(radii))


# --- faults and doubts -----------------------------------------------------------------------------------------


def test_an_outline_that_crosses_itself_is_refused_with_the_place():
    bow = shapely.Polygon([(150, -36), (150.02, -36.02), (150.02, -36), (150, -36.02)])
    (fault,) = faults_of(bow)
    assert fault.where == pytest.approx((150.01, -36.01))
    assert str(fault).startswith("The outline crosses itself at longitude 150.01, latitude -36.01. ")


def test_each_part_with_a_fault_is_named():
    bow = shapely.Polygon([(150, -36), (150.02, -36.02), (150.02, -36), (150, -36.02)])
    spike = shapely.Polygon([(151, -36), (151.02, -36.02), (151.02, -36), (151, -36.02)])
    assert [fault.where[0] for fault in faults_of(shapely.MultiPolygon([bow, spike]))] == pytest.approx(
        [150.01, 151.01]
    )


@pytest.mark.parametrize(
    ("geometry", "what"),
    [
        (shapely.Polygon(), "the area is empty"),
        (shapely.Polygon([(150, -36), (150.1, -36), (150.2, -36)]), ""),
        (shapely.Polygon([(150, -36), (150.1, np.inf), (150.2, -36.1)]), "corner 2 is no number"),
        (shapely.Polygon([(0, 0), (1e308, 0), (0, 1)]), "a corner lies nowhere on earth"),
        (shapely.box(250_000, 5_990_000, 251_000, 5_991_000), "the coordinates look like metres, not degrees"),
        (shapely.box(-36.2, 150.1, -36.1, 150.2), "latitude and longitude look swapped"),
        (shapely.box(150, -91, 151, -89), "a latitude is beyond 90 degrees"),
        (shapely.Polygon([(179, -17), (-179, -17), (-179, -16), (179, -16)]), "an edge goes more than half around"),
        (shapely.GeometryCollection([shapely.Point(1, 1)]), "the area is a mixed collection"),
        (shapely.MultiPolygon([shapely.box(0, 0, 2, 2), shapely.box(1, 1, 3, 3)]), "two parts overlap"),
        (shapely.Polygon(shapely.box(0, 0, 1, 1).exterior, [shapely.box(5, 5, 6, 6).exterior]), "a hole lies outside"),
    ],
)  # fmt: skip
def test_a_fault_of_an_outline_is_named(geometry, what):
    faults = faults_of(geometry)
    assert len(faults) == 1
    assert faults[0].what.startswith(what)
    assert faults[0].mend.endswith(".")


@pytest.mark.parametrize("geometry", [creek(), SPLIT, ONWARD, shapely.box(-180, -90, 180, 90), shapely.Point(150, -36)])
def test_a_sound_geometry_has_no_fault(geometry):
    assert faults_of(geometry) == []


def test_an_open_or_short_ring_is_named():
    assert [fault.what for fault in ring_faults([(0, 0), (1, 0), (1, 1), (0, 1)])] == ["an outline is not closed"]
    assert "fewer than three" in ring_faults([(0, 0), (1, 0), (0, 0)])[0].what
    assert ring_faults([(0, 0), (1, 0), (1, 1), (0, 0)]) == []


def test_swapped_coordinates_are_noticed_beside_the_hauls():
    hauls = [(17.2, 41.1), (17.3, 41.3)]
    right, swapped = shapely.box(17.1, 41.0, 17.2, 41.2), shapely.box(41.0, 17.1, 41.2, 17.2)
    assert looks_swapped(right, hauls) is None
    doubt = looks_swapped(swapped, hauls)
    assert doubt is not None
    assert "swapped" in doubt.what
    assert looks_swapped(swapped, [shapely.box(17, 41, 18, 42).bounds]) is not None
    assert looks_swapped(shapely.box(-36.2, 150.1, -36.1, 150.2)) is not None


def test_a_lost_sign_or_a_far_place_is_noticed():
    hauls = [(150.1, -36.2)]
    assert looks_misplaced(creek(), hauls) is None
    assert "south is negative" in looks_misplaced(shapely.box(150, 36.1, 150.2, 36.3), hauls).mend
    assert "reference system" in looks_misplaced(shapely.box(10, 50, 11, 51), hauls).mend


def test_a_wrong_datum_is_noticed_beside_the_outline_on_record():
    # AGD66 (EPSG 4202) read as WGS84: about 200 m off in south-east Australia (common knowledge of the trade; the
    # shift itself is PROJ's).
    from pyproj import Transformer

    water = creek()
    back = Transformer.from_crs("OGC:CRS84", "EPSG:4202", always_xy=True)
    xy = shapely.get_coordinates(water)
    unshifted = shapely.set_coordinates(creek(), np.column_stack(back.transform(xy[:, 0], xy[:, 1])))
    doubt = looks_shifted(unshifted, water)
    assert doubt is not None
    lon, lat = back.transform(150.1, -36.2)
    east, north = (np.array([lon, lat]) - (150.1, -36.2)) * metres_per_degree(-36.2)
    assert 100 < np.hypot(east, north) < 300
    assert f"{abs(north):.3g} m {'north' if north > 0 else 'south'}" in doubt.what
    assert looks_shifted(water, creek()) is None
    assert looks_shifted(SQUARE, water) is None
    # Drawn with other corners, the same shape still tells.
    assert looks_shifted(shapely.segmentize(unshifted, 0.001), water) is not None
