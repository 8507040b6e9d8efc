"""Maps and plots as drawings: true to scale, every label kept apart, nothing told by colour alone."""

from __future__ import annotations

import itertools
import math
from datetime import date

import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given, settings
from hypothesis import strategies as st

from reports.axes import Scale, nice_step, tick_text, ticks
from reports.document import Figure
from reports.drawing import Circle, Clip, Drawing, Hatch, Line, Marker, Polygon, Polyline, Stroke, Text, box, texts_of
from reports.labels import overlap, place_labels
from reports.maps import MapArea, MapError, MapSite, Projection, map_frame, metres_per_degree, scale_bar
from reports.pdf import write_pdf
from reports.pdf_text import lines_of
from reports.plots import Level, PlotError, Series, bar_plot, histogram, step_plot
from tests.reports.pdf_demonstration import demo_map, small


def flat(items):
    for item in items:
        if isinstance(item, Clip):
            yield from flat(item.items)
        else:
            yield item


@pytest.mark.parametrize("latitude", [-85, -43.1, -36.75, 0, 12.5, 60])
def test_metres_in_a_degree_agree_with_geographiclib(latitude):
    """Reference: GeographicLib's geodesics (C. F. F. Karney) on WGS 84, over a hundredth of a degree."""
    east, north = metres_per_degree(latitude)
    step = 0.01
    across = Geodesic.WGS84.Inverse(latitude, 150 - step / 2, latitude, 150 + step / 2)["s12"] / step
    along = Geodesic.WGS84.Inverse(latitude - step / 2, 150, latitude + step / 2, 150)["s12"] / step
    assert east == pytest.approx(across, rel=1e-7)
    assert north == pytest.approx(along, rel=1e-7)


@settings(max_examples=200, deadline=None)
@given(st.floats(-45, 45), st.floats(-180, 180), *(st.floats(-0.12, 0.12) for _ in range(4)))
def test_distances_on_the_map_are_true_within_half_a_percent(lat, lon, x0, y0, x1, y1):
    if math.hypot(x1 - x0, y1 - y0) < 0.01:
        return
    projection = Projection((lon, lat), (0, 0), 1.0)
    one, other = (lon + x0, lat + y0), (lon + x1, lat + y1)
    seen = math.dist(projection.at(one), projection.at(other))
    assert seen == pytest.approx(Geodesic.WGS84.Inverse(one[1], one[0], other[1], other[0])["s12"], rel=5e-3)


def test_scale_bar_of_the_map_has_the_length_it_names():
    drawing = demo_map()
    flat_items = list(flat(drawing.items))
    assert {"0", "1", "2 km"} <= set(texts_of(drawing.items))
    blocks = [
        item
        for item in flat_items
        if isinstance(item, Polygon)
        and item.fill in {(0, 0, 0), (1, 1, 1)}
        and item.rings[0][2][1] - item.rings[0][0][1] == pytest.approx(3.6)
    ]
    length = max(p[0] for b in blocks for p in b.rings[0]) - min(p[0] for b in blocks for p in b.rings[0])
    # two grid lines 0.02 degrees of longitude apart give the scale of the drawing independently
    upright = sorted(
        {
            item.start[0]
            for item in flat_items
            if isinstance(item, Line) and item.start[0] == item.end[0] and abs(item.end[1] - item.start[1]) > 50
        }
    )
    east = Geodesic.WGS84.Inverse(-36.742, 150.10, -36.742, 150.12)["s12"]
    assert length == pytest.approx(2000 * (upright[1] - upright[0]) / east, rel=1e-3)


@given(st.floats(1e-5, 10), st.floats(20, 300))
def test_scale_bar_is_round_and_fits(scale, room):
    length, words = scale_bar(scale, room)
    assert length * scale <= room * (1 + 1e-9)
    assert length * scale >= room / 2.5 * (1 - 1e-9)
    assert float(f"{length:.0e}") == pytest.approx(length)
    assert words.endswith((" m", " km"))


def test_map_has_its_furniture_and_tells_areas_apart_without_colour():
    drawing = demo_map()
    texts = texts_of(drawing.items)
    assert "N" in texts
    assert "Datum GDA2020. Local equirectangular projection, north up." in texts
    assert {"150.10\N{DEGREE SIGN} E", "150.12\N{DEGREE SIGN} E"} <= set(texts)
    assert sum(text.endswith("\N{DEGREE SIGN} S") for text in texts) >= 2
    assert {
        "Closed: Pelican Spit sanctuary",
        "Collecting permitted (schedule 2)",
        "Only with notice",
        "Shoreline",
    } <= set(texts)
    looks = {
        (item.hatch.angles, item.stroke.dash)
        for item in flat(drawing.items)
        if isinstance(item, Polygon) and item.hatch
    }
    assert len(looks) == 3
    assert {str(number) for number in range(1, 10)} <= set(texts)


def test_map_across_the_180th_meridian_stays_small():
    drawing = map_frame(
        [], [], [MapSite("1", (179.99, -40.0)), MapSite("2", (-179.99, -40.0))], datum="WGS 84", alt="Two sites."
    )
    markers = [item for item in flat(drawing.items) if isinstance(item, Marker)]
    assert markers[0].at[0] < markers[1].at[0]
    assert any(text in {"1 km", "500 m", "2 km"} for text in texts_of(drawing.items))


def test_a_map_of_nothing_or_nowhere_is_refused():
    with pytest.raises(MapError, match="nothing to show"):
        map_frame([], [], [], datum="WGS 84", alt="")
    for place in ((150.0, 95.0), (math.nan, 0.0)):
        with pytest.raises(MapError, match="no place"):
            map_frame([MapArea("closed", ((place, place, place),))], [], [], datum="WGS 84", alt="")


@settings(max_examples=80, deadline=None)
@given(st.lists(st.tuples(st.floats(40, 360), st.floats(40, 260)), min_size=1, max_size=25))
def test_labels_do_not_cover_one_another(spots):
    frame = (0, 0, 400, 300)
    labels = place_labels(spots, [str(n + 1) for n in range(len(spots))], 7.5, frame)
    assert [label.text for label in labels] == [str(n + 1) for n in range(len(spots))]
    for one, other in itertools.combinations(labels, 2):
        assert overlap(one.box, other.box) == 0
    for label in labels:
        assert frame[0] <= label.box[0] < label.box[2] <= frame[2]


@given(st.floats(1e-6, 1e9), st.integers(1, 12))
def test_steps_are_round_and_few(span, count):
    step = nice_step(span, count)
    lead = step / 10 ** math.floor(math.log10(step) + 1e-9)
    assert min(abs(lead - digit) for digit in (1, 2, 5)) < 1e-6
    assert count / 2.5 * (1 - 1e-6) <= span / step <= count * (1 + 1e-6)


def test_tick_values_are_written_with_their_decimals():
    assert [tick_text(value, 0.05) for value in ticks(0.1, 0.22, 0.05)] == ["0.10", "0.15", "0.20"]
    assert tick_text(-20, 10) == "\N{MINUS SIGN}20"
    assert Scale(0, 10, 100, 200).at(2.5) == 125


def heights(drawing: Drawing) -> list[float]:
    return [item.rings[0][2][1] - item.rings[0][0][1] for item in flat(drawing.items) if isinstance(item, Polygon)]


def test_bars_stand_as_high_as_their_values():
    drawing = bar_plot(["a", "b"], [Series("n", (10.0, 25.0))], y_title="Animals", x_title="", alt="Bars.")
    low, high = heights(drawing)
    assert high / low == pytest.approx(2.5)
    assert {"10", "25"} <= set(texts_of(drawing.items))


def test_not_recorded_is_not_drawn_as_zero():
    drawing = bar_plot(["a", "b"], [Series("n", (None, 5.0))], y_title="Animals", x_title="", alt="Bars.")
    assert "n/r" in texts_of(drawing.items)
    assert len(heights(drawing)) == 1


def test_histogram_counts_every_value_once_and_an_edge_value_above():
    drawing = histogram([10, 14.9, 15, 19, 20, 31], x_title="mm", y_title="n", alt="Sizes.", bin_width=5)
    unit = min(heights(drawing))
    assert [round(height / unit) for height in heights(drawing)] == [2, 2, 1, 1]
    assert "n = 6" in texts_of(drawing.items)


def test_step_plot_draws_limit_band_and_last_total():
    levels = [Level(date(2026, 10, 1), 3, 4, 6), Level(date(2026, 11, 1), 8, 10, 14)]
    drawing = step_plot(levels, 20, first=date(2026, 9, 1), last=date(2027, 2, 1), y_title="kept", alt="Take.")
    texts = texts_of(drawing.items)
    assert "Limit 20" in texts
    assert "10 (8\N{EN DASH}14)" in texts
    line, bound = [item for item in drawing.items if isinstance(item, Polyline)]
    assert (line.stroke.dash, bound.stroke.dash) == ((), (5.0, 2.5))
    assert len({y for _, y in bound.points}) == 1
    zero, half, top = line.points[0][1], line.points[2][1], line.points[-1][1]
    assert (top - zero) / (half - zero) == pytest.approx(10 / 4)


def test_step_plot_draws_a_limit_that_was_changed_on_the_way():
    levels = [Level(date(2026, 10, 1), 10, 10, 10)]
    limits = [(date(2026, 9, 1), 40.0), (date(2026, 12, 1), 20.0)]
    drawing = step_plot(levels, limits, first=date(2026, 9, 1), last=date(2027, 2, 1), y_title="kept", alt="Take.")
    assert {"Limit 40", "Limit 20"} <= set(texts_of(drawing.items))
    _, bound = [item for item in drawing.items if isinstance(item, Polyline)]
    zero = min(y for item in drawing.items if isinstance(item, Polyline) for _, y in item.points)
    heights_drawn = sorted({round(y - zero, 6) for _, y in bound.points})
    assert heights_drawn[1] / heights_drawn[0] == pytest.approx(2)


@pytest.mark.parametrize(
    ("levels", "message"),
    [
        ([Level(date(2026, 10, 2), 1, 1, 1), Level(date(2026, 10, 1), 2, 2, 2)], "in order of days"),
        ([Level(date(2025, 1, 1), 1, 1, 1)], "inside the season"),
        ([Level(date(2026, 10, 1), 3, 2, 4)], "low <= best <= high"),
    ],
)
def test_step_plot_refuses_what_is_no_running_total(levels, message):
    with pytest.raises(PlotError, match=message):
        step_plot(levels, 20, first=date(2026, 9, 1), last=date(2027, 2, 1), y_title="kept", alt="")


def test_plots_refuse_nothing_and_infinity():
    with pytest.raises(PlotError, match="no values"):
        histogram([], x_title="mm", y_title="n", alt="")
    with pytest.raises(PlotError, match="not a finite number"):
        histogram([1, math.inf], x_title="mm", y_title="n", alt="")
    with pytest.raises(PlotError, match="below zero"):
        bar_plot(["a"], [Series("n", (-1.0,))], y_title="n", x_title="", alt="")


def test_every_primitive_is_painted():
    drawing = Drawing(
        200, 100,
        (
            Line((0, 0), (10, 10)), Polyline(((0, 0), (5, 9), (9, 3))), Circle((50, 50), 10, fill=(1, 1, 1)),
            Polygon((box(60, 10, 90, 40), box(70, 20, 80, 30)), Stroke(1, dash=(2, 1)), (0.9, 0.9, 0.9), Hatch((45.0,))),
            *(Marker((100 + 10 * n, 50), shape) for n, shape in enumerate(("circle", "square", "triangle", "cross", "diamond"))),
            Clip((0, 0, 50, 50), (Text((10, 80), "inside", 7, halo=True),)), Text((150, 20), "turned", rotation=90, anchor="middle"),
        ),
        "All shapes.",
    )  # fmt: skip
    lines = " ".join(lines_of(write_pdf(small(Figure(drawing, "Shapes"))), 0))
    assert "turned" in lines
    assert "Shapes" in lines
