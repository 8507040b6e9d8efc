"""Accounts: who may sign in, under what login, with what password, and what they may do.

Passwords stay unseen: no error carries one, no result and no audit entry, and neither their hashes.
"""

from __future__ import annotations

import re
import secrets
import threading
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from pwdlib import PasswordHash
from sqlalchemy import delete, or_, update
from sqlmodel import Session, col, select
from sqlmodel.sql.expression import SelectOfScalar

from api.entities.accounts import ROLES, Account, AccountRoleHeld, Enrolment
from api.entities.accounts import Session as SignInSession
from api.entities.columns import ID_LENGTH, NAME_LENGTH
from api.entities.people import Person
from api.store.ids import new_id
from api.store.unit_of_work import SYSTEM, Actor, Store, Work

ADMINISTRATOR = "administrator"

SHORTEST_PASSWORD = 15
"""Characters of a password that stands alone (NIST SP 800-63B-4, 3.1.1.2; from memory)."""

LONGEST_PASSWORD = 128
"""Our own bound; the same standard asks that at least 64 be taken (from memory)."""

HASHER = PasswordHash.recommended()
"""How passwords are hashed (argon2id). Hashes of older parameters are renewed when their owner signs in."""

# A hash takes 64 MB and a whole core: a crowd at the door waits here, and not in the machine's swap.
_HASHING = threading.BoundedSemaphore(2)
# Nothing typed is looked at beyond this; normalising shortens a text by far less than from here to the longest password.
_READ_AT_MOST = 1024


class AccountError(ValueError):
    """Something about an account or a sign-in cannot be done; the text says what, and how to mend it."""


class NotAllowedError(AccountError):
    """Somebody may not do this; carries the person's id and what they tried."""

    def __init__(self, person: str, what: str) -> None:
        self.person, self.what = person, what
        super().__init__(f"'{person}' may not {what}; ask an administrator")


class UnknownAccountError(AccountError):
    """There is no open account of that login or id; carries what was given."""

    def __init__(self, named: str) -> None:
        self.named = named
        super().__init__(f"there is no open account '{named[:80]}'; give a login or a person's id from the accounts")


class UnclearAccountError(AccountError):
    """One account's login is another's person id; carries what was given and the accounts' ids."""

    def __init__(self, named: str, accounts: Iterable[str]) -> None:
        self.named, self.accounts = named, tuple(accounts)
        super().__init__(f"'{named[:80]}' names several accounts; give the id of one: {', '.join(self.accounts)}")


class PersonRefusedError(AccountError):
    """Nobody can be given an account by this name or id; carries what was given and why not."""

    def __init__(self, given: str, why: str) -> None:
        self.given, self.why = given, why
        super().__init__(f"no account for '{given[:80]}': {why}")


class AccountExistsError(AccountError):
    """The person has an open account already; carries the person's id and the login."""

    def __init__(self, person: str, login: str) -> None:
        self.person, self.login = person, login
        super().__init__(f"'{person}' has the account '{login}' already; change its password or roles instead")


class LoginRefusedError(AccountError):
    """A login cannot stand; carries it."""

    def __init__(self, login: str) -> None:
        self.login = login
        super().__init__(f"'{login[:80]}' cannot be a login; give 2 to {ID_LENGTH} characters without blanks")


class LoginTakenError(AccountError):
    """Somebody has the login already, or had it; carries it."""

    def __init__(self, login: str) -> None:
        self.login = login
        super().__init__(f"the login '{login}' is taken, by an open account or a closed one; choose another")


class PasswordRefusedError(AccountError):
    """A password cannot stand; carries why, never the password."""

    def __init__(self, why: str) -> None:
        self.why = why
        super().__init__(f"the password {why}; several words that only you would put together are good")


class RolesRefusedError(AccountError):
    """Roles that are none, or not known; carries them."""

    def __init__(self, roles: Iterable[str]) -> None:
        self.roles = tuple(sorted(roles))
        given = ", ".join(self.roles)[:80] or "none"
        super().__init__(f"roles given: {given}; give one or more of {', '.join(ROLES)}")


class LastAdministratorError(AccountError):
    """Nobody could administer any more; carries the login of the last who can."""

    def __init__(self, login: str) -> None:
        self.login = login
        super().__init__(f"'{login}' is the last administrator; make somebody else one first")


class TooManyTriesError(AccountError):
    """There were too many wrong tries; carries the seconds to wait."""

    def __init__(self, seconds: int) -> None:
        self.seconds = seconds
        super().__init__(f"too many wrong tries; wait {seconds} s, then try again")


@dataclass(frozen=True, slots=True)
class AccountTold:
    """An open account as it stands."""

    id: str
    person: str
    name: str
    login: str
    roles: frozenset[str]


def one_line(text: str) -> str:
    """Give a text as it may stand in a name's column: printable, on one line, not too long."""
    return " ".join("".join(sign if sign.isprintable() else " " for sign in text[:_READ_AT_MOST]).split())[:NAME_LENGTH]


def folded_login(login: str) -> str:
    """Give a login as it is kept: however it was typed, in large letters or small, it is the same."""
    folded = unicodedata.normalize("NFKC", login[:_READ_AT_MOST]).strip().casefold()
    return unicodedata.normalize("NFKC", folded)


def _read(password: str) -> str:
    return unicodedata.normalize("NFKC", password[:_READ_AT_MOST])


def check_password(password: str, login: str, name: str) -> None:
    """Raise PasswordRefusedError for a password that is too short, too long, or nothing but its owner's names."""
    text = _read(password)
    if len(text) < SHORTEST_PASSWORD:
        raise PasswordRefusedError(f"has {len(text)} characters and needs at least {SHORTEST_PASSWORD}")
    if len(password) > _READ_AT_MOST or len(text) > LONGEST_PASSWORD:
        raise PasswordRefusedError(f"has more than {LONGEST_PASSWORD} characters, which is the most")
    if any(unicodedata.category(sign) == "Cs" for sign in text):
        raise PasswordRefusedError("holds half a character, as a broken keyboard or program sends it")
    letters = left = "".join(_pieces(text))
    for piece in sorted({*_pieces(login), *_pieces(name)}, key=len, reverse=True):
        left = left.replace(piece, "")
    if letters and not left:
        raise PasswordRefusedError("is made of nothing but the login or the name")


def _pieces(text: str) -> list[str]:
    """Give the runs of letters and digits of a text."""
    return re.findall(r"[^\W_]+", _read(text).casefold())


def hashed(password: str) -> str:
    """Give the hash of a password that was checked; takes a while."""
    with _HASHING:
        return HASHER.hash(_read(password))


def matches(password: str, kept: str | None) -> tuple[bool, str | None]:
    """Tell whether a password is the one kept, and its new hash where the kept one's parameters are outdated.

    Without a kept hash (nobody has that login) it takes as long as a wrong password, and is wrong.
    """
    # What cannot be written in UTF-8 was never taken as a password, and is wrong like any other.
    text = _read(password).encode("utf-8", "surrogatepass")
    with _HASHING:
        stand_in = _stand_in(HASHER)
        right, renewed = HASHER.verify_and_update(text, stand_in if kept is None else kept)
    return (right, renewed) if kept is not None else (False, None)


@lru_cache(maxsize=1)
def _stand_in(hasher: PasswordHash) -> str:
    """Give the hash of a password that nobody has; made before the first look at any password, known or not."""
    return hasher.hash(secrets.token_urlsafe(32))


def find_account(session: Session, named: str) -> Account:
    """Give the open account of that login, person's id or account id.

    Raises UnknownAccountError; UnclearAccountError where one's login is another's person id.
    """
    ways = or_(col(Account.id) == named, col(Account.person_id) == named, col(Account.login) == folded_login(named))
    # PostgreSQL takes no text with a NUL in it, not even to compare.
    query = select(Account).where(col(Account.closed_at).is_(None), ways)
    found = session.exec(query).all() if named.isprintable() else []
    if len(found) > 1:
        raise UnclearAccountError(named, sorted(one.id for one in found))
    if not found:
        raise UnknownAccountError(named)
    return found[0]


def roles_of(session: Session, account: Account) -> frozenset[str]:
    """Give the roles that an account holds."""
    return frozenset(session.exec(select(AccountRoleHeld.role).where(AccountRoleHeld.account_id == account.id)))


def must_administer(session: Session, actor: Actor, what: str, own: str = "") -> None:
    """Raise NotAllowedError unless an administrator acts, the system itself, or the person whose own it is."""
    if actor.person == SYSTEM or (own and actor.person == own):
        return
    holder = _open_administrators().where(Account.person_id == actor.person)
    if session.exec(holder).first() is None:
        raise NotAllowedError(actor.person, what)


def _open_administrators() -> SelectOfScalar[str]:
    """Give the query for the ids of all open accounts that may administer."""
    query = select(Account.id).join(AccountRoleHeld, col(AccountRoleHeld.account_id) == col(Account.id))
    return query.where(col(Account.closed_at).is_(None), AccountRoleHeld.role == ADMINISTRATOR)


def _keep_an_administrator(session: Session, account: Account) -> None:
    """Raise LastAdministratorError if nobody but this account may administer."""
    if set(session.exec(_open_administrators())) <= {account.id}:
        raise LastAdministratorError(account.login)


def end_sessions(work: Work, account: Account, keep: str = "") -> int:
    """Revoke an account's sessions but the one to keep, and its codes not yet used; gives the number of sessions."""
    own = (col(SignInSession.account_id) == account.id, col(SignInSession.id) != keep)
    standing = (col(SignInSession.revoked_at).is_(None), col(SignInSession.ends_at) > work.at)
    ended = work.session.exec(select(SignInSession.id).where(*own, *standing)).all()
    work.session.execute(update(SignInSession).where(col(SignInSession.id).in_(ended)).values(revoked_at=work.at))
    codes = (
        col(Enrolment.account_id) == account.id,
        col(Enrolment.used_at).is_(None),
        col(Enrolment.ends_at) > work.at,
    )
    work.session.execute(update(Enrolment).where(*codes).values(ends_at=work.at))
    return len(ended)


def _told(session: Session, account: Account) -> AccountTold:
    name = session.get_one(Person, account.person_id).name
    return AccountTold(account.id, account.person_id, name, account.login, roles_of(session, account))


@dataclass(frozen=True, slots=True)
class _Plan:
    """An account to be opened: for a person who is here, or (``person`` empty) for a new one."""

    person: str
    name: str
    login: str
    roles: frozenset[str]
    closed: Account | None


def add_account(
    store: Store,
    actor: Actor,
    *,
    login: str,
    password: str,
    roles: Iterable[str],
    name: str = "",
    person: str = "",
) -> AccountTold:
    """Open an account for a new person (``name``) or for one who is here (``person``, an id).

    A person whose account was closed gets it back, with this login, password and these roles. Raises
    NotAllowedError, PersonRefusedError, AccountExistsError, LoginRefusedError, LoginTakenError,
    RolesRefusedError and PasswordRefusedError.
    """
    wanted = _known_roles(roles)
    with store.reading() as session:
        must_administer(session, actor, "open accounts")
        plan = _planned(session, login, wanted, name, person)
    check_password(password, plan.login, plan.name)
    password_hash = hashed(password)
    with store.writing(actor) as work:
        # Again, for somebody may have been quicker while the password was hashed.
        must_administer(work.session, actor, "open accounts")
        return _open(work, _planned(work.session, login, wanted, name, person), password_hash)


def _planned(session: Session, login: str, roles: frozenset[str], name: str, person: str) -> _Plan:
    """Check who is to have which login; see ``add_account`` for what is raised."""
    folded = folded_login(login)
    if not 2 <= len(folded) <= ID_LENGTH or not folded.isprintable() or " " in folded:
        raise LoginRefusedError(login)
    name = _known_name(session, name, person)
    own = session.exec(select(Account).where(Account.person_id == person)).first() if person else None
    if own is not None and own.closed_at is None:
        raise AccountExistsError(person, own.login)
    holder = session.exec(select(Account).where(Account.login == folded)).first()
    if holder is not None and (own is None or holder.id != own.id):
        raise LoginTakenError(folded)
    return _Plan(person, name, folded, roles, own)


def _known_name(session: Session, name: str, person: str) -> str:
    """Give the name of the person who is to have an account."""
    if bool(name.strip()) == bool(person):
        raise PersonRefusedError(person or name, "give either the name of a new person or the id of one who is here")
    if not person:
        tidy = " ".join(name.split())
        if not tidy.isprintable() or len(tidy) > NAME_LENGTH:
            raise PersonRefusedError(name, f"a name has at most {NAME_LENGTH} characters, all of them printable")
        return tidy
    # What is done under this id is done by the server itself, which may do anything.
    if person == SYSTEM:
        raise PersonRefusedError(person, "the server itself acts under this id; give the person another one")
    known = session.get(Person, person) if person.isprintable() else None
    if known is None:
        raise PersonRefusedError(person, "there is no such person here; give the name to add one")
    return known.name


def _known_roles(roles: Iterable[str]) -> frozenset[str]:
    wanted = frozenset(roles)
    if not wanted or not wanted <= set(ROLES):
        raise RolesRefusedError(wanted)
    return wanted


def _open(work: Work, plan: _Plan, password_hash: str) -> AccountTold:
    """Write the account, and the person if new."""
    person, again = plan.person or new_id(), plan.closed is not None
    if not plan.person:
        work.insert(Person, {"id": person, "name": plan.name, "left_on": None, "added_at": work.at})
        work.changed("person", person, 1)
        work.note("person added", f"person {person}", {"name": plan.name})
    row = {"login": plan.login, "password_hash": password_hash, "closed_at": None}
    if plan.closed is not None:
        account = plan.closed.id
        work.session.execute(update(Account).where(col(Account.id) == account).values(**row))
    else:
        account = new_id()
        work.insert(Account, {**row, "id": account, "person_id": person, "made_at": work.at})
    _write_roles(work, account, plan.roles)
    content = {"person": person, "login": plan.login, "roles": sorted(plan.roles)}
    work.note("account opened again" if again else "account opened", f"account {account}", content)
    return AccountTold(account, person, plan.name, plan.login, plan.roles)


def _write_roles(work: Work, account: str, roles: frozenset[str]) -> None:
    work.session.execute(delete(AccountRoleHeld).where(col(AccountRoleHeld.account_id) == account))
    for role in sorted(roles):
        work.insert(AccountRoleHeld, {"account_id": account, "role": role})


def set_roles(store: Store, actor: Actor, account: str, roles: Iterable[str]) -> AccountTold:
    """Give an account (by login or person's id) these roles in place of those it has; they hold at once.

    Raises NotAllowedError, UnknownAccountError, UnclearAccountError, RolesRefusedError, LastAdministratorError.
    """
    wanted = _known_roles(roles)
    with store.writing(actor) as work:
        must_administer(work.session, actor, "set roles")
        found = find_account(work.session, account)
        before = roles_of(work.session, found)
        if ADMINISTRATOR in before - wanted:
            _keep_an_administrator(work.session, found)
        if wanted != before:
            _write_roles(work, found.id, wanted)
            work.flush()
            work.note("roles set", f"account {found.id}", {"roles": sorted(wanted), "before": sorted(before)})
        return _told(work.session, found)


def close_account(store: Store, actor: Actor, account: str) -> None:
    """Close an account (by login or person's id) and revoke its sessions; the person stays, since records name them.

    Raises NotAllowedError, UnknownAccountError, UnclearAccountError, LastAdministratorError.
    """
    with store.writing(actor) as work:
        must_administer(work.session, actor, "close accounts")
        found = find_account(work.session, account)
        if ADMINISTRATOR in roles_of(work.session, found):
            _keep_an_administrator(work.session, found)
        found.closed_at = work.at
        ended = end_sessions(work, found)
        work.note("account closed", f"account {found.id}", {"login": found.login, "sessions": ended})
