"""Phones: enrolled with a code that is good once and for a short time, listed, and revoked from the office."""

from __future__ import annotations

import hashlib
import secrets
import unicodedata
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from sqlalchemy import exists, update
from sqlmodel import Session, col, select

from api.entities.accounts import Account, Device, Enrolment
from api.entities.accounts import Session as SignInSession
from api.entities.people import Person
from api.operations.accounts import AccountError, find_account, must_administer, one_line
from api.operations.sessions import SignedIn, begin_session, check_tries, count_try, guessed_at
from api.store.ids import new_id
from api.store.unit_of_work import SYSTEM, Actor, Store, Work

CODE_LASTS = timedelta(minutes=15)

SIGNS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
"""Crockford's base 32: no I, L, O and U (from memory). Ten of them are 50 bits."""

_LENGTH = 10
_TAKEN_FOR = str.maketrans("OIL", "011")


class CodeRefusedError(AccountError):
    """A code was mistyped, used, or ended; which of these is not told, so that guessing teaches nothing."""

    def __init__(self) -> None:
        super().__init__("this code is not valid (any more); ask for a new one")


class UnknownDeviceError(AccountError):
    """There is no such device; carries the id."""

    def __init__(self, device: str) -> None:
        self.device = device
        super().__init__(f"there is no device '{device[:80]}'; take one from the list of devices")


@dataclass(frozen=True, slots=True)
class EnrolmentCode:
    """A code with which one phone may be enrolled for a person. It is given here and never again."""

    code: str = field(repr=False)
    id: str
    ends_at: datetime
    person: str
    login: str


@dataclass(frozen=True, slots=True)
class DeviceTold:
    """A phone that was enrolled; ``signed_in`` tells whether it has a session that stands."""

    id: str
    name: str
    person: str
    person_name: str
    enrolled_at: datetime
    last_seen_at: datetime | None
    revoked_at: datetime | None
    clock_fast_s: int | None
    signed_in: bool


def read_code(typed: str) -> str:
    """Give the code that was meant: case, blanks and hyphens say nothing, O is 0, and I and L are 1."""
    plain = unicodedata.normalize("NFKC", typed[:100])
    # A phone's keyboard makes longer dashes of hyphens.
    signs = (sign for sign in plain if not sign.isspace() and unicodedata.category(sign) != "Pd")
    return "".join(signs).upper().translate(_TAKEN_FOR)


def _code_hash(code: str) -> str:
    return hashlib.sha256(code.encode("utf-8", "surrogatepass")).hexdigest()


def make_enrolment(store: Store, actor: Actor, account: str) -> EnrolmentCode:
    """Make a code for a phone of an account (by login or person's id), one's own or as an administrator.

    Raises NotAllowedError, UnknownAccountError and UnclearAccountError.
    """
    code = "".join(secrets.choice(SIGNS) for _ in range(_LENGTH))
    with store.writing(actor) as work:
        found = find_account(work.session, account)
        must_administer(work.session, actor, "enrol another's phone", own=found.person_id)
        made_by = None if actor.person == SYSTEM else actor.person
        enrolment = new_id()
        row = {"id": enrolment, "code_hash": _code_hash(code), "account_id": found.id, "made_by": made_by}
        ends_at = work.at + CODE_LASTS
        work.insert(Enrolment, {**row, "made_at": work.at, "ends_at": ends_at, "used_at": None, "device_id": None})
        work.note("enrolment code made", f"account {found.id}", {"enrolment": enrolment, "login": found.login})
        return EnrolmentCode(f"{code[:5]}-{code[5:]}", enrolment, ends_at, found.person_id, found.login)


def enrol(store: Store, code: str, *, device_name: str, address: str) -> SignedIn:
    """Enrol a phone with a code and begin its session; ``address`` is where the try comes from.

    Raises CodeRefusedError; TooManyTriesError with the seconds to wait.
    """
    meant, subjects = read_code(code), guessed_at("", address)
    with store.reading() as session:
        check_tries(session, subjects, store.clock())
        known = _open_enrolment(session, meant, store.clock())
    with store.writing(Actor(known[1].person_id) if known else Actor()) as work:
        # Again, for another phone may have been quicker with the same code.
        found = _open_enrolment(work.session, meant, work.at) if known else None
        if found is not None:
            check_tries(work.session, subjects, work.at)
            return _enrol(work, *found, one_line(device_name) or "phone", address)
        count_try(work, subjects)
        work.note("enrolment refused", "enrolment unknown", {"address": one_line(address)})
    raise CodeRefusedError


def _open_enrolment(session: Session, code: str, at: datetime) -> tuple[Enrolment, Account] | None:
    query = (
        select(Enrolment, Account)
        .join(Account, col(Account.id) == col(Enrolment.account_id))
        .where(Enrolment.code_hash == _code_hash(code), col(Enrolment.used_at).is_(None), Enrolment.ends_at > at)
        .where(col(Account.closed_at).is_(None))
    )
    return session.exec(query).first()


def _enrol(work: Work, enrolment: Enrolment, account: Account, name: str, address: str) -> SignedIn:
    """Write the phone, use the code up, and begin the phone's session."""
    device = new_id()
    row = {"id": device, "person_id": account.person_id, "name": name, "enrolled_at": work.at}
    work.insert(Device, {**row, "revoked_at": None, "last_seen_at": work.at, "clock_fast_s": None})
    work.flush()
    enrolment.used_at, enrolment.device_id = work.at, device
    signed = begin_session(work, account, "phone", name, device)
    content = {"enrolment": enrolment.id, "session": signed.session, "name": name, "address": one_line(address)}
    work.note("phone enrolled", f"device {device}", {**content, "login": account.login})
    return signed


def devices(store: Store) -> list[DeviceTold]:
    """Give every phone that was ever enrolled, the newest first."""
    stands = exists().where(
        col(SignInSession.device_id) == col(Device.id),
        col(SignInSession.revoked_at).is_(None),
        col(SignInSession.ends_at) > store.clock(),
    )
    query = (
        select(Device, Person.name, stands)
        .join(Person, col(Person.id) == col(Device.person_id))
        .order_by(col(Device.enrolled_at).desc(), col(Device.id).desc())
    )
    with store.reading() as session:
        return [_told(*row) for row in session.exec(query)]


def _told(row: Device, person_name: str, signed_in: bool) -> DeviceTold:
    return DeviceTold(
        row.id,
        row.name,
        row.person_id,
        person_name,
        row.enrolled_at,
        row.last_seen_at,
        row.revoked_at,
        row.clock_fast_s,
        bool(signed_in),
    )


def revoke_device(store: Store, actor: Actor, device: str) -> None:
    """Revoke a phone and its sessions, one's own or as an administrator; one revoked before is left as it is.

    Raises UnknownDeviceError and NotAllowedError.
    """
    with store.writing(actor) as work:
        row = work.session.get(Device, device) if device.isprintable() else None
        if row is None:
            raise UnknownDeviceError(device)
        must_administer(work.session, actor, "revoke another's phone", own=row.person_id)
        if row.revoked_at is not None:
            return
        row.revoked_at = work.at
        own = (col(SignInSession.device_id) == device, col(SignInSession.revoked_at).is_(None))
        work.session.execute(update(SignInSession).where(*own).values(revoked_at=work.at))
        work.note("device revoked", f"device {device}", {"name": row.name, "person": row.person_id})
