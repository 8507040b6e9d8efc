"""Tracks from a GPS device: what is read, what is refused, and which points make a haul's fixes."""

from datetime import UTC, datetime, timedelta

import pytest
import shapely

from api.exchange.gpx import MOST_FIXES, TrackPoint, attach_tracks, fixes_between, read_gpx

HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="x">'
)
START = datetime(2027, 6, 11, 11, 30, tzinfo=UTC)


def gpx(tmp_path, body, head=HEAD, name="night.gpx"):
    path = tmp_path / name
    path.write_text(f"{head}{body}</gpx>")
    return path


def track(*points):
    return "<trk><trkseg>" + "".join(points) + "</trkseg></trk>"


def point(lat=-42.88, lon=147.33, time="2027-06-11T11:30:00Z", more=""):
    when = f"<time>{time}</time>" if time else ""
    return f'<trkpt lat="{lat}" lon="{lon}"><ele>2</ele>{when}{more}</trkpt>'


def whats(faults):
    return [f"{fault.where}: {fault.what}" for fault in faults]


def test_points_carry_position_and_time_in_utc(tmp_path):
    # GPX 1.1 schema: lat and lon in decimal degrees, WGS84; time in UTC (topografix.com/GPX/1/1).
    points, faults = read_gpx(gpx(tmp_path, track(point(), point(time="2027-06-11T21:31:00.5+10:00"))))

    assert faults == []
    assert points == [
        TrackPoint(-42.88, 147.33, START),
        TrackPoint(-42.88, 147.33, START + timedelta(seconds=60.5)),
    ]


def test_a_time_without_zone_is_utc_as_gpx_says(tmp_path):
    # GPX 1.1 schema, element time: "Date and time are in Univeral Coordinated Time (UTC), not local time!"
    points, _ = read_gpx(gpx(tmp_path, track(point(time="2027-06-11T11:30:00"))))

    assert points[0].at == START


def test_gpx_1_0_is_tolerated(tmp_path):
    head = '<gpx xmlns="http://www.topografix.com/GPX/1/0" version="1.0" creator="x">'

    points, faults = read_gpx(gpx(tmp_path, track(point()), head))

    assert (len(points), faults) == (1, [])


def test_hdop_is_not_metres(tmp_path):
    # GPX 1.1: hdop is the horizontal dilution of precision, a factor without unit.
    inside = "<hdop>1.4</hdop><pdop>2.0</pdop><extensions><hdop>1.5</hdop></extensions>"

    points, _ = read_gpx(gpx(tmp_path, track(point(more=inside))))

    assert points[0].radius_m is None


def test_a_radius_outside_the_extensions_is_none_of_gpx(tmp_path):
    # GPX 1.1 schema, wptType: no element of its own holds an accuracy; others may stand only in <extensions>.
    points, _ = read_gpx(gpx(tmp_path, track(point(more="<accuracy>3</accuracy>"))))

    assert points[0].radius_m is None


@pytest.mark.parametrize("element", ["accuracy", "radius_m", "x:accuracy"])
def test_a_radius_stands_in_the_extensions(tmp_path, element):
    head = HEAD.replace(" creator", ' xmlns:x="urn:x" creator')
    more = f"<hdop>1.4</hdop><extensions><x:p><{element}> 6.5 </{element}></x:p></extensions>"

    points, faults = read_gpx(gpx(tmp_path, track(point(more=more)), head))

    assert (points[0].radius_m, faults) == (6.5, [])


def test_a_time_within_the_extensions_is_not_the_points(tmp_path):
    points, _ = read_gpx(gpx(tmp_path, track(point(more="<extensions><time>2020-01-01T00:00:00Z</time></extensions>"))))

    assert points[0].at == START


@pytest.mark.parametrize(
    ("broken", "what"),
    [
        (point(lat="NaN"), "The latitude 'NaN' is not a number."),
        (point(lat="1e308"), "The latitude '1e308' is not a number."),
        (point(lat=-95), "The latitude -95.0 lies outside -90 to 90 degrees"),
        (point(lon=181), "The longitude 181.0 lies outside -180 to 180 degrees"),
        ("<trkpt lat='-42'/>", "The point has no longitude."),
        (point(time="11 June"), "The time '11 June' is not a time"),
        (point(more="<extensions><accuracy>0</accuracy></extensions>"), "The radius of 0.0 m is not above zero"),
    ],
)
def test_a_faulty_point_is_told_by_line_and_the_others_stay(tmp_path, broken, what):
    points, faults = read_gpx(gpx(tmp_path, track(point(), "\n", broken, point())))

    assert len(points) == 2
    assert len(faults) == 1
    assert whats(faults)[0].startswith(f"line 3, point: {what}")


def test_a_route_is_a_plan_and_no_record(tmp_path):
    _, faults = read_gpx(gpx(tmp_path, '<wpt lat="-42" lon="147"/><rte><rtept lat="-42" lon="147"/></rte>'))

    assert whats(faults) == [": The file holds no track, only marks or a route, which is a plan and no record."]


@pytest.mark.parametrize(
    ("content", "what"),
    [
        (
            '<!DOCTYPE g [<!ENTITY a "aa"><!ENTITY b "&a;&a;">]><gpx version="1.1">&b;</gpx>',
            "document type or entities",
        ),
        ('<!DOCTYPE g SYSTEM "file:///etc/hostname"><gpx version="1.1"/>', "document type or entities"),
        ('<gpx version="1.1">' + "<a>" * 10_000, "nested more than 64 deep"),
        ('<gpx version="2.0"/>', "Its GPX version is '2.0'"),
        ("<kml/>", "It is no GPX: it begins with <kml>"),
        ('<gpx version="1.1"><trk>', "breaks off or is damaged at line 1"),
        ("", "The file is empty"),
    ],
)
def test_what_is_no_track_is_refused_as_a_whole(tmp_path, content, what):
    path = tmp_path / "bad.gpx"
    path.write_text(content)

    points, faults = read_gpx(path)

    assert points == []
    assert len(faults) == 1
    assert what in faults[0].what


# --- fixes of a haul


def trail(count, step_s=1.0, lat=-42.88, lon=147.33):
    return [TrackPoint(lat, lon + at * 1e-5, START + timedelta(seconds=at * step_s), 5.0) for at in range(count)]


def test_points_within_the_haul_become_its_fixes_in_order_of_time():
    points = trail(10, 60)

    fixes = fixes_between(points[::-1], START + timedelta(seconds=120), START + timedelta(seconds=240), 0.68)

    assert [fix.lon for fix in fixes] == [point.lon for point in points[2:5]]
    assert {(fix.radius_m, fix.confidence, fix.source) for fix in fixes} == {(5.0, 0.68, "track")}


@pytest.mark.parametrize(("away_s", "expected"), [(60, 1), (61, 0)])
def test_the_nearest_point_within_a_minute_stands_for_a_haul_without_any(away_s, expected):
    at = START - timedelta(seconds=away_s)

    assert len(fixes_between(trail(3), at, at, 0.68)) == expected


def test_points_without_a_time_are_of_no_use():
    assert fixes_between([TrackPoint(-42.0, 147.0)], START, None, 0.68) == ()


def test_a_long_track_is_thinned_but_keeps_its_swings():
    points = trail(4_000)
    # One excursion of 300 m to the north, three points long, as into a closed creek.
    swing = [TrackPoint(-42.88 + d, points[1_777].lon, points[1_777].at, 5.0) for d in (0.001, 0.0027, 0.001)]
    points[1_776:1_779] = [
        TrackPoint(new.lat, old.lon, old.at, 5.0) for new, old in zip(swing, points[1_776:1_779], strict=True)
    ]

    fixes = fixes_between(points, START, START + timedelta(hours=2), 0.68)

    assert len(fixes) <= MOST_FIXES
    assert (fixes[0].lon, fixes[-1].lon) == (points[0].lon, points[-1].lon)
    # Our own bound, checked with the geometry engine's Hausdorff distance: 1e-5 degrees is about 1 m.
    whole = shapely.LineString([(one.lon, one.lat) for one in points])
    thin = shapely.LineString([(one.lon, one.lat) for one in fixes])
    assert shapely.hausdorff_distance(whole, thin) < 2e-5
    assert max(fix.lat for fix in fixes) == pytest.approx(-42.8773, abs=1e-9)


def test_a_device_that_stood_still_gives_few_fixes():
    points = [TrackPoint(-42.88, 147.33, START + timedelta(seconds=at)) for at in range(500)]

    assert 1 <= len(fixes_between(points, START, START + timedelta(hours=1), 0.68)) <= MOST_FIXES


# --- tracks attached to hauls


def season(**haul):
    start = {"id": "h1", "start": "2027-06-11T21:30", "end": "2027-06-11T21:40", **haul}
    return {"zone": "Australia/Hobart", "trips": [{"id": "t", "hauls": [start]}]}


def haul_of(raw):
    return raw["trips"][0]["hauls"][0]


@pytest.mark.parametrize("file", ["night.json", "night.xlsx", "night-lines.csv"])
def test_a_track_of_the_same_name_gives_a_haul_its_fixes(tmp_path, file):
    gpx(tmp_path, track(point(time="2027-06-11T11:29:00Z"), point(lat=-42.9, time="2027-06-11T11:35:00Z")))
    raw = season()

    assert attach_tracks(raw, tmp_path / file) == []
    assert haul_of(raw)["fixes"] == [{"lat": -42.9, "lon": 147.33, "confidence": 0.68, "source": "track"}]


def test_a_haul_keeps_the_fixes_it_has(tmp_path):
    gpx(tmp_path, track(point()))
    own = [{"lat": -42.0, "lon": 147.0}]
    raw = season(fixes=own, track="night.gpx")

    assert attach_tracks(raw, tmp_path / "night.json") == []
    assert haul_of(raw)["fixes"] is own
    assert "track" not in haul_of(raw)


def test_a_haul_may_name_its_track_and_the_confidence_of_its_radii(tmp_path):
    gpx(tmp_path, track(point(more="<extensions><accuracy>4</accuracy></extensions>")), name="handheld.gpx")
    raw = season(track={"file": "handheld.gpx", "confidence": "50 %"})

    assert attach_tracks(raw, tmp_path / "night.json") == []
    assert haul_of(raw)["fixes"][0]["radius_m"] == 4.0
    assert haul_of(raw)["fixes"][0]["confidence"] == 0.5


@pytest.mark.parametrize(
    "name", ["../night.gpx", "/etc/hostname", "a/b.gpx", "c:night.gpx", "night.txt", 7, {"file": None}]
)
def test_a_track_elsewhere_is_not_opened(tmp_path, name):
    gpx(tmp_path, track(point()))
    raw = season(track=name)

    faults = attach_tracks(raw, tmp_path / "season.json", {"trips[0]: hauls[0]": "row 2"})

    assert [(fault.where, "is not the name of a track" in fault.what) for fault in faults] == [("row 2", True)]
    assert "fixes" not in haul_of(raw)


def test_a_named_track_that_does_not_fit_is_told(tmp_path):
    gpx(tmp_path, track(point(time="2027-06-12T11:29:00Z")))

    faults = attach_tracks(season(track="night.gpx"), tmp_path / "season.json")

    assert whats(faults) == ["trips[0]: hauls[0]: The track 'night.gpx' has no point within the time of this haul."]


def test_a_named_track_that_is_missing_is_told(tmp_path):
    faults = attach_tracks(season(track="night.gpx"), tmp_path / "season.json")

    assert [(fault.file, fault.what) for fault in faults] == [
        ("night.gpx", "The file cannot be opened (No such file or directory).")
    ]


def test_a_track_without_times_is_told(tmp_path):
    gpx(tmp_path, track(point(time="")))

    faults = attach_tracks(season(), tmp_path / "night.json")

    assert whats(faults) == [": The points bear no times, so no haul can be found in it."]


@pytest.mark.parametrize("raw", [None, [], {"trips": 3}, {"trips": [None, {"hauls": {}}, {"hauls": [7]}]}])
def test_a_raw_season_of_any_shape_is_borne(tmp_path, raw):
    assert attach_tracks(raw, tmp_path / "night.json") == []
