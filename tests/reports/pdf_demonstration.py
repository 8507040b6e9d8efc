"""A rich invented report for the tests of the PDF writer: every kind of block, odd characters, keyed figures, a long annex."""

from __future__ import annotations

import random
from datetime import UTC, date, datetime, timedelta, timezone

from reports.document import (
    Attachment,
    BulletList,
    Cell,
    Column,
    ContentsList,
    Document,
    Fact,
    Figure,
    Heading,
    KeyValues,
    Note,
    PageBreak,
    Paragraph,
    Row,
    Run,
    SignatureBox,
    Spacer,
    Table,
    Title,
)
from reports.maps import MapArea, MapLine, MapSite, map_frame
from reports.plots import Level, Series, bar_plot, histogram, step_plot

# Species of south-east Australian estuaries; the estuary, people and agency are invented.
TAXA = (
    "Acanthopagrus australis",
    "Ambassis jacksoniensis",
    "Gobiopterus semivestitus",
    "Metapenaeus macleayi",
    "Hippocampus whitei",
    "Pelates sexlineatus",
)
PLACES = ("Tallow Bend", "Quarry Reach", "Pelican Spit", "Lower Wirra Bridge", "Saltpan Creek mouth")
ODD = "Łódź / Ærø / Ἀχελῷος / Осётр / ♂ 12, ♀ 9 / x̄ = 4.2 ± 0.3 µg/L / ≥ 10 °C / 魚 / 🐟 / مرحبا / a\u0000b\u202ec"
SNAPSHOT = b'{"permit":"KF-2026-117","trips":2}'
CSV = b"record,taxon,kept\r\nKF-0001,Acanthopagrus australis,3\r\n"
CREATED = datetime(2027, 3, 1, 9, 30, tzinfo=timezone(timedelta(hours=11)))


def ring(*points: tuple[float, float]) -> tuple[tuple[float, float], ...]:
    return points


def demo_map():
    shore = ring(
        (150.100, -36.700), (150.118, -36.704), (150.131, -36.716), (150.149, -36.719), (150.165, -36.730),
        (150.170, -36.744), (150.186, -36.752), (150.204, -36.751), (150.215, -36.760),
    )  # fmt: skip
    shore = ((150.00, -36.690), *shore, (150.30, -36.80))
    water = MapArea("water", (ring((150.0, -36.6), (150.3, -36.6), (150.3, -36.9), (150.0, -36.9)),))
    land = MapArea("land", (ring(*shore, (150.3, -36.6), (150.0, -36.6)),))
    permitted = MapArea(
        "permitted",
        (ring((150.110, -36.712), (150.150, -36.724), (150.166, -36.748), (150.150, -36.765), (150.112, -36.750)),),
        "Collecting permitted (schedule 2)",
    )
    closed = MapArea(
        "closed",
        (ring((150.140, -36.738), (150.158, -36.741), (150.157, -36.753), (150.141, -36.751)),),
        "Closed: Pelican Spit sanctuary",
    )
    conditional = MapArea(
        "conditional",
        (ring((150.168, -36.756), (150.190, -36.758), (150.188, -36.772), (150.166, -36.770)),),
        "Only with notice",
    )
    sites = [
        MapSite(str(n + 1), at)
        for n, at in enumerate(
            [
                (150.118, -36.722), (150.1185, -36.7223), (150.119, -36.7218), (150.1305, -36.741), (150.134, -36.7415),
                (150.1352, -36.7551), (150.152, -36.7335), (150.1795, -36.7641), (150.1191, -36.7226),
            ]
        )
    ]  # fmt: skip
    return map_frame(
        [water, land, permitted, closed, conditional],
        [MapLine("shore", shore, "Shoreline")],
        sites,
        datum="GDA2020",
        alt="Map of the invented Wirra estuary with nine collecting sites, all outside the closed area at Pelican Spit.",
    )


def demo_plots():
    bars = bar_plot(
        ["A. australis", "A. jacksoniensis", "G. semivestitus", "M. macleayi", "H. whitei"],
        [Series("Encountered", (118, 342, 87, 203, 2)), Series("Kept", (24, 60, 18, 45, 0)), Series("Died", (1, 9, None, 4, 0))],
        y_title="Animals (number)", x_title="Species", italic=True, alt="Bars of animals encountered, kept and died for five species.",
    )  # fmt: skip
    rng = random.Random(20270301)
    day, levels, low, best, high = date(2026, 9, 4), [], 0, 0, 0
    for _ in range(13):
        day += timedelta(days=rng.randint(6, 18))
        more = rng.randint(2, 8)
        low, best, high = low + more - min(1, more), best + more, high + more + 1
        levels.append(Level(day, low, best, high))
    steps = step_plot(
        levels, 100, first=date(2026, 9, 1), last=date(2027, 4, 30), limit_name="Limit 4.1:",
        y_title="Acanthopagrus australis kept (number)", alt="Cumulative take stays under the limit of 100 all season.",
    )  # fmt: skip
    lengths = [rng.gauss(84, 14) for _ in range(240)]
    sizes = histogram(
        lengths, x_title="Total length (mm)", y_title="Animals (number)", bin_width=5, limits=((60, "least size 60 mm"),),
        alt="Total lengths of 240 bream between about 45 and 125 mm, most between 70 and 100 mm.",
    )  # fmt: skip
    return bars, steps, sizes


def limit_rows() -> tuple[Row, ...]:
    rows = [Row((Cell("Fishes, kept alive"),), "group")]
    for number, (taxon, allowed, taken) in enumerate([(TAXA[0], 100, 64), (TAXA[1], 400, 342), (TAXA[2], 60, 18)], 1):
        key = f"limits/4.{number}/taken"
        rows.append(
            Row(
                (
                    Cell(f"4.{number}"), Cell(taxon, italic=True), Cell("retained, per permit year"), Cell(str(allowed)),
                    Cell(str(taken), figure=key, link=f"rows/{number}"), Cell(f"{100 * taken // allowed} %"),
                    Cell(str(allowed - taken)), Cell("met", mark="met"),
                )
            )
        )  # fmt: skip
    rows.append(
        Row(
            (
                Cell(),
                Cell("All fishes"),
                Cell("retained"),
                Cell("500"),
                Cell("424", figure="limits/4/taken"),
                Cell("84 %"),
                Cell("76"),
                Cell("met", mark="met"),
            ),
            "subtotal",
        )
    )
    rows.append(Row((Cell("Animals that may not be taken"),), "group"))
    rows.append(
        Row(
            (
                Cell("6.2"),
                Cell("Hippocampus whitei", italic=True),
                Cell("encountered; release at once and report within 24 h"),
                Cell("0"),
                Cell("2", figure="limits/6.2/taken", link="rows/5"),
                Cell("\N{EN DASH}"),
                Cell("0"),
                Cell("not met", mark="broken"),
            )
        )
    )
    rows.append(
        Row(
            (
                Cell("7.1"),
                Cell("Metapenaeus macleayi", italic=True),
                Cell("retained, estimate by volume"),
                Cell("60"),
                Cell("45 (38\N{EN DASH}52)", figure="limits/7.1/taken"),
                Cell("75 %"),
                Cell("15"),
                Cell("cannot tell", mark="unknown"),
            )
        )
    )
    rows.append(
        Row(
            (
                Cell(),
                Cell("All animals"),
                Cell(),
                Cell("560"),
                Cell("471", figure="limits/all/taken", bold=True),
                Cell("84 %"),
                Cell("89"),
                Cell(),
            ),
            "total",
        )
    )
    return tuple(rows)


def record_rows(count: int) -> tuple[Row, ...]:
    rng = random.Random(117)
    rows = []
    for number in range(1, count + 1):
        remark = (
            ""
            if number % 9
            else "Released at once after photographs; slight scale loss on the left flank, swam off strongly."
        )
        rows.append(
            Row(
                (
                    Cell(f"KF-{number:04d}"), Cell(f"{rng.randint(1, 28):02d} {rng.choice(('Oct', 'Nov', 'Dec'))} 2026"),
                    Cell(rng.choice(PLACES)), Cell(rng.choice(TAXA), italic=True), Cell(str(rng.randint(1, 60))),
                    Cell(str(rng.randint(0, 9))), Cell(rng.choice(("counted", "counted", "estimated"))), Cell(remark),
                ),
                anchor=f"rows/{number}" if number < 40 else None,
            )
        )  # fmt: skip
    return tuple(rows)


RECORD_COLUMNS = (
    Column("Record", 1.1, kind="heading"),
    Column("Date", 1.2),
    Column("Place", 1.7),
    Column("Taxon", 2.1),
    Column("Encountered", 0.8, kind="number"),
    Column("Kept", 0.6, kind="number"),
    Column("How known", 1.0),
    Column("Remark", 2.6),
)


def front_blocks():
    return (
        Title(
            "Season report on collecting under permit KF-2026-117",
            (
                "Wirra Estuary Aquarium, 4 Quay Street, Tallow Bend",
                "Period 1 September 2026 to 30 April 2027. Original report.",
            ),
        ),
        Heading(1, "Summary", "summary"),
        Paragraph(
            (
                Run("On 14 trips and 52 hauls, "), Run("752", figure="summary/encountered"),
                Run(" animals were met and "), Run("471", bold=True, figure="summary/kept", link="table/limits"),
                Run(" of them kept. All limits on numbers kept were respected. Two "), Run("Hippocampus whitei", italic=True),
                Run(" were met where none may be taken; both were released at once, and the agency was told the same day (see "),
                Run("Departures from conditions", link="departures"), Run(")."),
            )
        ),
        Note("met", "Eleven of twelve conditions were met; each is listed in section 2."),
        Note("broken", (Run("Condition 6.2: two "), Run("Hippocampus whitei", italic=True), Run(" in haul 17, 12 November 2026."))),
        Note("open", "One finding is still open: the salinity meter's calibration on 3 December 2026 is not yet confirmed by the "
            "laboratory that keeps the certificate."),
        Note("caution", "Forty-five prawns were estimated by volume; every total that rests on them is printed with its "
            "lowest and highest reading."),
        Note("unknown", "For one haul the position is not accurate enough to tell on which side of the boundary the net was set."),
        KeyValues(
            (
                Fact("Permit holder", "Wirra Estuary Aquarium"),
                Fact("Responsible official", "Dr Ingrid Østergård-Nguyễn"),
                Fact("Animals kept", "471", figure="summary/kept", link="table/limits"),
                Fact("Alive on 30 April 2027", (Run("438", figure="fate/alive"), Run(" of 471"))),
                Fact("Odd characters", ODD),
            )
        ),
        ContentsList(),
    )  # fmt: skip


def body_blocks():
    bars, steps, sizes = demo_plots()
    return (
        PageBreak(),
        Heading(1, "Authorised and taken", "limits"),
        Paragraph("Each line follows the permit's own order. The figure taken leads to the records behind it."),
        Table(
            "Table 1. Authorised and taken, by condition",
            (
                Column("Cond.", 0.7, kind="heading"), Column("Taxon", 2.4), Column("Basis", 2.4), Column("Authorised", 1.1, kind="number"),
                Column("Taken", 1.1, kind="number"), Column("Used", 0.8, kind="number"), Column("Left", 0.8, kind="number"),
                Column("Finding", 1.3),
            ),
            limit_rows(), "table/limits", "Figures in brackets are the lowest and highest reading of an estimate.",
        ),
        Figure(steps, "Figure 1. Running total of Acanthopagrus australis kept, with the range of the estimates, against condition 4.1."),
        Figure(bars, (Run("Figure 2. Animals encountered, kept and died, by species. n/r: not recorded."),)),
        Heading(2, "Sizes"),
        Paragraph("Total length was measured on the first twenty animals of each haul."),
        Figure(sizes, "Figure 3. Total lengths of Acanthopagrus australis kept."),
        Heading(1, "Where and when", "places"),
        Figure(demo_map(), "Figure 4. Collecting sites with permitted and closed areas."),
        Table("Table 2. Animals of other lists", (Column("Taxon"), Column("Number", kind="number")), ()),
        Heading(1, "Departures from conditions", "departures"),
        Heading(3, "Haul 17, 12 November 2026"),
        Paragraph(
            "The net was set in open water forty metres from the edge of the sanctuary. Two seahorses were held to "
            "the net by weed. Both were "
            "released within three minutes, before the rest of the haul was sorted. The duty officer was told by telephone "
            "at 14:20 and confirmed the "
            "message at 14:31.\nSince then the crew looks through weed in the water before the net is lifted."
        ),
        BulletList(
            (
                "Animals that must go back first are called out before counting starts.",
                (Run("The guide to "), Run("Syngnathidae", italic=True), Run(" is kept in the boat; see "), Run("the agency's page", link="https://agency.example/seahorses"), Run(".")),  # noqa: E501
                "Weed is returned to where it was lifted.",
            )
        ),
        BulletList(("First the date.", "Then the place.", "Then the count."), ordered=True),
        Heading(1, "Certification"),
        Paragraph("I certify that the statements in this report are true and complete to the best of my knowledge."),
        SignatureBox(("Name", "Title", "Signature", "Date"), (("Name", "Dr Ingrid Østergård-Nguyễn"),)),
        Spacer(10),
    )  # fmt: skip


def annex_blocks(records: int):
    return (
        PageBreak(landscape=True),
        Heading(1, "Annex A. Records", "annex"),
        Paragraph("All records of the season in order of entry.", small=True),
        Table("Table A1. Records", RECORD_COLUMNS, record_rows(records)),
    )


def demonstration(records: int = 600) -> Document:
    """The whole report, dated to the fixed moment CREATED."""
    return Document(
        title="Season report on collecting under permit KF-2026-117",
        language="en-AU",
        subject="Collecting from 1 September 2026 to 30 April 2027",
        author="Wirra Estuary Aquarium",
        created=CREATED,
        running_head="Permit KF-2026-117",
        footer_lines=(f"Snapshot SHA-256 {'4b1e9f0c' * 8}", "Original report, made 1 March 2027"),
        blocks=(*front_blocks(), *body_blocks(), *annex_blocks(records)),
        attachments=(
            Attachment("snapshot.json", SNAPSHOT, "application/json", "Source", "The frozen snapshot"),
            Attachment("records.csv", CSV, "text/csv", "Data", "Table A1 as data"),
        ),
    )


def small(*blocks, **changes) -> Document:
    """A document of the given blocks with all else fixed."""
    facts = {
        "title": "Small", "language": "en", "subject": "Test", "author": "Tester", "created": datetime(2027, 1, 2, 3, 4, 5, tzinfo=UTC),
        "running_head": "Permit T-1", "footer_lines": ("Snapshot SHA-256 00",), "blocks": blocks,
    } | changes  # fmt: skip
    return Document(**facts)
