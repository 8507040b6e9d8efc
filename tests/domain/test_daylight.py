"""Sunrise and sunset held to the US Naval Observatory, NREL and skyfield with the DE421 ephemeris."""

import json
from datetime import UTC, date, datetime, timedelta
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
import skyfield_data
from astral import Observer, sun
from hypothesis import given, settings
from hypothesis import strategies as st
from skyfield import almanac
from skyfield.api import load, load_file, wgs84

from api.domain.daylight import MARGIN, Daylight, daylight, sun_at

VECTORS = [
    vector
    for vector in json.loads((Path(__file__).parents[1] / "vectors" / "field.json").read_text("utf-8"))
    if vector["id"].startswith("sun.")
]
GOLDEN = (39.742476, -105.1786)
GOLDEN_ZONE = "America/Denver"
# An invented estuary on the temperate side of the Tasman Sea.
ESTUARY = (-37.6, 149.9)
ESTUARY_ZONE = "Australia/Sydney"


@cache
def sky():
    ephemeris = load_file(str(Path(skyfield_data.__file__).parent / "data" / "de421.bsp"))
    return ephemeris["sun"], ephemeris["earth"], load.timescale(builtin=True)


def skyfield_events(latitude, longitude, local_date, zone, height=-0.8333):
    """Give the first rising and setting of the local date in UTC, None where skyfield flags none."""
    body, earth, timescale = sky()
    observer = earth + wgs84.latlon(latitude, longitude)
    start = datetime(local_date.year, local_date.month, local_date.day, tzinfo=ZoneInfo(zone))
    span = [timescale.from_datetime(start.astimezone(UTC) + timedelta(days=day)) for day in (0, 1)]
    events = []
    for find in (almanac.find_risings, almanac.find_settings):
        times, happens = find(observer, body, *span, horizon_degrees=height)
        events.append(times[0].utc_datetime() if len(times) and happens[0] else None)
    return events


def our_events(found: Daylight, height):
    return [found.civil_dawn, found.civil_dusk] if height < -1 else [found.sunrise, found.sunset]


def seconds_apart(one, other):
    return abs((one - other).total_seconds())


def fixed_zone(offset):
    """Give the IANA name of a fixed offset: "UTC-04:00" is Etc/GMT+4 (the sign is turned round there)."""
    hours = int(offset.removeprefix("UTC").split(":")[0] or 0)
    return f"Etc/GMT{-hours:+d}" if hours else "UTC"


def check_table(i, expected, tolerance):
    zone = fixed_zone(i["utc_offset"])
    day = date.fromisoformat(i["local_date"])
    found = our_events(daylight(i["lat"], i["lon"], day, zone), i["sun_altitude_deg"])
    allowed = int(tolerance.removesuffix(" s"))
    for event, printed in zip(found, (expected["first"], expected["second"]), strict=True):
        table = datetime.fromisoformat(f"{day}T{printed}").replace(tzinfo=ZoneInfo(zone))

        assert seconds_apart(event, table) <= allowed


def check_utc_day(i, expected, tolerance):
    """The sunset printed for the 17th is the 16th's: ours for the 16th is near it, for the 17th is not."""
    day = date.fromisoformat(i["local_date"])
    _, sunset = skyfield_events(i["lat"], i["lon"], day, "Etc/GMT+7")
    begun_second = sunset.astimezone(ZoneInfo("Etc/GMT+7")).strftime("%H:%M:%S")
    ours, next_day = (daylight(i["lat"], i["lon"], day + timedelta(days=step), GOLDEN_ZONE).sunset for step in (0, 1))

    assert tolerance == 0
    assert begun_second == expected
    assert seconds_apart(ours, sunset) < 30
    assert seconds_apart(next_day - timedelta(days=1), sunset) > 60


def check_astral_utc(i, expected, tolerance):
    """The trap exists in astral as installed, and daylight() does not fall into it."""
    assert "without tzinfo, Golden CO 2003-10-17" in i["call"]
    raw = sun.sun(Observer(*GOLDEN), date(2003, 10, 17))
    found = daylight(*GOLDEN, date(2003, 10, 17), GOLDEN_ZONE)

    assert raw["sunset"] < raw["sunrise"], expected
    assert tolerance == 0
    assert found.sunrise < found.sunset


def check_polar(i, expected, tolerance):
    found = daylight(i["lat"], i["lon"], date.fromisoformat(i["local_date"]), "Europe/Oslo")

    assert tolerance == 0
    assert [found.sunrise, found.sunset] == expected
    assert skyfield_events(i["lat"], i["lon"], found.local_date, "Europe/Oslo") == expected
    assert found.state == "never sets"


HANDLERS = {
    "sun.bluffton": check_table,
    "sun.defiance": check_table,
    "sun.golden.": check_table,
    "sun.nrel.": check_table,
    "sun.trap.utcday": check_utc_day,
    "sun.trap.astral_utc": check_astral_utc,
    "sun.polar": check_polar,
}


def test_every_sun_vector_has_one_handler_and_every_handler_a_vector():
    ids = [vector["id"] for vector in VECTORS]

    assert len(ids) == 11
    assert [sum(i.startswith(prefix) for prefix in HANDLERS) for i in ids] == [1] * len(ids)
    assert all(any(i.startswith(prefix) for i in ids) for prefix in HANDLERS)


@pytest.mark.parametrize("vector", VECTORS, ids=lambda vector: vector["id"])
def test_vector(vector):
    handler = next(handler for prefix, handler in HANDLERS.items() if vector["id"].startswith(prefix))

    handler(vector["inputs"], vector["expected"], vector["tolerance"])


@pytest.mark.parametrize(
    ("place", "zone"),
    [
        (ESTUARY, ESTUARY_ZONE),
        ((-36.8, 174.8), "Pacific/Auckland"),
        ((1.87, -157.4), "Pacific/Kiritimati"),
        ((-13.8, -171.8), "Pacific/Apia"),
        ((-44.0, -176.5), "Pacific/Chatham"),
        # The sun rises and sets close to 0 h UTC here, where astral's day wraps.
        ((23.8, 90.4), "Asia/Dhaka"),
        ((41.9, -87.7), "America/Chicago"),
        # One clock for five hours of sun.
        ((39.5, 76.0), "Asia/Shanghai"),
    ],
)
@pytest.mark.parametrize("day", [date(2025, 3, 20), date(2025, 6, 21), date(2025, 10, 5), date(2025, 12, 22)])
def test_agrees_with_skyfield_well_within_the_margin(place, zone, day):
    found = daylight(*place, day, zone)

    for height in (-0.8333, -6.0):
        expected = skyfield_events(*place, day, zone, height)
        for ours, theirs in zip(our_events(found, height), expected, strict=True):
            assert seconds_apart(ours, theirs) < 60 < MARGIN.total_seconds()
            assert ours.utcoffset() == timedelta(0)
            assert ours.astimezone(ZoneInfo(zone)).date() == day


def test_eastern_sunrise_lies_on_the_utc_day_before():
    """The trap on this coast: a summer morning of 2 January begins on 1 January in UTC."""
    found = daylight(*ESTUARY, date(2026, 1, 2), ESTUARY_ZONE)

    assert found.sunrise.date() == date(2026, 1, 1)
    assert found.sunset.date() == date(2026, 1, 2)
    assert timedelta(hours=14) < found.sunset - found.sunrise < timedelta(hours=15)


def test_clock_change_does_not_move_the_sun():
    """5 October 2025, clocks forward at 2 h: wall time jumps an hour, the sun only minutes."""
    before, after = (daylight(*ESTUARY, date(2025, 10, day), ESTUARY_ZONE) for day in (4, 5))

    assert seconds_apart(after.sunrise, before.sunrise + timedelta(days=1)) < 120
    local = [each.sunrise.astimezone(ZoneInfo(ESTUARY_ZONE)).hour for each in (before, after)]
    assert local == [5, 6]


def test_elevation_is_left_out_as_in_almanacs():
    """An observer 1829 m up would see the sun minutes earlier; tables are for elevation 0."""
    high = sun.sunrise(Observer(*GOLDEN, 1829.0), date(2015, 1, 2), tzinfo=ZoneInfo(GOLDEN_ZONE))
    ours = daylight(*GOLDEN, date(2015, 1, 2), GOLDEN_ZONE).sunrise

    assert ours - high > timedelta(minutes=4)


@pytest.mark.parametrize(
    ("latitude", "day", "state", "has_twilight"),
    [
        (69.65, date(2019, 6, 21), "never sets", False),
        (69.65, date(2019, 12, 21), "never rises", True),
        (89.0, date(2019, 12, 21), "never rises", False),
        (69.65, date(2019, 3, 21), "rises and sets", True),
    ],
)
def test_polar_day_and_night_are_told_apart(latitude, day, state, has_twilight):
    found = daylight(latitude, 18.96, day, "Europe/Oslo")

    assert found.state == state
    assert (found.sunrise is not None) == (state == "rises and sets")
    assert (found.civil_dawn is not None) == has_twilight


def test_last_night_before_polar_day_is_not_called_polar_day():
    """Skyfield has the sun down for 46 minutes that night; astral loses both events, the state does not."""
    day = date(2019, 5, 18)
    rise, sets = skyfield_events(69.65, 18.96, day, "Europe/Oslo")
    found = daylight(69.65, 18.96, day, "Europe/Oslo")

    assert rise - sets == pytest.approx(timedelta(minutes=46), abs=timedelta(minutes=1))
    assert (found.sunrise, found.sunset, found.state) == (None, None, "rises and sets")
    assert sun_at(sets + (rise - sets) / 2, 69.65, 18.96) == "down"


def test_twilight_may_last_all_night_where_the_sun_sets():
    found = daylight(62.0, 25.0, date(2025, 6, 21), "Europe/Helsinki")

    assert found.sunset is not None
    assert found.civil_dusk is None


@pytest.mark.parametrize(
    ("minutes", "expected"),
    [
        (-3, "down"),
        (-1.5, "too close to call"),
        (0, "too close to call"),
        (1.5, "too close to call"),
        (3, "up"),
    ],
)
def test_sun_at_keeps_a_margin(minutes, expected):
    """Measured from skyfield's sunrise, not from our own."""
    sunrise, sunset = skyfield_events(*ESTUARY, date(2026, 1, 2), ESTUARY_ZONE)
    mirrored = {"up": "down", "down": "up"}.get(expected, expected)

    assert sun_at(sunrise + timedelta(minutes=minutes), *ESTUARY) == expected
    assert sun_at(sunset + timedelta(minutes=minutes), *ESTUARY) == mirrored


def test_sun_at_knows_polar_day_and_night():
    zone = ZoneInfo("Europe/Oslo")

    assert sun_at(datetime(2019, 6, 21, 0, 0, tzinfo=zone), 69.65, 18.96) == "up"
    assert sun_at(datetime(2019, 12, 21, 12, 0, tzinfo=zone), 69.65, 18.96) == "down"


@settings(max_examples=60, deadline=None)
@given(
    st.floats(-58, 58),
    st.integers(-11, 12),
    st.floats(-7, 7),
    st.dates(date(1990, 1, 1), date(2049, 12, 31)),
)
def test_dawn_rise_set_dusk_come_in_that_order(latitude, hours, off_centre, day):
    """Anywhere between 58 S and 58 N, in the zone nearest to the sun."""
    longitude = max(-180.0, min(180.0, hours * 15 + off_centre))
    found = daylight(latitude, longitude, day, fixed_zone(f"UTC{hours:+03d}:00"))
    events = [e for e in (found.civil_dawn, found.sunrise, found.sunset, found.civil_dusk) if e is not None]

    assert events == sorted(events)
    assert found.sunrise is not None
    assert found.sunset is not None
    middle = found.sunrise + (found.sunset - found.sunrise) / 2
    assert sun_at(middle, latitude, longitude) == "up"
    assert sun_at(middle + timedelta(hours=12), latitude, longitude) == "down"


@pytest.mark.parametrize(
    ("latitude", "longitude", "zone", "word"),
    [
        (149.9, -37.6, ESTUARY_ZONE, "swapped"),
        (float("nan"), 0, ESTUARY_ZONE, "finite"),
        (-37.6, 149.9, "Pacific/Nowhere", "unknown time zone"),
        (-37.6, 149.9, "../etc", "unknown time zone"),
        (-37.6, 149.9, "", "unknown time zone"),
    ],
)
def test_wrong_place_or_zone_is_refused(latitude, longitude, zone, word):
    with pytest.raises(ValueError, match=word):
        daylight(latitude, longitude, date(2026, 1, 2), zone)


def test_date_with_a_time_is_refused():
    with pytest.raises(TypeError, match="without a time"):
        daylight(*ESTUARY, datetime(2026, 1, 2, tzinfo=UTC), ESTUARY_ZONE)


def test_moment_without_offset_and_negative_margin_are_refused():
    with pytest.raises(ValueError, match="no offset"):
        sun_at(datetime(2026, 1, 2, 12), *ESTUARY)  # noqa: DTZ001 - the fault under test
    with pytest.raises(ValueError, match="below zero"):
        sun_at(datetime(2026, 1, 2, 12, tzinfo=UTC), *ESTUARY, timedelta(minutes=-1))
