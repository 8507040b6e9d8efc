"""What the sample permit's limits on take count, by the permit's words, in plain Python over the rows.

One entry of ``LIMITS`` for each row of the report's table of limits; nothing of the program is used. How a doubtful
name, place or count adds up is the program's documented reading: to the high only, never to the low.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from tests.plain_sample import (
    ACCEPTED,
    AS_OF,
    FATES,
    GAINS,
    LITRES,
    MAY,
    NO,
    PERMIT_FILE,
    RANKS,
    SURE,
    Amount,
    Own,
    Row,
    fit,
    loaded,
    number,
    span,
    taxon_of,
    under,
)

AMENDED = "2027-12-15T00:00"
KEPT, TAKEN, HANDLED = ("kept",), ("kept", "dead"), FATES

# --- limits: what counts in each, by the permit's words


Bounds = tuple[Amount, Amount]
Share = Callable[[Row], Bounds]
NOTHING: Bounds = (0, 0)


def bounds_of(row: Row, fits: int) -> Bounds:
    """Sure names count whole; those that may belong add to the high only."""
    return {NO: NOTHING, MAY: (0, row["high"]), SURE: (row["low"], row["high"])}[fits]


def of(*groups: str, fates: tuple[str, ...] = KEPT) -> Share:
    return lambda row: bounds_of(row, fit(row, *groups) if row["fate"] in fates else NO)


def worded(share: Share, key: str, word: str) -> Share:
    """Narrow to a stage or sex; where it was not recorded it may be."""

    def narrowed(row: Row) -> Bounds:
        low, high = share(row)
        return (low, high) if row[key] == word else (0, 0 if row[key] else high)

    return narrowed


def long(share: Share, measure: str, smallest_mm: int) -> Share:
    """Narrow to animals of a length or more; those not measured may be."""

    def narrowed(row: Row) -> Bounds:
        low, high = share(row)
        values = [value for name, value in row["measured"] if name == measure]
        inside = sum(value >= smallest_mm * 10 for value in values)
        return min(low, inside), max(0, high - (len(values) - inside))

    return narrowed


SCHOOLING = ("Atherinidae", "Galaxias attenuatus", "Retropinna tasmanica")
FLOUNDERS = ("Rhombosolea tapirina", "Ammotretis rostratus")
GOBIES = (
    "Pseudogobius olorum",
    "Favonigobius lateralis",
    "Arenigobius bifrenatus",
    "Favonigobius tamarensis",
    "Tasmanogobius lasti",
)
GHOST_SHRIMPS = ("Callianassa australiensis", "Callianassa arenosa")


def listed() -> tuple[str, ...]:
    """Give every name under another limit on take or a prohibition: "not named in this permit"."""
    permit = loaded(PERMIT_FILE)
    groups = {one["id"]: one["taxa"] for one in permit["groups"]}
    return tuple(
        name
        for one in permit["conditions"]
        if one["kind"] in ("take limit", "prohibited taxon")
        for name in (*one.get("taxa", ()), *groups.get(one.get("group", ""), ()))
    )


LISTED = listed()


def unlisted(row: Row) -> Bounds:
    if RANKS[taxon_of(row)] == "material" or row["fate"] != "kept":
        return NOTHING
    return bounds_of(row, {NO: SURE, MAY: MAY, SURE: NO}[fit(row, *LISTED)])


# --- limits: whose tally, over which time


def year(row: Row) -> str:
    assert "2027-07-01" <= row["day"] <= "2028-06-30"
    return "year"


def day(row: Row) -> str:
    return row["day"]


def month(row: Row) -> str:
    return row["day"][:7]


def trip(row: Row) -> str:
    return row["trip"]


LONG = (year, month)


class Entry(NamedTuple):
    """A row's share in one tally."""

    row: Row
    low: Amount
    high: Amount


@dataclass(frozen=True)
class Tally:
    """One tally of one version of a limit: what stood before the stretch judged, what came in it."""

    limit: Amount
    fewer: bool
    before: Bounds
    here: Bounds
    unit: str = ""
    estimated: Amount = 0

    @property
    def after(self) -> Bounds:
        return self.before[0] + self.here[0], self.before[1] + self.here[1]

    def keeps(self, amount: Amount) -> bool:
        return amount < self.limit if self.fewer else amount <= self.limit

    @property
    def weight(self) -> tuple[int, Fraction]:
        """The gravest comes first (0 met, 1 cannot be told, 2 not met), then the fullest."""
        low, high = self.after
        kept = self.here[1] == 0 or self.keeps(high)
        broken = self.here[0] > 0 and not self.keeps(low)
        return 0 if kept else 2 if broken else 1, Fraction(high) / self.limit

    def texts(self) -> tuple[str, str, str]:
        """Taken, used and left as printed."""
        low, high = self.after
        taken = span(low, high, self.unit)
        if self.estimated:
            taken += f" ({number(self.estimated)} est.)"
        percent = [round(Fraction(100 * amount) / self.limit) for amount in (low, high)]
        # Of animals, fewer than 20 leaves room up to 19; of litres, anything under the limit may still be taken.
        whole = self.limit - 1 if self.fewer and not self.unit else self.limit
        left = span(max(0, whole - high), max(0, whole - low), self.unit)
        if self.fewer and self.unit:
            left = f"under {left}"
        return taken, f"{span(*percent)} %", left


@dataclass(frozen=True)
class Limit:
    """One limit as issued. ``later`` is the amount since the amendment; ``holders`` says in whose tallies a row stands."""

    amount: Amount
    share: Share
    period: Callable[[Row], str] = year
    holders: Callable[[Row], dict[str, int]] = lambda _row: {"": SURE}
    fewer: bool = False
    unit: str = ""
    later: Amount | None = None

    def tallies(self, own: Own) -> Iterator[Tally]:
        for entries, last in self.grouped(own.rows):
            versions = [(self.amount, "", AMENDED), (self.later or self.amount, AMENDED, "9999")]
            for amount, begins, ends in versions:
                before = [entry for entry in entries if entry.row["end"] < begins]
                here = [entry for entry in entries if begins <= entry.row["end"] < ends]
                if last:
                    before += [entry for entry in here if entry.row["day"] != last]
                    here = [entry for entry in here if entry.row["day"] == last]
                if here or (before and not last and self.period in LONG):
                    yield self.tally(amount, before, here)

    def grouped(self, rows: list[Row]) -> Iterator[tuple[list[Entry], str]]:
        """Sort rows into tallies by holder and period; the last day is given for windows of seven days."""
        groups: dict[tuple[str, str], list[Entry]] = {}
        for row in rows:
            low, high = self.share(row)
            for holder, fits in self.holders(row).items() if high else ():
                if fits:
                    entry = Entry(row, low if fits == SURE else 0, high)
                    groups.setdefault((holder, self.period(row)), []).append(entry)
        for entries in groups.values():
            yield entries, ""

    def tally(self, amount: Amount, before: list[Entry], here: list[Entry], known: Amount = 0) -> Tally:
        sums = [(sum(entry.low for entry in part), sum(entry.high for entry in part)) for part in (before, here)]
        estimated = sum(entry.row["best"] for entry in (*before, *here) if entry.row["estimated"] and entry.high)
        return Tally(amount, self.fewer, (known + sums[0][0], known + sums[0][1]), sums[1], self.unit, estimated)


class SevenDays(Limit):
    """For each day with take: that day and the six before it."""

    def grouped(self, rows: list[Row]) -> Iterator[tuple[list[Entry], str]]:
        for entries, _ in super().grouped(rows):
            for last in dict.fromkeys(entry.row["day"] for entry in entries):
                first = (date.fromisoformat(last) - timedelta(days=6)).isoformat()
                yield [entry for entry in entries if first <= entry.row["day"] <= last], last


class Once(Limit):
    """Counts what was taken beyond the first 100: of the row that reaches them, only what lies beyond."""

    def grouped(self, rows: list[Row]) -> Iterator[tuple[list[Entry], str]]:
        taken = 0
        beyond: dict[str, list[Entry]] = {}
        for row in rows:
            low, high = self.share(row)
            assert low == high, "where it cannot be told when the hundred was reached, this needs thought"
            over = max(0, min(high, taken + high - 100))
            taken += high
            if over:
                beyond.setdefault(self.period(row), []).append(Entry(row, over, over))
        for entries in beyond.values():
            yield entries, ""


class Shared(Limit):
    """The latest published total stands before; own rows after it count on top."""

    def tallies(self, own: Own) -> Iterator[Tally]:
        published = sorted(own.plain.published, key=lambda one: one["as_of"])
        assert published[0]["as_of"] <= own.hauls[0]["end"]
        moments = [*(one["as_of"] for one in published), "9999"]
        ((entries, _),) = self.grouped(own.rows)
        for one, until in zip(published, moments[1:], strict=True):
            stretch = [entry for entry in entries if one["as_of"] < entry.row["end"] <= until]
            for begins, ends in (("", AMENDED), (AMENDED, "9999")):
                here = [entry for entry in stretch if begins <= entry.row["end"] < ends]
                before = [entry for entry in stretch if entry.row["end"] < begins]
                if here:
                    yield self.tally(self.amount, before, here, known=one["total"])


class Held(Limit):
    """Held at once: take and births in, everything gone out, judged whenever something came in."""

    def tallies(self, own: Own) -> Iterator[Tally]:
        events = [(row["end"], 0, row["line"], *self.share(row)) for row in own.rows if self.share(row)[1]]
        lines = {event[2] for event in events}
        for one in own.plain.movements:
            assert one["line"], "a gain or loss of no line would need a name of its own"
            if one["line"] in lines and one["at"] <= AS_OF:
                sign = 1 if one["what"] in GAINS else -1
                events.append((one["at"], 1, one["id"], sign * one["low"], sign * one["high"]))
        held: Bounds = NOTHING
        for _, _, _, low, high in sorted(events):
            assert low == high, "the sample's seahorses and pipefishes were all counted and named"
            if high > 0:
                yield Tally(self.amount, self.fewer, held, (low, high))
            held = (held[0] + low, held[1] + high)


def crew(row: Row) -> dict[str, int]:
    return {row["trip"]: SURE}


def credited(row: Row) -> dict[str, int]:
    return {row["person"]: SURE}


def waters(row: Row) -> dict[str, int]:
    return {row["waterbody"]: SURE}


def places(row: Row) -> dict[str, int]:
    return {row["site"]: SURE}


def each_kind(row: Row) -> dict[str, int]:
    """One tally a kind; a row of a doubtful or higher name may be of any kind it covers."""
    name = taxon_of(row)
    if RANKS[name] == "species" and not row["doubt"] and not row["one_of"]:
        return {name: SURE}
    species = {taxon for taxon, rank in RANKS.items() if rank == "species" and fit(row, taxon)}
    kinds = {taxon for taxon in species if not any(under(taxon, ACCEPTED[one]) for one in LISTED)}
    return dict.fromkeys({name, *kinds}, MAY)


def maps_1_and_3(row: Row) -> dict[str, int]:
    """In which of the two areas the row was taken: sure if the whole circle round its fix is inside."""
    ((lat, lon, radius),) = row["fixes"]
    north = radius / 111_000  # metres a degree of latitude, near enough for a few metres
    east = north / math.cos(math.radians(lat))
    turns = [math.radians(angle) for angle in range(0, 360, 15)]
    circle = [(lon + east * math.cos(turn), lat + north * math.sin(turn)) for turn in turns]
    found = {}
    for area in loaded("areas.geojson")["features"]:
        name, shape = area["properties"]["id"], area["geometry"]
        if name in ("inlet", "oar-arm"):
            parts = shape["coordinates"] if shape["type"] == "MultiPolygon" else [shape["coordinates"]]
            rings = [ring for part in parts for ring in part]
            inside = [encloses(rings, spot) for spot in [(lon, lat), *circle]]
            found[name] = SURE if all(inside) else MAY if any(inside) else NO
    return found


def encloses(rings: list[list[list[float]]], spot: tuple[float, float]) -> bool:
    """Count the edges that a line due east from a spot crosses; holes are rings of their own."""
    east, north = spot
    crossed = 0
    for ring in rings:
        for (x, y), (next_x, next_y) in pairwise(ring):
            if (y > north) != (next_y > north):
                crossed += east < x + (north - y) / (next_y - y) * (next_x - x)
    return crossed % 2 == 1


CRATE = LITRES["shell crate"]
HARDYHEAD = of("Atherinosoma microstoma", fates=TAKEN)
SILVERSIDES = of("Atherinidae", fates=TAKEN)
GLASS_SHRIMPS = of("Palaemonidae")
LIMITS: dict[str, Limit] = {
    "2.1/": Limit(120, HARDYHEAD, later=150),
    "2.2/": Limit(200, of("Atherinosoma", fates=TAKEN)),
    "2.3/per day": Limit(60, SILVERSIDES, day),
    "2.3/per permit year": Limit(360, SILVERSIDES),
    "2.4/": SevenDays(150, of(*SCHOOLING, fates=TAKEN), lambda _row: "any"),
    **{f"2.5/{ACCEPTED[goby]}": Limit(30, of(goby)) for goby in GOBIES},
    "2.6/": Limit(20, of(*FLOUNDERS)),
    "2.6/greenback flounder": Limit(8, of("Rhombosolea tapirina")),
    "2.6/150 mm or longer": Limit(3, long(of(*FLOUNDERS), "total length", 150)),
    "2.7/": Limit(60, of("Paragrapsus gaimardii")),
    "2.7/females": Limit(24, worded(of("Paragrapsus gaimardii"), "sex", "female")),
    "2.8/": Limit(12, worded(of("Acanthopagrus butcheri"), "stage", "juvenile")),
    "2.9/": Limit(4, long(of("Sillaginodes punctata"), "total length", 200)),
    "2.10/": Held(45, of("Syngnathidae")),
    "2.11/": Limit(40, of("Katelysia"), holders=places, later=25),
    "2.12/": Limit(50, GLASS_SHRIMPS, day, credited),
    "2.12/whole crew": Limit(120, GLASS_SHRIMPS, day, crew),
    "2.13/": Limit(30, of(*GHOST_SHRIMPS), month, waters),
    "2.14/": Limit(150, of("Mictyris platycheles")),
    "2.15/": Once(5, of("Mictyris platycheles"), trip),
    "2.16/": Limit(20, of("Anguilla australis", fates=HANDLED), fewer=True),
    "2.17/": Shared(500, of("Ostrea angasi")),
    "2.18/": Limit(12, unlisted, holders=each_kind),
    "2.19/per trip": Limit(3 * CRATE, of("shell, clean"), trip, unit="L"),
    "2.19/per permit year": Limit(12 * CRATE, of("shell, clean"), unit="L"),
    "2.20/": Limit(100, of("sand"), fewer=True, unit="L"),
    "2.21/": Limit(30, of("sand"), trip, maps_1_and_3, unit="L"),
    "2.22/": Limit(8000, of("wrack, eelgrass"), unit="g"),
}
