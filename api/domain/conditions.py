"""The kinds of condition, each as plain data with the words as issued.

A condition holds what the user typed from the page: amounts, lengths and times stay in the words and
the unit printed first, as text, and are read exactly when judged. What each kind *means* is told here,
field by field; how it is judged is in ``rules/``, one file a kind. Faulty text raises ValueError.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Literal

from api.domain.calendar import DateRange, parse_day
from api.domain.measures import parse_quantity
from api.domain.vocabulary import Basis, Fate, Gone, Holder, Operator, Period, Role


def _read_number(text: str, what: str) -> Fraction:
    try:
        value = Fraction(text.strip())
    except (ValueError, ZeroDivisionError):
        raise ValueError(f"{what} needs a number such as 12 or 2.5, got '{text}'") from None
    if value < 0:
        raise ValueError(f"{what} cannot be below 0, got '{text}'")
    return value


def _read_length(text: str, what: str) -> None:
    if parse_quantity(text).dimension != "length":
        raise ValueError(f"{what} needs a length with its unit such as '3 1/2 in' or '90 mm', got '{text}'")


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeClass:
    """Animals whose named measure lies between two bounds; either may be missing.

    A bound itself belongs to the class unless ``smallest_included`` or ``largest_included`` says no
    ("over 30 in").
    """

    measure: str
    smallest: str = ""
    largest: str = ""
    variant: str = ""
    smallest_included: bool = True
    largest_included: bool = True

    def __post_init__(self) -> None:
        if not (self.smallest or self.largest):
            raise ValueError("a size class needs a smallest or a largest measure, or both")
        for text in (self.smallest, self.largest):
            if text:
                _read_length(text, f"the size class by {self.measure}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Only:
    """Narrows a condition; every list that is given must fit, an empty one narrows nothing.

    ``taxa`` and ``stages``/``sexes``/``size`` speak of catch lines (for a condition on hauls: hauls that
    kept such animals), ``gear``, ``areas``, ``waters``, ``sites`` of the haul, ``persons`` of who is
    credited, ``dates`` of the local day of capture. What is not recorded *may* fit.
    """

    taxa: tuple[str, ...] = ()
    stages: tuple[str, ...] = ()
    sexes: tuple[str, ...] = ()
    size: SizeClass | None = None
    gear: tuple[str, ...] = ()
    areas: tuple[str, ...] = ()
    waters: tuple[str, ...] = ()
    sites: tuple[str, ...] = ()
    persons: tuple[str, ...] = ()
    dates: tuple[DateRange, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """What every kind has: the clause number, the words as issued, the page, and what narrows it."""

    number: str
    text: str
    page: str = ""
    only: Only = Only()


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """One amount over one period.

    ``amount`` is "40" (individuals), a quantity ("5 lb", "2 gallon"), or a number of the named
    ``container``. ``times`` multiplies it (a number per acre, times the acres the user entered). It holds
    for animals ("individuals") unless the amount bears a unit of mass or volume. ``days`` is the length
    of "rolling days"; ``dates`` the season of "season"; ``years`` > 1 makes a yearly amount an average
    over that many years running, counted from the authority's first day, so that the sum over them may
    reach ``amount`` x ``years``.
    """

    amount: str
    period: Period
    operator: Operator = "at most"
    container: str = ""
    times: str = ""
    days: int = 0
    dates: DateRange | None = None
    years: int = 1

    def __post_init__(self) -> None:
        if self.container:
            _read_number(self.amount, f"the number of '{self.container}'")
        elif parse_quantity(self.amount).dimension not in ("count", "mass", "volume"):
            raise ValueError(
                f"an amount is a number of animals, a weight or a volume, got '{self.amount}'; "
                "write '40', '5 lb' or '2 gallon'"
            )
        if self.times:
            _read_number(self.times, "the multiplier")
        if (self.period == "rolling days") != (self.days > 0):
            raise ValueError("'days' goes with the period 'rolling days' and is at least 1")
        if (self.period == "season") != (self.dates is not None):
            raise ValueError("'dates' goes with the period 'season' and says when it runs")
        if self.years < 1 or (self.years > 1 and self.period not in ("calendar year", "permit year")):
            raise ValueError("'years' is at least 1 and averages a calendar year or a permit year")


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A part inside a whole ("20, of which 12 gapers"): narrower, under the whole's own period and holder."""

    label: str
    amount: str
    operator: Operator = "at most"
    taxa: tuple[str, ...] = ()
    stages: tuple[str, ...] = ()
    sexes: tuple[str, ...] = ()
    size: SizeClass | None = None

    def __post_init__(self) -> None:
        parse_quantity(self.amount)


@dataclass(frozen=True, slots=True, kw_only=True)
class Trigger:
    """A limit that begins only once a running total over a period has been reached ("after 3,000 lb")."""

    amount: str
    period: Literal["calendar year", "permit year", "term"]

    def __post_init__(self) -> None:
        parse_quantity(self.amount)


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeLimit(Condition):
    """How much may be taken.

    Of what: ``taxa`` (names at any rank, each covering all below it), a ``group`` of the authority, or
    ``unlisted`` (every taxon that no other take limit or prohibition of this authority names). All
    together, or with ``each`` every named taxon by itself (for ``unlisted``: every recorded name).
    ``counts`` says what counts as take, ``holder`` whose tally it is. ``limits`` may hold several, for
    "10 a day and 100 a year"; ``parts`` stand inside the first. ``crew_cap`` bounds what all persons of
    one trip take together over the first limit's period. ``in_common_with`` names authorities whose take
    counts here too. ``after`` starts the limit only once a total has been reached: only what was caught
    beyond it counts.
    """

    kind: Literal["take limit"] = "take limit"
    taxa: tuple[str, ...] = ()
    group: str = ""
    unlisted: bool = False
    each: bool = False
    counts: Basis = "kept"
    holder: Holder = "permit"
    limits: tuple[Bound, ...] = ()
    parts: tuple[Part, ...] = ()
    crew_cap: str = ""
    in_common_with: tuple[str, ...] = ()
    after: Trigger | None = None

    def __post_init__(self) -> None:
        named = bool(self.taxa) + bool(self.group) + self.unlisted
        if named != 1:
            raise ValueError("a take limit names its animals in one way: 'taxa', 'group' or 'unlisted'")
        if not self.limits:
            raise ValueError(
                "a take limit needs at least one entry in 'limits'; where the permit gives words only "
                "('no more than necessary') use the kind 'attested'"
            )
        if self.after is not None and self.unlisted and self.each:
            raise ValueError("'after' needs animals that are named: list them in 'taxa' or a 'group'")
        if self.crew_cap:
            if self.holder != "person":
                raise ValueError("'crew_cap' goes with the holder 'person'")
            parse_quantity(self.crew_cap)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareLimit(Condition):
    """A part of what was handled: at most ``percent`` of the animals with one of ``part_fates``.

    ``part_taxa`` narrows the part ("bycatch of ..."), ``taxa`` the whole; both empty: all animals.
    ``by`` weight needs weights. Judged per ``per``; below ``smallest_sample`` individuals handled
    it is not judged.
    """

    kind: Literal["share limit"] = "share limit"
    percent: str
    operator: Operator = "at most"
    taxa: tuple[str, ...] = ()
    part_taxa: tuple[str, ...] = ()
    part_fates: tuple[Fate, ...] = ("dead",)
    whole_fates: tuple[Fate, ...] = ("kept", "released", "dead", "lost")
    by: Literal["number", "weight"] = "number"
    per: Literal["haul", "trip", "site", "day", "term"] = "trip"
    smallest_sample: int = 1

    def __post_init__(self) -> None:
        if _read_number(self.percent, "the share") > 100:
            raise ValueError(f"a share is between 0 and 100 percent, got '{self.percent}'")
        if not set(self.part_fates) <= set(self.whole_fates):
            raise ValueError("the fates of the part must be among those of the whole")


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeRule:
    """One way of telling an animal's size: a named measure (or weight) with a smallest, largest or both.

    ``smallest_operator`` "at least" lets an animal exactly at the limit pass, "more than" does not;
    likewise "at most" and "less than". ``inside`` False turns the two around: what lies between them
    (by the same operators) is what must not be kept (a protected slot).
    """

    measure: str
    variant: str = ""
    smallest: str = ""
    largest: str = ""
    smallest_operator: Literal["at least", "more than"] = "at least"
    largest_operator: Literal["at most", "less than"] = "at most"
    inside: bool = True

    def __post_init__(self) -> None:
        wanted = "mass" if self.measure == "weight" else "length"
        if not (self.smallest or self.largest):
            raise ValueError("a size rule needs 'smallest' or 'largest', or both")
        for text in (self.smallest, self.largest):
            if text and parse_quantity(text).dimension != wanted:
                raise ValueError(f"a {self.measure} is a {wanted}, got '{text}'")


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeLimit(Condition):
    """How large what is kept (or handled) must be; any one of ``rules`` satisfied suffices.

    ``tolerated`` animals outside the size are allowed per ``per`` (haul, trip, day). A sub-sample judges
    what was measured and says how many were not; with ``measure_all`` an unmeasured animal leaves the
    answer open. Nothing measured is always open.
    """

    kind: Literal["size limit"] = "size limit"
    taxa: tuple[str, ...]
    rules: tuple[SizeRule, ...]
    counts: Basis = "kept"
    tolerated: int = 0
    per: Literal["haul", "trip", "day"] = "trip"
    measure_all: bool = False

    def __post_init__(self) -> None:
        if not self.taxa or not self.rules:
            raise ValueError("a size limit needs 'taxa' and at least one entry in 'rules'")


@dataclass(frozen=True, slots=True, kw_only=True)
class StageRule(Condition):
    """Stages or sexes that must not be kept (or handled): egg-bearing females, juveniles, eggs.

    A line breaks it whose recorded stage is one of ``stages`` (when given) and sex one of ``sexes`` (when
    given). ``when_not_recorded`` "may be" leaves such a line open; "is not" is for crews that always
    write the stage down when they see it.
    """

    kind: Literal["stage and sex"] = "stage and sex"
    taxa: tuple[str, ...]
    stages: tuple[str, ...] = ()
    sexes: tuple[str, ...] = ()
    counts: Basis = "kept"
    when_not_recorded: Literal["may be", "is not"] = "may be"

    def __post_init__(self) -> None:
        if not self.taxa or not (self.stages or self.sexes):
            raise ValueError("this condition needs 'taxa' and at least one of 'stages' and 'sexes'")


@dataclass(frozen=True, slots=True, kw_only=True)
class Prohibited(Condition):
    """Taxa not to be kept (or not to be handled at all).

    ``unlisted`` prohibits every taxon that no other condition of this authority names ("not listed means
    none"). With ``report_within_hours`` every encounter, whatever its fate, must have been told to
    ``report_to`` within so many hours of the capture.
    """

    kind: Literal["prohibited taxon"] = "prohibited taxon"
    taxa: tuple[str, ...] = ()
    group: str = ""
    unlisted: bool = False
    counts: Basis = "kept"
    report_within_hours: int = 0
    report_to: str = ""

    def __post_init__(self) -> None:
        if bool(self.taxa) + bool(self.group) + self.unlisted != 1:
            raise ValueError("a prohibition names its animals in one way: 'taxa', 'group' or 'unlisted'")
        if bool(self.report_within_hours) != bool(self.report_to):
            raise ValueError("'report_within_hours' and 'report_to' go together")


@dataclass(frozen=True, slots=True, kw_only=True)
class GearAllowed:
    """One permitted kind of gear and its bounds; "" or 0 where the permit sets none.

    Lengths as text with their unit. ``together`` is the number that may be in use at once, ``soak_hours``
    the longest set, ``check_hours`` the longest gap between two looks, ``marked`` asks for the marking.
    """

    gear: str
    length_max: str = ""
    mesh_min: str = ""
    mesh_max: str = ""
    opening_max: str = ""
    together: int = 0
    soak_hours: str = ""
    check_hours: str = ""
    marked: bool = False

    def __post_init__(self) -> None:
        for text in (self.length_max, self.mesh_min, self.mesh_max, self.opening_max):
            if text:
                _read_length(text, f"the bound on {self.gear}")
        for text in (self.soak_hours, self.check_hours):
            if text:
                _read_number(text, f"the hours for {self.gear}")


@dataclass(frozen=True, slots=True, kw_only=True)
class GearRule(Condition):
    """The gear that may be used; a haul needs to keep the bounds of one entry for its kind of gear."""

    kind: Literal["gear"] = "gear"
    gear: tuple[GearAllowed, ...]

    def __post_init__(self) -> None:
        if not self.gear:
            raise ValueError("a gear condition needs at least one entry in 'gear'")


@dataclass(frozen=True, slots=True, kw_only=True)
class AreaRule(Condition):
    """Where hauls may be: ``inside`` the areas together, ``outside`` each, or a distance from each.

    ``dates`` gives the season in which it holds; none: always.
    """

    kind: Literal["area"] = "area"
    where: Literal["inside", "outside", "keep away"]
    areas: tuple[str, ...]
    distance: str = ""
    dates: tuple[DateRange, ...] = ()

    def __post_init__(self) -> None:
        if not self.areas:
            raise ValueError("an area condition needs at least one area in 'areas'")
        if (self.where == "keep away") != bool(self.distance):
            raise ValueError("'distance' goes with where 'keep away'")
        if self.distance:
            _read_length(self.distance, "the distance to keep")


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonRule(Condition):
    """Open or closed dates. ``open`` ranges: only then; ``closed`` ranges: not then.

    ``closed_weekdays`` names weekdays on which there is no collecting, but for ``except_dates``.
    A range whose end the agency announces is given in ``ends_before`` as the entered date ("" while it is
    not known): collecting must end on the day before it; not knowing it leaves later hauls open.
    """

    kind: Literal["season"] = "season"
    open: tuple[DateRange, ...] = ()
    closed: tuple[DateRange, ...] = ()
    closed_weekdays: tuple[
        Literal["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"], ...
    ] = ()
    except_dates: tuple[str, ...] = ()
    ends_before: str | None = None
    ends_before_what: str = ""

    def __post_init__(self) -> None:
        if not (self.open or self.closed or self.closed_weekdays or self.ends_before is not None):
            raise ValueError("a season needs open or closed dates, closed weekdays, or 'ends_before'")
        for text in self.except_dates:
            parse_day(text)
        if self.ends_before:
            parse_day(self.ends_before)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hours:
    """Hours of the day between two ends: a clock time ("06:30") or the sun ("sunrise", "sunset-30").

    A number after the sun's word is minutes to add or take away. ``months`` (1-12) and ``gear`` say when
    and for what this entry holds; empty: always, for all.
    """

    start: str
    end: str
    months: tuple[int, ...] = ()
    gear: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for text in (self.start, self.end):
            read_hour(text)


@lru_cache(maxsize=256)
def read_hour(text: str) -> tuple[str, int]:
    """Read one end of ``Hours`` as ("clock" | "sunrise" | "sunset", minutes); raises ValueError."""
    plain = text.strip().lower().replace(" ", "")
    for sun in ("sunrise", "sunset"):
        if plain.startswith(sun):
            rest = plain.removeprefix(sun)
            if not rest:
                return sun, 0
            if rest[0] in "+-" and rest[1:].isdigit():
                return sun, int(rest)
    hours, colon, minutes = plain.partition(":")
    if colon and hours.isdigit() and len(minutes) == 2 and minutes.isdigit():
        at = int(hours) * 60 + int(minutes)
        if at <= 24 * 60 and int(minutes) < 60:
            return "clock", at
    raise ValueError(f"'{text}' is not an hour; write '06:30', 'sunrise' or 'sunset-30' (minutes)")


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeOfDay(Condition):
    """Hours within which gear may be worked; the whole of a haul must lie in one of the entries that hold.

    For a set (gear left standing), the setting and the lift are the work, not the soak between.
    A haul for whose gear and month no entry holds is not touched by the condition.
    """

    kind: Literal["time of day"] = "time of day"
    hours: tuple[Hours, ...]

    def __post_init__(self) -> None:
        if not self.hours:
            raise ValueError("this condition needs at least one entry in 'hours'")


@dataclass(frozen=True, slots=True, kw_only=True)
class PeopleRule(Condition):
    """Who may be there and who must.

    ``only_listed``: everybody but observers is listed by the authority for that day; with
    ``unlisted_in_sight`` an unlisted person may work while the holder sees it (recorded per haul).
    ``present``: at least one person with one of these listed roles is on the trip. ``not_roles``: nobody
    on the trip with such a role. ``qualification``: somebody on the trip (or, with ``qualified``
    "everyone", everybody but observers) holds it on that day.
    """

    kind: Literal["people"] = "people"
    only_listed: bool = False
    unlisted_in_sight: bool = False
    present: tuple[Role, ...] = ()
    not_roles: tuple[Role, ...] = ()
    crew_min: int = 0
    crew_max: int = 0
    assistants_max: int | None = None
    qualification: str = ""
    qualified: Literal["someone", "everyone", "leader"] = "someone"


@dataclass(frozen=True, slots=True, kw_only=True)
class NoticeRule(Condition):
    """Who must be told before each trip.

    All of ``to`` are told at least ``hours_before`` and at most ``hours_before_max`` (0: no bound) before
    the trip departs, by one of ``channels`` (empty: any), with everything in ``content``. With
    ``proof_kept`` a notice without proof is open. A cancelled trip of which notice was given needs a
    notice that cancels it (``cancellation_told``).
    """

    kind: Literal["notice"] = "notice"
    to: tuple[str, ...]
    hours_before: str
    hours_before_max: str = ""
    channels: tuple[str, ...] = ()
    content: tuple[str, ...] = ()
    proof_kept: bool = False
    cancellation_told: bool = True

    def __post_init__(self) -> None:
        if not self.to:
            raise ValueError("a notice condition says in 'to' who is told")
        least = _read_number(self.hours_before, "the hours before")
        if self.hours_before_max and _read_number(self.hours_before_max, "the most hours before") < least:
            raise ValueError("'hours_before_max' is below 'hours_before'")


@dataclass(frozen=True, slots=True, kw_only=True)
class StopRule(Condition):
    """Accidental deaths at which work stops.

    Reached when the dead of ``taxa`` (empty: all) over ``per`` are ``deaths`` or more, or ``percent`` or
    more of those handled once ``smallest_sample`` were (``reached`` "above": more than the number or the
    share, not at it). After the haul in which it was reached there is
    no further haul in the same ``per``, and ``report_to`` is told within ``report_within_hours``.
    """

    kind: Literal["encounter and stop"] = "encounter and stop"
    taxa: tuple[str, ...] = ()
    deaths: int = 0
    percent: str = ""
    smallest_sample: int = 1
    reached: Literal["at", "above"] = "at"
    per: Literal["trip", "day", "site", "permit year", "term"] = "trip"
    stop: bool = True
    report_within_hours: int = 0
    report_to: str = ""

    def __post_init__(self) -> None:
        if not (self.deaths or self.percent):
            raise ValueError("this condition needs 'deaths' or 'percent' at which work stops")
        if self.percent:
            _read_number(self.percent, "the share of deaths")
        if bool(self.report_within_hours) != bool(self.report_to):
            raise ValueError("'report_within_hours' and 'report_to' go together")


@dataclass(frozen=True, slots=True, kw_only=True)
class Disposition(Condition):
    """What may become of animals once held.

    ``allowed`` lists the ways they may leave; any other way breaks the condition. ``consent_for`` lists
    ways that need a reference of consent on the movement. ``vouchers_by`` is the day by which at least
    ``vouchers`` animals must have left as vouchers.
    """

    kind: Literal["disposition"] = "disposition"
    allowed: tuple[Gone, ...] = ()
    barred: tuple[Gone, ...] = ()
    consent_for: tuple[Gone, ...] = ()
    vouchers: int = 0
    vouchers_by: str = ""

    def __post_init__(self) -> None:
        if not (self.allowed or self.barred or self.consent_for or self.vouchers):
            raise ValueError("a disposition says what is 'allowed' or 'barred', needs consent, or is a voucher")
        if bool(self.vouchers) != bool(self.vouchers_by):
            raise ValueError("'vouchers' and 'vouchers_by' go together")
        if self.vouchers_by:
            parse_day(self.vouchers_by)


@dataclass(frozen=True, slots=True, kw_only=True)
class CleaningMethod:
    """One accepted way of cleaning, with the minutes of contact it needs ("" for none stated)."""

    method: str
    minutes: str = ""

    def __post_init__(self) -> None:
        if self.minutes:
            _read_number(self.minutes, f"the minutes of '{self.method}'")


@dataclass(frozen=True, slots=True, kw_only=True)
class CleaningRule(Condition):
    """Gear is cleaned by one of ``methods`` between two waterbodies."""

    kind: Literal["cleaning"] = "cleaning"
    methods: tuple[CleaningMethod, ...]

    def __post_init__(self) -> None:
        if not self.methods:
            raise ValueError("a cleaning condition needs at least one entry in 'methods'")


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportRule(Condition):
    """When the report is due.

    ``due``: "days after end" (``days`` after the last day), "days after year" (after each permit year),
    "days after trip", "date in year" (``date`` MM-DD in the authority's last year or, with
    ``following_year``, the next), or "printed date" (``date`` YYYY-MM-DD). The due day itself is in time.
    ``acceptance`` asks that the agency has accepted it. ``fields`` lists what the report must show.
    """

    kind: Literal["report"] = "report"
    due: Literal["days after end", "days after year", "days after trip", "date in year", "printed date"]
    days: int = 0
    date: str = ""
    following_year: bool = False
    acceptance: bool = False
    nil_report: bool = True
    fields: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.due == "printed date":
            parse_day(self.date)
        elif self.due == "date in year":
            DateRange(first=self.date, last=self.date)
        elif self.days < 0 or self.date:
            raise ValueError(f"a report due '{self.due}' takes 'days' (0 or more) and no 'date'")


@dataclass(frozen=True, slots=True, kw_only=True)
class PapersRule(Condition):
    """What must be carried on each trip and what else must stand on the day.

    ``carried`` lists documents; ``standing`` names entries of the authority's other papers.
    """

    kind: Literal["papers"] = "papers"
    carried: tuple[str, ...] = ()
    standing: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not (self.carried or self.standing):
            raise ValueError("a papers condition lists what is 'carried' or must be 'standing'")


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldingRule(Condition):
    """Animals still held after the authority's end: until ``days_after_end`` days later at the latest.

    ``under`` is the authority under which holding goes on ("" while there is none): its term then counts.
    """

    kind: Literal["holding"] = "holding"
    days_after_end: int = 0
    under: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Attested(Condition):
    """Anything that no machine can judge, word for word; a named person states that it was kept."""

    kind: Literal["attested"] = "attested"
    per: Literal["trip", "term"] = "trip"
    why: str = ""


AnyCondition = (
    TakeLimit
    | ShareLimit
    | SizeLimit
    | StageRule
    | Prohibited
    | GearRule
    | AreaRule
    | SeasonRule
    | TimeOfDay
    | PeopleRule
    | NoticeRule
    | StopRule
    | Disposition
    | CleaningRule
    | ReportRule
    | PapersRule
    | HoldingRule
    | Attested
)
