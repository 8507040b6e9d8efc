from __future__ import annotations

import numpy as np
import pytest
import shapely
from pyproj import Geod

from api.domain.places.areas import (
    Area,
    Fix,
    judge_fix,
    normalised,
    signed_distance_m,
    verdicts_among,
)
from api.domain.places.ellipsoid import WGS84, metres_per_degree
from tests.domain.geodesic_search import boundary_distance_m
from tests.domain.waters import ONWARD, SPLIT, creek, moved

BOX = shapely.box(-75, 45, -74.99, 45.01)


def simulated(geometry, lon, lat, radius_95, count=200_000) -> float:
    """Share of places drawn with a circular normal error that fall in the area; each laid out geodesically."""
    rng = np.random.default_rng(42)
    sigma = radius_95 / 2.447746830680816
    east, north = rng.normal(0, sigma, (2, count))
    azimuths, distances = np.degrees(np.arctan2(east, north)), np.hypot(east, north)
    lons, lats, _ = WGS84.fwd(np.full(count, lon), np.full(count, lat), azimuths, distances)
    return float(shapely.contains_xy(geometry, lons, lats).mean())


# --- what the geodesy rests on -------------------------------------------------------------------------------------


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


# --- signed distance -----------------------------------------------------------------------------------------------


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


# --- a fix ---------------------------------------------------------------------------------------------------------


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


def test_the_chance_beside_a_finely_cornered_shore_is_that_of_a_simulation():
    fine = shapely.segmentize(creek(), 0.00005)
    answer = judge_fix(fine, Fix(lat=-36.2052, lon=150.0985, radius_m=700))
    assert answer.probability_inside == pytest.approx(simulated(fine, 150.0985, -36.2052, 700), abs=0.01)


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
