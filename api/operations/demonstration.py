"""The demo: the sample season in a store of its own, one account per role, and a clock that stands at its end.

The permit that follows, and a trip planned under it for that very day, stand beside the season: so that a phone has
something to record.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from api.entities.audit import AuditHead
from api.entities.people import Organisation
from api.operations import accounts
from api.operations.allotting import grant
from api.operations.importing import import_files
from api.operations.organisations import OrganisationOfDemoError
from api.store.unit_of_work import SYSTEM, Actor, Clock, Store

BEGINS = datetime(2028, 7, 14, 2, 0, tzinfo=UTC)
"""The moment at which the demo begins: noon of 14 July 2028 where the season plays."""


BEGAN_FILE = "demo-began"
"""Keeps the real time at which a demo began, beside its database."""


@dataclass(frozen=True, slots=True)
class DemoAccount:
    """An account of the demo; its password is printed for everybody, so the demo listens on loopback only."""

    role: str
    login: str
    password: str
    person: str = ""
    """The id of somebody in the sample season, or "" for a new person of this name."""
    name: str = ""


ACCOUNTS = (
    DemoAccount("collector", "demo-collector", "demo collector of kelloran", person="i-calloway"),
    DemoAccount("curator", "demo-curator", "demo curator of kelloran", name="Tamsin Oyelaran"),
    DemoAccount("administrator", "demo-administrator", "demo administrator of kelloran", person="r-achterberg"),
    DemoAccount("inspector", "demo-inspector", "demo inspector of kelloran", name="Odile Marchetti"),
)


NEXT_SEASON = "next-season"
"""The folder, beside the sample season's files, of the permit that follows it and of the trip planned under it."""


@dataclass(frozen=True, slots=True)
class DemoAllotment:
    """What the demo's planned trip may take of one limit: little, so that "nothing left" is soon seen."""

    number: str
    amount: int
    label: str = ""


PLANNED_TRIP, NEXT_PERMIT = "K28-10", "kelloran-permit-28"
ALLOTMENTS = (
    DemoAllotment("2.1", 12),
    DemoAllotment("2.6", 2, "greenback flounder"),
    DemoAllotment("2.7", 6),
)


class DemoClock:
    """A clock that runs from the demo's beginning at the pace of the real one.

    ``began`` is the real time at which it began; without one it begins now.
    """

    def __init__(self, real: Clock, began: datetime | None = None) -> None:
        self._real, self._began = real, began or real()

    def __call__(self) -> datetime:
        """Give the demo's time."""
        return BEGINS + (self._real() - self._began)


def clock_in(folder: Path, real: Clock) -> DemoClock:
    """Give the clock of a demo kept in a folder.

    It goes on over a restart: a phone that was out meanwhile would else come back from the future.
    """
    note = folder / BEGAN_FILE
    if note.is_file():
        return DemoClock(real, datetime.fromisoformat(note.read_text("utf-8").strip()))
    began = real()
    folder.mkdir(parents=True, exist_ok=True)
    note.write_text(began.isoformat(), "utf-8")
    return DemoClock(real, began)


def is_set_up(store: Store) -> bool:
    """Tell whether the sample season is in the store.

    Raises OrganisationOfDemoError for a store with a record of its own: invented trips and accounts whose passwords
    everybody knows are put into none.
    """
    with store.reading() as session:
        organisation = session.get(Organisation, 1)
        begun = session.get_one(AuditHead, 1).seq > 0
    if begun and (organisation is None or not organisation.demo):
        raise OrganisationOfDemoError(
            "this store holds a record of its own, and the demo takes none over; give it an empty folder with --data"
        )
    return begun


def set_up(store: Store, files: Path, sample: Path) -> None:
    """Fill an empty store with the sample season, what is planned after it, and its accounts."""
    actor, later = Actor(SYSTEM), sample / NEXT_SEASON
    with store.writing(actor) as work:
        work.session.add(Organisation(name="Kelloran Aquarium", zone="Australia/Hobart", demo=True))
        work.note("demo made", "organisation 1")
    # In this order: the season whose report is owed stays the first that is shown.
    for folder in (sample, later):
        import_files(store, files, sorted(folder.glob("authority-*.json")), [folder], actor)
    for one in ACCOUNTS:
        accounts.add_account(
            store,
            actor,
            person=one.person,
            name=one.name,
            login=one.login,
            password=one.password,
            roles=(one.role,),
        )
    administrator = next(one.person for one in ACCOUNTS if one.role == "administrator")
    for given in ALLOTMENTS:
        grant(
            store,
            Actor(administrator),
            PLANNED_TRIP,
            authority=NEXT_PERMIT,
            number=given.number,
            amount=given.amount,
            label=given.label,
        )
