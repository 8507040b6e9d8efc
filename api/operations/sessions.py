"""Signing in and out, passwords changed by whoever proves the old one, and sessions seen and revoked.

A token is known to its holder alone: the table keeps its SHA-256. Guessing is slowed per login and per address.
"""

from __future__ import annotations

import hashlib
import ipaddress
import math
import secrets
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Literal

from sqlalchemy import delete, update
from sqlmodel import Session, col, func, select

from api.entities.accounts import Account, AccountRoleHeld, Device, FailedTry
from api.entities.accounts import Session as SignInSession
from api.entities.people import Person
from api.operations.accounts import (
    AccountError,
    TooManyTriesError,
    check_password,
    end_sessions,
    find_account,
    folded_login,
    hashed,
    matches,
    must_administer,
    one_line,
)
from api.store.ids import new_id
from api.store.unit_of_work import Actor, Store, Work

SessionKind = Literal["browser", "phone"]

LASTS: dict[SessionKind, timedelta] = {"browser": timedelta(hours=12), "phone": timedelta(days=180)}
"""How long a session of each kind lasts from its beginning on."""

USED_EVERY = timedelta(minutes=5)
"""How old the entry of a session's last use may grow; a finer one would write at every request."""

FREE_TRIES = {"login": 5, "address": 20}
"""Wrong tries without a wait. An address may be a whole house behind one line, so it has more."""

LONGEST_WAIT_S = 15 * 60
TRIES_COUNT_FOR = timedelta(days=1)


class SignInRefusedError(AccountError):
    """Login and password do not belong together; which of them is wrong is not told."""

    def __init__(self) -> None:
        super().__init__("login or password is wrong; try again, or ask an administrator for a new password")


class WrongPasswordError(AccountError):
    """The old password is wrong."""

    def __init__(self) -> None:
        super().__init__("the old password is wrong; type it again, or ask an administrator to set a new one")


class UnknownSessionError(AccountError):
    """There is no such session; carries the id."""

    def __init__(self, session: str) -> None:
        self.session = session
        super().__init__(f"there is no session '{session[:80]}'; take one from the list of sessions")


@dataclass(frozen=True, slots=True)
class Who:
    """Who is signed in, with what they may do, by which session and (of a phone) which device."""

    person: str
    name: str
    login: str
    roles: frozenset[str]
    session: str
    device: str = ""

    @property
    def actor(self) -> Actor:
        """Give whom the audit entries of what they do name."""
        return Actor(self.person, self.device)


@dataclass(frozen=True, slots=True)
class SignedIn:
    """A session that began. Its token is given here and never again."""

    token: str = field(repr=False)
    session: str
    ends_at: datetime
    who: Who


@dataclass(frozen=True, slots=True)
class SessionTold:
    """A session that stands; ``device`` is a phone's name, ``current`` marks the one that asks."""

    id: str
    kind: str
    label: str
    device: str
    made_at: datetime
    used_at: datetime
    ends_at: datetime
    current: bool


def guessed_at(login: str, address: str) -> tuple[str, ...]:
    """Give what a wrong try counts against: the login (if there is one) and the address (if it is known).

    Of a login only the hash is kept: people type their password there by mistake.
    """
    found = []
    if login:
        found.append(f"login {_sha256(login)}")
    if address:
        found.append(f"address {_one_holder(address)}")
    return tuple(found)


def _one_holder(address: str) -> str:
    """Give the part of an address that one holder has: of IPv6 the first 64 bits (common practice, no source)."""
    try:
        known = ipaddress.ip_address(address)
    except ValueError:
        return one_line(address)[:100]
    if isinstance(known, ipaddress.IPv4Address):
        return str(known)
    if known.ipv4_mapped is not None:
        return str(known.ipv4_mapped)
    return str(ipaddress.ip_network((int(known), 64), strict=False))


def _sha256(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def check_tries(session: Session, subjects: Sequence[str], at: datetime) -> None:
    """Raise TooManyTriesError while one of the subjects has to wait."""
    query = select(FailedTry.subject, func.count(), func.max(FailedTry.at))
    recent = (col(FailedTry.subject).in_(subjects), col(FailedTry.at) > at - TRIES_COUNT_FOR)
    waits = []
    for subject, tries, last in session.exec(query.where(*recent).group_by(col(FailedTry.subject))):
        beyond = tries - FREE_TRIES[subject.split(" ")[0]]
        if beyond >= 0:
            # Beyond ten doublings the longest wait is reached anyhow.
            wait = min(2 ** min(beyond, 10), LONGEST_WAIT_S)
            waits.append(min(wait, (last - at).total_seconds() + wait))
    if waits and max(waits) > 0:
        raise TooManyTriesError(math.ceil(max(waits)))


def count_try(work: Work, subjects: Sequence[str]) -> list[int]:
    """Count a try as failed, and forget those of more than a day ago; raises TooManyTriesError.

    Gives the ids, for the try to be taken back if it proves right.
    """
    check_tries(work.session, subjects, work.at)
    work.session.execute(delete(FailedTry).where(col(FailedTry.at) <= work.at - TRIES_COUNT_FOR))
    tries = [FailedTry(subject=subject, at=work.at) for subject in subjects]
    work.session.add_all(tries)
    work.session.flush()
    return [one.id for one in tries if one.id is not None]


@dataclass(frozen=True, slots=True)
class _Proof:
    """A password that was looked at: whether it is right, its new hash if outdated, and the try to take back."""

    right: bool
    renewed: str | None = field(repr=False)
    subjects: tuple[str, ...]
    tries: list[int]

    def take_back(self, work: Work) -> None:
        """Forget the try, and all others at that login: whoever has the password may mistype it again."""
        gone = col(FailedTry.id).in_(self.tries) | (col(FailedTry.subject) == self.subjects[0])
        work.session.execute(delete(FailedTry).where(gone))


def _prove(store: Store, account: Account | None, password: str, subjects: tuple[str, ...]) -> _Proof:
    """Look at a password, outside of any transaction.

    The try counts as failed before it is looked at, so that many at once gain nothing.
    """
    with store.writing(Actor()) as work:
        tries = count_try(work, subjects)
    right, renewed = matches(password, account.password_hash if account else None)
    return _Proof(right, renewed, subjects, tries)


def sign_in(
    store: Store, login: str, password: str, *, address: str, label: str, kind: SessionKind = "browser"
) -> SignedIn:
    """Begin a session. ``address`` is where the try comes from, ``label`` what its holder knows the browser by.

    Raises SignInRefusedError; TooManyTriesError with the seconds to wait.
    """
    name = folded_login(login)
    subjects = guessed_at(name or "nobody", address)
    with store.reading() as session:
        check_tries(session, subjects, store.clock())
        account = _account_of(session, name)
    proof = _prove(store, account, password, subjects)
    with store.writing(Actor(account.person_id) if account and proof.right else Actor()) as work:
        stands = work.session.get_one(Account, account.id) if account and proof.right else None
        refused = stands is None or stands.closed_at is not None
        if refused:
            subject = f"account {account.id}" if account else "account unknown"
            work.note("sign-in refused", subject, {"kind": kind, "address": one_line(address)})
        elif stands is not None and account is not None:
            proof.take_back(work)
            if stands.password_hash == account.password_hash:
                return _signed_in(work, stands, proof.renewed, kind, label, address)
    if refused:
        raise SignInRefusedError
    # The hash was changed or renewed while the password was looked at: it is held against the new one.
    return sign_in(store, login, password, address=address, label=label, kind=kind)


def _signed_in(
    work: Work, account: Account, renewed: str | None, kind: SessionKind, label: str, address: str
) -> SignedIn:
    """Begin the session of a password that was right, and keep its hash anew where that was outdated."""
    if renewed:
        account.password_hash = renewed
    signed = begin_session(work, account, kind, label)
    content = {"login": account.login, "kind": kind, "address": one_line(address), "hash renewed": bool(renewed)}
    work.note("signed in", f"session {signed.session}", content)
    return signed


def _account_of(session: Session, login: str) -> Account | None:
    """Give the account of a login, open or closed; PostgreSQL takes no text with a NUL in it, not even to compare."""
    if not login.isprintable():
        return None
    return session.exec(select(Account).where(Account.login == login)).first()


def begin_session(work: Work, account: Account, kind: SessionKind, label: str, device: str | None = None) -> SignedIn:
    """Write a session with a new token."""
    token, session, ends_at = secrets.token_urlsafe(32), new_id(), work.at + LASTS[kind]
    row = {"id": session, "account_id": account.id, "device_id": device, "kind": kind, "label": one_line(label)}
    times = {"made_at": work.at, "used_at": work.at, "ends_at": ends_at, "revoked_at": None}
    work.insert(SignInSession, {**row, **times, "token_hash": _sha256(token)})
    work.flush()
    found = _found(work.session, token, work.at)
    if found is None:
        raise AssertionError(session)
    return SignedIn(token, session, ends_at, found[0])


def who(store: Store, token: str) -> Who | None:
    """Give who holds a token; None if it is wrong, ended or revoked, or its account closed or its device revoked.

    One reading; every five minutes the session's and the device's last use are written as well.
    """
    at = store.clock()
    with store.reading() as session:
        found = _found(session, token, at)
    if found is None:
        return None
    known, used_at = found
    if at - used_at >= USED_EVERY:
        _write_use(store, known)
    return known


def _found(session: Session, token: str, at: datetime) -> tuple[Who, datetime] | None:
    """Look a token up, with the time of its last use."""
    query = (
        select(SignInSession, Account, Person, AccountRoleHeld.role)
        .join(Account, col(Account.id) == col(SignInSession.account_id))
        .join(Person, col(Person.id) == col(Account.person_id))
        .outerjoin(AccountRoleHeld, col(AccountRoleHeld.account_id) == col(Account.id))
        .outerjoin(Device, col(Device.id) == col(SignInSession.device_id))
        .where(SignInSession.token_hash == _sha256(token), SignInSession.ends_at > at)
        .where(*(col(one).is_(None) for one in (SignInSession.revoked_at, Account.closed_at, Device.revoked_at)))
    )
    rows = session.exec(query).all()
    if not rows:
        return None
    row, account, person, _ = rows[0]
    roles = frozenset(role for *_, role in rows if role is not None)
    return Who(person.id, person.name, account.login, roles, row.id, row.device_id or ""), row.used_at


def _write_use(store: Store, known: Who) -> None:
    """Write that a session was used just now; no audit entry, for nothing was done."""
    with store.writing(known.actor) as work:
        overdue = (col(SignInSession.id) == known.session, col(SignInSession.used_at) <= work.at - USED_EVERY)
        work.session.execute(update(SignInSession).where(*overdue).values(used_at=work.at))
        if known.device:
            seen = update(Device).where(col(Device.id) == known.device).values(last_seen_at=work.at)
            work.session.execute(seen)


def sign_out(store: Store, session: str) -> None:
    """End a session (by its id, as ``who`` gives it); one that stands no more is left as it is.

    Raises UnknownSessionError.
    """
    with store.reading() as reading:
        row, account = _row(reading, session)
    with store.writing(Actor(account.person_id, row.device_id or "")) as work:
        _revoke(work, session, "signed out", account)


def revoke_session(store: Store, actor: Actor, session: str) -> None:
    """Revoke a session, one's own or as an administrator; one that stands no more is left as it is.

    Raises UnknownSessionError and NotAllowedError.
    """
    with store.writing(actor) as work:
        _, account = _row(work.session, session)
        must_administer(work.session, actor, "revoke another's session", own=account.person_id)
        _revoke(work, session, "session revoked", account)


def _row(session: Session, named: str) -> tuple[SignInSession, Account]:
    """Give a session's row with its account's; raises UnknownSessionError."""
    row = session.get(SignInSession, named) if named.isprintable() else None
    if row is None:
        raise UnknownSessionError(named)
    return row, session.get_one(Account, row.account_id)


def _revoke(work: Work, session: str, action: str, account: Account) -> None:
    row = work.session.get_one(SignInSession, session)
    if row.revoked_at is None and row.ends_at > work.at:
        row.revoked_at = work.at
        work.note(action, f"session {session}", {"login": account.login})


def sessions_of(store: Store, person: str, current: str = "") -> list[SessionTold]:
    """Give the sessions of a person that stand, the newest first; ``current`` is the id of the one that asks."""
    query = (
        select(SignInSession, Device.name)
        .join(Account, col(Account.id) == col(SignInSession.account_id))
        .outerjoin(Device, col(Device.id) == col(SignInSession.device_id))
        .where(Account.person_id == person, col(SignInSession.revoked_at).is_(None))
        .where(SignInSession.ends_at > store.clock())
        .order_by(col(SignInSession.made_at).desc(), col(SignInSession.id).desc())
    )
    with store.reading() as session:
        return [
            SessionTold(
                row.id, row.kind, row.label, device or "", row.made_at, row.used_at, row.ends_at, row.id == current
            )
            for row, device in session.exec(query)
        ]


def change_password(store: Store, actor: Actor, account: str, new: str, *, old: str = "", keep: str = "") -> None:
    """Set the password of an account (by login or person's id) and revoke its sessions but the one to ``keep``.

    One's own asks for the old one, and counts a wrong one as a failed try; an administrator sets another's without.
    Raises NotAllowedError, UnknownAccountError, UnclearAccountError, PasswordRefusedError, WrongPasswordError and
    TooManyTriesError.
    """
    with store.reading() as session:
        found = find_account(session, account)
        own = found.person_id == actor.person
        must_administer(session, actor, "set another's password", own=found.person_id)
        check_password(new, found.login, session.get_one(Person, found.person_id).name)
        subjects = guessed_at(found.login, "")
        check_tries(session, subjects if own else (), store.clock())
    proof = _prove(store, found, old, subjects) if own else None
    if proof is not None and not proof.right:
        with store.writing(actor) as work:
            work.note("password change refused", f"account {found.id}")
        raise WrongPasswordError
    new_hash = hashed(new)
    with store.writing(actor) as work:
        must_administer(work.session, actor, "set another's password", own=found.person_id)
        stands = find_account(work.session, found.id)
        if proof is not None:
            proof.take_back(work)
        if proof is None or stands.password_hash == found.password_hash:
            stands.password_hash = new_hash
            ended = end_sessions(work, stands, keep if own else "")
            work.note("password changed", f"account {stands.id}", {"own": own, "sessions": ended})
            return
    # The hash was changed or renewed while the old password was looked at: it is held against the new one.
    change_password(store, actor, account, new, old=old, keep=keep)
