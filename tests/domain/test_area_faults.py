from __future__ import annotations

import numpy as np
import pytest
import shapely
from pyproj import Transformer

from api.domain.places.area_faults import faults_of, looks_misplaced, looks_shifted, looks_swapped, ring_faults
from api.domain.places.ellipsoid import metres_per_degree
from tests.domain.waters import ONWARD, SPLIT, SQUARE, creek


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
