"""People and their accounts, and the sites that the record names."""

from __future__ import annotations

from typing import Literal

from fastapi import APIRouter
from pydantic import BaseModel, Field

from api.operations import accounts, people, sessions
from api.routes.deps import Administrator, Reader, StoreHere
from api.routes.shapes import Sent

router = APIRouter(prefix="/api", tags=["people"])

Role = Literal["collector", "curator", "administrator", "inspector"]


class RoleHeldRead(BaseModel):
    """What a person is under an authority, and on which days ("" is the authority's own day)."""

    authority: str
    role: str
    first_day: str
    last_day: str


class PersonRead(BaseModel):
    """Somebody named in the record; ``login`` is "" for who has no account."""

    id: str
    name: str
    login: str
    roles: list[str]
    held: list[RoleHeldRead]


class AccountSent(Sent):
    """An account for a new person (``name``) or for one who is here (``person``)."""

    login: str = Field(max_length=200)
    password: str = Field(max_length=1000)
    roles: list[Role] = Field(min_length=1, max_length=4)
    name: str = Field(default="", max_length=200)
    person: str = Field(default="", max_length=64)


class AccountRead(BaseModel):
    """An open account."""

    id: str
    person: str
    name: str
    login: str
    roles: list[str]


class RolesSent(Sent):
    """The roles that an account shall hold."""

    roles: list[Role] = Field(min_length=1, max_length=4)


class NewPasswordSent(Sent):
    """A new password for somebody else."""

    new: str = Field(max_length=1000)


def _read(told: accounts.AccountTold) -> AccountRead:
    return AccountRead(id=told.id, person=told.person, name=told.name, login=told.login, roles=sorted(told.roles))


@router.get("/people")
def list_people(store: StoreHere, _asking: Reader) -> list[PersonRead]:
    """Give everybody, with accounts and with roles under authorities."""
    return [
        PersonRead(
            id=one.id,
            name=one.name,
            login=one.login,
            roles=list(one.roles),
            held=[
                RoleHeldRead(authority=held.authority, role=held.role, first_day=held.first_day, last_day=held.last_day)
                for held in one.held
            ],
        )
        for one in people.list_people(store)
    ]


class SiteRead(BaseModel):
    """A place that the record names."""

    id: str
    name: str


@router.get("/sites")
def list_sites(store: StoreHere, _asking: Reader) -> list[SiteRead]:
    """Give every site by name."""
    return [SiteRead(id=site, name=name) for site, name in people.list_sites(store)]


@router.post("/accounts", status_code=201)
def add_account(body: AccountSent, store: StoreHere, asking: Administrator) -> AccountRead:
    """Open an account."""
    told = accounts.add_account(
        store,
        asking.actor,
        login=body.login,
        password=body.password,
        roles=body.roles,
        name=body.name,
        person=body.person,
    )
    return _read(told)


@router.put("/accounts/{account}/roles")
def set_roles(account: str, body: RolesSent, store: StoreHere, asking: Administrator) -> AccountRead:
    """Set what an account may do."""
    return _read(accounts.set_roles(store, asking.actor, account, body.roles))


@router.put("/accounts/{account}/password", status_code=204)
def set_password(account: str, body: NewPasswordSent, store: StoreHere, asking: Administrator) -> None:
    """Set somebody else's password; their sessions end."""
    sessions.change_password(store, asking.actor, account, body.new)


@router.delete("/accounts/{account}", status_code=204)
def close_account(account: str, store: StoreHere, asking: Administrator) -> None:
    """Close an account; the person stays, since records name them."""
    accounts.close_account(store, asking.actor, account)
