"""Phones: a code is good once and for a quarter of an hour, a revoked phone is out, and no secret is written down."""

import dataclasses
import hashlib
import re
import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from pwdlib import PasswordHash
from pwdlib.hashers.argon2 import Argon2Hasher
from sqlalchemy import text
from sqlmodel import SQLModel, select

from api.entities.accounts import Account, Device, Enrolment, FailedTry
from api.entities.audit import AuditEntry
from api.operations import accounts, enrolments
from api.operations.accounts import (
    AccountError,
    NotAllowedError,
    TooManyTriesError,
    UnknownAccountError,
    add_account,
    close_account,
    set_roles,
)
from api.operations.enrolments import (
    CodeRefusedError,
    UnknownDeviceError,
    devices,
    enrol,
    make_enrolment,
    read_code,
    revoke_device,
)
from api.operations.sessions import (
    SignInRefusedError,
    WrongPasswordError,
    change_password,
    revoke_session,
    sessions_of,
    sign_in,
    sign_out,
    who,
)
from api.store.audit import first_broken
from api.store.unit_of_work import Actor

PASSWORD = "wet sand under nine nails"
OTHER = "the tide took our bucket"
WRONG = "seven crabs in a kettle"
HERE, THERE = "192.0.2.7", "198.51.100.9"
THE_SERVER = Actor()


@pytest.fixture(autouse=True)
def quick_hasher(monkeypatch):
    """Hash at the least cost that argon2 knows; the rules about hashes are the same."""
    hasher = PasswordHash((Argon2Hasher(time_cost=1, memory_cost=8, parallelism=1),))
    monkeypatch.setattr(accounts, "HASHER", hasher)


@pytest.fixture
def people(store):
    """Give a store with an administrator, a collector and a curator."""
    for login, role in (("maren", "administrator"), ("ilo", "collector"), ("ines", "curator")):
        add_account(store, THE_SERVER, login=login, name=login.title(), password=PASSWORD, roles=[role])
    return store


def acting(store, login):
    with store.reading() as session:
        return Actor(session.exec(select(Account.person_id).where(Account.login == login)).one())


def code_for(store, login="ilo", by="maren"):
    return make_enrolment(store, acting(store, by), login)


def enrolled(store, code, name="Creek phone", address=HERE):
    return enrol(store, code, device_name=name, address=address)


def answer(store, code, address=HERE):
    """Give what a code is answered: the seconds to wait, "refused" or "enrolled"."""
    try:
        enrolled(store, code, address=address)
    except TooManyTriesError as refused:
        return refused.seconds
    except CodeRefusedError:
        return "refused"
    return "enrolled"


def rows(store, table):
    with store.reading() as session:
        return list(session.exec(select(table)))


def entries(store):
    with store.reading() as session:
        assert first_broken(session)[1] is None
        return [
            (one.action, one.actor, one.subject, one.content)
            for one in session.exec(select(AuditEntry).order_by(AuditEntry.seq))
        ]


def at_once(*deeds):
    """Do things in threads that begin together; gives what each gave, or the error it raised."""
    begin = threading.Barrier(len(deeds))

    def run(deed):
        begin.wait(timeout=30)
        try:
            return deed()
        except AccountError as error:
            return error

    with ThreadPoolExecutor(len(deeds)) as pool:
        return list(pool.map(run, deeds))


def test_a_code_enrols_a_phone_and_signs_its_person_in(people, clock):
    ilo, maren = acting(people, "ilo").person, acting(people, "maren").person
    told = code_for(people)
    assert (told.person, told.login, told.ends_at) == (ilo, "ilo", clock() + timedelta(minutes=15))
    clock.forward(minutes=14, seconds=59)
    signed = enrolled(people, told.code, " Creek\nphone ")
    assert signed.who == who(people, signed.token)
    assert (signed.who.person, signed.who.roles, signed.ends_at) == (ilo, {"collector"}, clock() + timedelta(days=180))
    (device,) = rows(people, Device)
    assert (device.id, device.person_id, device.name) == (signed.who.device, ilo, "Creek phone")
    assert (device.enrolled_at, device.last_seen_at, device.revoked_at) == (clock(), clock(), None)
    assert signed.who.actor == Actor(ilo, device.id)
    (kept,) = rows(people, Enrolment)
    assert (kept.id, kept.made_by, kept.used_at, kept.device_id) == (told.id, maren, clock(), device.id)
    (shown,) = sessions_of(people, ilo)
    assert (shown.kind, shown.label, shown.device) == ("phone", "Creek phone", "Creek phone")
    made, used = entries(people)[-2:]
    assert made[:2] == ("enrolment code made", maren)
    assert made[3] == f'{{"enrolment":"{told.id}","login":"ilo"}}'
    assert used[:3] == ("phone enrolled", ilo, f"device {device.id}")
    assert used[3] == (
        f'{{"address":"192.0.2.7","enrolment":"{told.id}","login":"ilo","name":"Creek phone",'
        f'"session":"{signed.session}"}}'
    )


def test_a_code_is_two_groups_of_five_of_crockfords_signs_and_only_its_hash_is_kept(people):
    # Crockford's base 32 leaves out I, L, O and U (from memory).
    codes = [code_for(people).code for _ in range(20)]
    assert all(re.fullmatch("[0-9A-HJKMNP-TV-Z]{5}-[0-9A-HJKMNP-TV-Z]{5}", code) for code in codes)
    assert len(set(codes)) == 20
    assert len(set("".join(codes))) > 25
    assert (len(enrolments.SIGNS), set(enrolments.SIGNS) & set("ILOU")) == (32, set())
    kept = {one.code_hash for one in rows(people, Enrolment)}
    assert kept == {hashlib.sha256(code.replace("-", "").encode()).hexdigest() for code in codes}


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("ABCDE-FGH10", "ABCDEFGH10"),
        ("abcde fghio", "ABCDEFGH10"),
        ("  AbCdE\tFgHlO \n", "ABCDEFGH10"),
        ("a-b-c-d-e-f-g-h-L-o", "ABCDEFGH10"),
        ("ABCDE\u2013FGH\u00a0I0", "ABCDEFGH10"),
        ("\uff21BCDE\uff0dFGH1\uff10", "ABCDEFGH10"),
        ("0O1Il", "00111"),
        ("uvw", "UVW"),
    ],
)
def test_a_code_is_read_as_it_was_meant(typed, meant):
    assert read_code(typed) == meant


def test_a_code_may_be_typed_carelessly(people, monkeypatch):
    drawn = iter("ABCDE0001H")
    monkeypatch.setattr(enrolments.secrets, "choice", lambda _signs: next(drawn))
    assert code_for(people).code == "ABCDE-0001H"
    assert enrolled(people, " abcde - ooo lh ").who.login == "ilo"


def test_a_code_is_good_once(people):
    code = code_for(people).code
    assert [answer(people, code) for _ in range(2)] == ["enrolled", "refused"]
    assert len(rows(people, Device)) == 1


def test_a_code_ends_after_a_quarter_of_an_hour(people, clock):
    code = code_for(people).code
    clock.forward(minutes=15)
    assert answer(people, code) == "refused"


def test_a_wrong_code_is_told_like_a_used_and_an_ended_one(people, clock):
    used, ended, closed = (code_for(people, login).code for login in ("ilo", "ilo", "ines"))
    enrolled(people, used)
    close_account(people, THE_SERVER, "ines")
    told = []
    for code in (used, closed, "ABCDE-FGHJK", "", "\0", "\ud800", "Z" * 100_000):
        with pytest.raises(CodeRefusedError) as refused:
            enrolled(people, code, address=THERE)
        told.append((str(refused.value), entries(people)[-1]))
    clock.forward(minutes=15)
    with pytest.raises(CodeRefusedError) as refused:
        enrolled(people, ended, address=THERE)
    told.append((str(refused.value), entries(people)[-1]))
    entry = ("enrolment refused", "system", "enrolment unknown", '{"address":"198.51.100.9"}')
    assert set(told) == {("this code is not valid (any more); ask for a new one", entry)}
    assert len([one for one in rows(people, FailedTry) if one.subject == f"address {THERE}"]) == 8


def test_a_code_of_a_closed_account_is_not_taken_whatever_closed_it(people):
    code = code_for(people).code
    with people.writing(Actor()) as work:
        work.session.exec(select(Account).where(Account.login == "ilo")).one().closed_at = work.at
    assert answer(people, code) == "refused"


def test_wrong_codes_count_as_tries_of_the_address_and_right_ones_do_not(people, clock):
    for _ in range(25):
        assert answer(people, code_for(people).code, THERE) == "enrolled"
    assert [answer(people, f"wrong{number}") for number in range(21)] == ["refused"] * 20 + [1]
    code = code_for(people).code
    assert answer(people, code) == 1
    with pytest.raises(TooManyTriesError):
        sign_in(people, "ilo", PASSWORD, address=HERE, label="desk")
    assert answer(people, code, THERE) == "enrolled"
    clock.forward(seconds=1)
    assert [answer(people, "wrong"), answer(people, "wrong")] == ["refused", 2]


def test_a_code_that_is_right_among_many_wrong_ones_at_once_is_not_taken(people, monkeypatch):
    code, look_up = code_for(people).code, enrolments._open_enrolment

    def look_up_while_others_guess(*asked):
        monkeypatch.setattr(enrolments, "_open_enrolment", look_up)
        found = look_up(*asked)
        with ThreadPoolExecutor(1) as pool:
            guessed = pool.submit(lambda: [answer(people, f"wrong{number}") for number in range(20)])
        assert guessed.result() == ["refused"] * 20
        return found

    monkeypatch.setattr(enrolments, "_open_enrolment", look_up_while_others_guess)
    assert answer(people, code) == 1
    assert rows(people, Device) == []


@pytest.mark.parametrize("round_", range(3))
def test_of_phones_with_one_code_at_once_one_gets_it(people, round_):
    code = code_for(people).code
    told = at_once(*(lambda number=number: enrolled(people, code, f"phone {number}") for number in range(6)))
    assert sorted(type(one).__name__ for one in told) == ["CodeRefusedError"] * 5 + ["SignedIn"]
    (device,), (kept,) = rows(people, Device), rows(people, Enrolment)
    assert kept.device_id == device.id
    assert len(rows(people, FailedTry)) == 5
    assert len(sessions_of(people, acting(people, "ilo").person)) == 1


def test_a_code_is_made_by_an_administrator_for_anybody_and_by_everybody_for_themselves(people):
    assert code_for(people, "ilo", by="ilo").person == acting(people, "ilo").person
    assert make_enrolment(people, acting(people, "maren"), acting(people, "ilo").person).login == "ilo"
    before = entries(people)
    for actor in (acting(people, "ines"), Actor("nobody"), Actor("")):
        with pytest.raises(NotAllowedError, match="may not enrol another's phone"):
            make_enrolment(people, actor, "ilo")
    with pytest.raises(UnknownAccountError):
        code_for(people, "nobody")
    assert entries(people) == before


def test_the_servers_own_code_is_entered_as_nobodys_and_noted_as_the_servers(people):
    make_enrolment(people, THE_SERVER, "ilo")
    assert rows(people, Enrolment)[0].made_by is None
    assert entries(people)[-1][1] == "system"


def test_a_phone_without_a_name_is_a_phone(people):
    enrolled(people, code_for(people).code, "\0 ")
    assert devices(people)[0].name == "phone"


def test_phones_are_listed_newest_first_with_who_has_them_and_whether_they_are_signed_in(people, clock):
    def another(login, name):
        clock.forward(seconds=1)
        return enrolled(people, code_for(people, login).code, name)

    lost, out = another("ilo", "lost"), another("ilo", "signed out")
    kept = another("maren", "kept")
    another("ines", "closed")
    clock.forward(minutes=10)
    who(people, kept.token)
    revoke_device(people, THE_SERVER, lost.who.device)
    sign_out(people, out.session)
    close_account(people, THE_SERVER, "ines")
    told = devices(people)
    assert [(one.name, one.person_name, one.signed_in, one.revoked_at) for one in told] == [
        ("closed", "Ines", False, None),
        ("kept", "Maren", True, None),
        ("signed out", "Ilo", False, None),
        ("lost", "Ilo", False, clock()),
    ]
    assert (told[1].id, told[1].person) == (kept.who.device, kept.who.person)
    assert (told[1].enrolled_at, told[1].last_seen_at) == (clock() - timedelta(minutes=10, seconds=1), clock())
    clock.forward(days=180)
    assert not any(one.signed_in for one in devices(people))


def test_a_revoked_phone_is_out_with_its_sessions_and_no_other(people):
    lost, kept = (enrolled(people, code_for(people).code) for _ in range(2))
    browser = sign_in(people, "ilo", PASSWORD, address=HERE, label="desk")
    revoke_device(people, acting(people, "maren"), lost.who.device)
    revoke_device(people, acting(people, "maren"), lost.who.device)
    assert [who(people, one.token) for one in (lost, kept, browser)] == [None, kept.who, browser.who]
    assert {one.id for one in sessions_of(people, kept.who.person)} == {kept.session, browser.session}
    noted = [entry for entry in entries(people) if entry[0] == "device revoked"]
    content = f'{{"name":"Creek phone","person":"{lost.who.person}"}}'
    assert noted == [("device revoked", acting(people, "maren").person, f"device {lost.who.device}", content)]


def test_a_phone_is_revoked_by_its_owner_or_an_administrator_and_nobody_else(people):
    told = enrolled(people, code_for(people).code)
    for actor in (acting(people, "ines"), Actor("nobody"), Actor("")):
        with pytest.raises(NotAllowedError, match="may not revoke another's phone"):
            revoke_device(people, actor, told.who.device)
    for unknown in ("nothing", "\0"):
        with pytest.raises(UnknownDeviceError, match="take one from the list"):
            revoke_device(people, acting(people, "maren"), unknown)
    assert who(people, told.token) is not None
    revoke_device(people, told.who.actor, told.who.device)
    assert who(people, told.token) is None


def a_day_of_signing_in(store):
    """Do everything that has to do with a secret; gives every secret used, and the results shown."""
    maren = acting(store, "maren")
    told, code = [], code_for(store)
    told += [code, enrolled(store, code.code)]
    told.append(sign_in(store, "ilo", PASSWORD, address=HERE, label="desk"))
    for login, typed in (("ilo", WRONG), (WRONG, PASSWORD)):
        with pytest.raises(SignInRefusedError):
            sign_in(store, login, typed, address=HERE, label="desk")
    with pytest.raises(CodeRefusedError):
        enrolled(store, code.code)
    with pytest.raises(WrongPasswordError):
        change_password(store, acting(store, "ilo"), "ilo", OTHER, old=WRONG)
    change_password(store, acting(store, "ilo"), "ilo", OTHER, old=PASSWORD, keep=told[-1].session)
    change_password(store, maren, "ines", OTHER)
    sign_out(store, told[-1].session)
    told.append(sign_in(store, "ines", OTHER, address=HERE, label="desk"))
    revoke_session(store, maren, told[-1].session)
    told.append(code_for(store))
    told.append(enrolled(store, told[-1].code))
    revoke_device(store, maren, told[-1].who.device)
    told.append(code_for(store, "ines"))
    set_roles(store, maren, "ines", ["collector"])
    close_account(store, maren, "ilo")
    codes = [one.code for one in told if hasattr(one, "code")]
    tokens = [one.token for one in told if hasattr(one, "token")]
    return [PASSWORD, OTHER, WRONG, *tokens, *codes, *(code.replace("-", "") for code in codes)], told


def test_no_password_token_code_or_hash_of_one_is_in_the_audit(people):
    secrets, _ = a_day_of_signing_in(people)
    hashes = [hashlib.sha256(one.encode()).hexdigest() for one in secrets]
    with people.reading() as session:
        kept = [*session.exec(text("SELECT password_hash FROM account")).scalars()]
        for table, column in (("session", "token_hash"), ("enrolment", "code_hash")):
            found = set(session.exec(text(f"SELECT {column} FROM {table}")).scalars())
            assert found <= set(hashes)
            assert found
        written = "\n".join(str(tuple(row)) for row in session.exec(text("SELECT * FROM audit_entry")))
    assert len(written.splitlines()) > 20
    assert "phone enrolled" in written
    for secret in (*secrets, *hashes, *kept, *(one.rsplit("$", 1)[1] for one in kept)):
        assert secret.lower() not in written.lower()
    assert "argon2" not in written
    actions = {entry[0] for entry in entries(people)}
    assert actions == {
        "person added", "account opened", "account closed", "roles set", "password changed", "password change refused",
        "signed in", "sign-in refused", "signed out", "session revoked", "enrolment code made", "phone enrolled",
        "enrolment refused", "device revoked",
    }  # fmt: skip


def test_no_password_token_or_code_is_anywhere_in_the_database_or_in_what_is_shown(people):
    secrets, told = a_day_of_signing_in(people)
    with people.reading() as session:
        written = "\n".join(
            str(tuple(row))
            for table in SQLModel.metadata.sorted_tables
            for row in session.exec(text(f"SELECT * FROM {table.name}"))
        )
    shown = repr(told) + repr([dataclasses.replace(one) for one in told])
    assert "login='ilo'" in shown
    for secret in secrets:
        assert secret not in written
        assert secret not in shown
