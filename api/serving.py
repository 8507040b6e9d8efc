"""What the commands that keep a server do, from serve and demo to field-sheet and audit."""

from __future__ import annotations

import argparse
import getpass
import logging
import os
import signal
import socket
import ssl
import sys
import tempfile
import threading
from collections.abc import Callable
from importlib import resources
from pathlib import Path
from typing import Any

import structlog
import uvicorn
from pydantic import ValidationError

from api.domain.reckoning.wording import plural
from api.exchange.faults import Fault, FaultyFileError
from api.exchange.plain_words import sentence
from api.main import build_app
from api.operations import accounts, auditing, demonstration, field_sheets, importing, keeping, living, organisations
from api.operations.trips import UnknownTripError
from api.settings import LOOPBACK, Settings, UnknownSettingError, read_settings
from api.store.backups import BadBackupError, NotEmptyError
from api.store.files import DamagedFileError
from api.store.migrating import NewerDatabaseError, OrphanError, newest_step
from api.store.unit_of_work import Actor, Store, now

OK, BROKEN = 0, 1

_REFUSALS = (
    DamagedFileError,
    BadBackupError,
    NotEmptyError,
    NewerDatabaseError,
    OrphanError,
    accounts.AccountError,
    auditing.NoHashError,
    organisations.OrganisationError,
    UnknownTripError,
    keeping.NoStoreError,
    keeping.StoreUnreachableError,
)


def sample_folder() -> Path:
    """Give the folder of the sample season: beside the package in a checkout, inside it when installed."""
    beside = Path(__file__).resolve().parent.parent / "sample_trips"
    return beside if beside.is_dir() else Path(str(resources.files("api") / "sample_trips"))


def _guarded(command: Callable[[argparse.Namespace], int]) -> Callable[[argparse.Namespace], int]:
    """Tell a refusal as a fault of what was given, not as a failure of the program."""

    def run(arguments: argparse.Namespace) -> int:
        try:
            return command(arguments)
        except _REFUSALS as refused:
            raise FaultyFileError([Fault("creekledger", "", f"{refused}.", "")]) from refused

    return run


def _settings(arguments: argparse.Namespace, **more: Any) -> Settings:
    """Read the settings: what the command line says, else the environment, else the defaults."""
    names = ("data", "database", "host", "port", "certificate", "certificate_key")
    given = {name: value for name in names if (value := getattr(arguments, name, None)) is not None}
    try:
        return read_settings(dict(os.environ), **{**given, **more})
    except UnknownSettingError as problem:
        raise FaultyFileError([Fault("settings", "", f"{problem}.", "Mend the name or unset it.")]) from problem
    except ValidationError as problem:
        faults = [
            Fault("settings", ".".join(str(step) for step in one["loc"]), _sentence(one["msg"]), "")
            for one in problem.errors()
        ]
        raise FaultyFileError(faults) from problem


def _sentence(message: str) -> str:
    """Give what is wrong with a setting, without the checker's own word before it."""
    return sentence(message.removeprefix("Value error, "))


def _serve(arguments: argparse.Namespace) -> int:
    settings = _settings(arguments)
    with keeping.opened(keeping.open_store(settings)) as store:
        if _named(store).demo and settings.host not in LOOPBACK:
            raise organisations.OrganisationOfDemoError(
                "this store holds the demo, whose passwords everybody knows; serve it on 127.0.0.1 only, or start a "
                "record of your own with --data NEW-FOLDER"
            )
        return _run(settings, store)


def _named(store: Store) -> organisations.OrganisationTold:
    """Give the organisation; a terminal is asked for it where there is none, others are told what is missing."""
    try:
        return organisations.organisation(store)
    except organisations.OrganisationMissingError:
        if not sys.stdin.isatty():
            raise
    print("Whose record is this? It has no organisation yet.")
    name = input("Name of the organisation: ")
    zone = input("Its time zone (Enter: that of the first authority): ").strip()
    return organisations.set_organisation(store, Actor(), name=name, zone=zone or None)


def _organisation(arguments: argparse.Namespace) -> int:
    with keeping.opened(keeping.open_store(_settings(arguments))) as store:
        own_catch = None if arguments.own_catch is None else arguments.own_catch == "yes"
        if (arguments.name, arguments.zone, own_catch) == (None, None, None):
            told = _named(store)
        else:
            told = organisations.set_organisation(
                store, Actor(), name=arguments.name, zone=arguments.zone, own_catch_approved=own_catch
            )
        whose = (
            "curators may decide on their own catch" if told.own_catch_approved else "nobody decides on their own catch"
        )
        print(f"{told.name}, {told.zone}; {whose}.")
        return OK


def _demo(arguments: argparse.Namespace) -> int:
    with tempfile.TemporaryDirectory(prefix="creekledger-demo-") as folder:
        settings = _settings(arguments, data=arguments.data or Path(folder), demo=True, log="text")
        with keeping.opened(keeping.open_store(settings, demonstration.clock_in(settings.data, now))) as store:
            if not demonstration.is_set_up(store):
                print("Taking in the sample season ...", flush=True)
                demonstration.set_up(store, settings.files, sample_folder())
            print("DEMO DATA: an invented aquarium in an invented estuary, on this machine only.")
            for one in demonstration.ACCOUNTS:
                print(f"  {one.role:<14} login {one.login:<20} password {one.password}")
            return _run(settings, store)


def _run(settings: Settings, store: Store) -> int:
    """Serve until stopped."""
    _log_as(settings.log)
    _check_certificate(settings)
    _free_port(settings)
    # Told to end, the server ends its work first; then this raises, so that what was made for the time is let go of.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(OK))
    threading.Thread(target=living.warm, args=(store,), daemon=True).start()
    print(f"Open {_address(settings)} in a browser; Ctrl-C stops.", flush=True)
    uvicorn.run(
        build_app(settings, store),
        host=settings.host,
        port=settings.port,
        log_config=None,
        access_log=False,
        server_header=False,
        proxy_headers=settings.behind_proxy,
        ssl_certfile=settings.certificate,
        ssl_keyfile=settings.certificate_key,
        timeout_graceful_shutdown=10,
    )
    return OK


def _address(settings: Settings) -> str:
    """Give the address that people open; who listens on every one is found under the machine's name."""
    host = socket.gethostname() if settings.host in ("0.0.0.0", "::") else settings.host  # noqa: S104 - compared only
    named = f"[{host}]" if ":" in host else host
    return f"{'https' if settings.certificate else 'http'}://{named}:{settings.port}/"


def _check_certificate(settings: Settings) -> None:
    """Refuse a certificate that cannot be used before anything listens."""
    if settings.certificate is None:
        return
    try:
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(settings.certificate, settings.certificate_key)
    except OSError as problem:
        files = f"{settings.certificate} with the key {settings.certificate_key}"
        what = f"The certificate {files} cannot be used ({problem.strerror or problem})."
        mend = "Give the two files in PEM, the certificate with its chain, and the key that belongs to it."
        raise FaultyFileError([Fault("--certificate", "", what, mend)]) from problem


def _free_port(settings: Settings) -> None:
    family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((settings.host, settings.port))
        except OSError as problem:
            what = f"Port {settings.port} on {settings.host} cannot be used ({problem.strerror})."
            mend = "Give another one with --port, or stop what listens there."
            raise FaultyFileError([Fault("--port", "", what, mend)]) from problem


def _log_as(kind: str) -> None:
    """Write one line a request to standard error: as JSON for machines, or plain for people."""
    logging.basicConfig(level=logging.WARNING, stream=sys.stderr)
    renderer = structlog.processors.JSONRenderer() if kind == "json" else structlog.dev.ConsoleRenderer(colors=False)
    structlog.configure(
        processors=[
            structlog.processors.add_log_level,
            structlog.processors.TimeStamper(fmt="iso", utc=True),
            structlog.processors.format_exc_info,
            renderer,
        ],
        logger_factory=structlog.PrintLoggerFactory(file=sys.stderr),
    )


def _import(arguments: argparse.Namespace) -> int:
    settings = _settings(arguments)
    if not arguments.authorities and not arguments.trips:
        mend = "Give authority files, --trips PATH, or both."
        raise FaultyFileError([Fault("import", "", "There is nothing to take in.", mend)])
    with keeping.opened(keeping.open_store(settings)) as store:
        taken = importing.import_files(store, settings.files, arguments.authorities, arguments.trips, Actor())
        parts = (
            plural(taken.authorities, "authority", "authorities"),
            plural(taken.taxa, "taxon", "taxa"),
            plural(taken.areas, "area"),
            plural(taken.trips, "trip"),
            plural(taken.lines, "catch line"),
            plural(taken.papers, "other record"),
        )
        print(f"Taken in: {', '.join(parts)}. What was there already is not counted.")
        return OK


def _user(arguments: argparse.Namespace) -> int:
    with keeping.opened(keeping.open_store(_settings(arguments))) as store:
        if not arguments.name and not arguments.person:
            mend = 'Give --name "THEIR NAME" for a new person, or --person ID for one who is here.'
            raise FaultyFileError([Fault("user", "", f"It is not said who '{arguments.login}' is.", mend)])
        if sys.stdin.isatty():
            password = getpass.getpass("Password: ")
            if getpass.getpass("Again: ") != password:
                raise FaultyFileError([Fault("password", "", "The two passwords differ.", "Type it twice alike.")])
        else:
            password = sys.stdin.readline().rstrip("\n")
        accounts.add_account(
            store,
            Actor(),
            person=arguments.person,
            name=arguments.name,
            login=arguments.login,
            password=password,
            roles=tuple(arguments.role),
        )
        print(f"{arguments.login} may sign in as {', '.join(arguments.role)}.")
        return OK


def _migrate(arguments: argparse.Namespace) -> int:
    with keeping.opened(keeping.open_store(_settings(arguments))):
        pass
    print(f"The tables are at step {newest_step()}.")
    return OK


def _backup(arguments: argparse.Namespace) -> int:
    _free_to_write(arguments.out, replace=arguments.replace)
    try:
        saved = keeping.backup(_settings(arguments), arguments.out)
    except OSError as problem:
        what = f"The backup cannot be written ({problem.strerror or problem})."
        mend = "Give a file in a folder that is there and may be written to."
        raise FaultyFileError([Fault(str(arguments.out), "", what, mend)]) from problem
    print(f"{arguments.out}: {plural(sum(saved.rows.values()), 'row')} and {plural(saved.files, 'file')}.")
    return OK


def _restore(arguments: argparse.Namespace) -> int:
    saved = keeping.restore(_settings(arguments), arguments.archive)
    print(
        f"Restored {plural(sum(saved.rows.values()), 'row')} and {plural(saved.files, 'file')}; the audit chain stands."
    )
    return OK


def _field_sheet(arguments: argparse.Namespace) -> int:
    _free_to_write(arguments.out, replace=arguments.replace)
    wanted = {}
    for what, most in (("hauls", field_sheets.MOST_HAULS), ("rows", field_sheets.MOST_ROWS)):
        given = getattr(arguments, what)
        if given is not None:
            if not 1 <= given <= most:
                mend = f"Give a number from 1 to {most}."
                raise FaultyFileError([Fault(f"--{what}", "", f"A sheet cannot have {given} {what}.", mend)])
            wanted[what] = given
    with keeping.opened(keeping.existing_store(_settings(arguments))) as store:
        material = field_sheets.sheet_material(store, arguments.trip, **wanted)
        content = field_sheets.sheet_pdf(material)
    try:
        arguments.out.write_bytes(content)
    except OSError as problem:
        what = f"The sheet cannot be written ({problem.strerror or problem})."
        mend = "Give a file in a folder that is there and may be written to."
        raise FaultyFileError([Fault(str(arguments.out), "", what, mend)]) from problem
    rows, hauls = plural(len(material.rows), "taxon", "taxa"), plural(material.hauls, "haul")
    print(f"{arguments.out}: trip {material.trip.id}, {hauls}, {rows} each.")
    return OK


def _free_to_write(path: Path, *, replace: bool) -> None:
    if path.exists() and not replace:
        mend = "Give another name, or --replace to write over it."
        raise FaultyFileError([Fault(str(path), "", "There is such a file already.", mend)])


def _audit(arguments: argparse.Namespace) -> int:
    with keeping.opened(keeping.existing_store(_settings(arguments))) as store:
        anchored = None if arguments.anchor is None else auditing.anchored(store, arguments.anchor)
        stood, broken = (anchored.stood, anchored.broken) if anchored else auditing.verify_chain(store)
        if broken is None:
            print(f"The audit chain stands: {plural(stood, 'entry', 'entries')}.")
        else:
            print(f"The audit chain is BROKEN: {broken.what}. {plural(stood, 'entry', 'entries')} before it stand.")
        if anchored is not None:
            print(_anchor_words(anchored))
        return OK if broken is None and (anchored is None or anchored.holds) else BROKEN


def _anchor_words(anchored: auditing.Anchored) -> str:
    if anchored.entry is None:
        return (
            "The anchor is NOT in the chain: no entry bears that hash. The report was filed from another store, the "
            "hash was misread, or the chain was written anew since."
        )
    if not anchored.holds:
        return f"The anchor stands at entry {anchored.entry}, but the chain does not stand up to it."
    return (
        f"The anchor holds: it is entry {anchored.entry} of {anchored.stood} that stand, as it was when it was printed."
    )


RUN = {
    "serve": _guarded(_serve),
    "demo": _guarded(_demo),
    "import": _guarded(_import),
    "organisation": _guarded(_organisation),
    "user": _guarded(_user),
    "migrate": _guarded(_migrate),
    "backup": _guarded(_backup),
    "restore": _guarded(_restore),
    "field-sheet": _guarded(_field_sheet),
    "audit": _guarded(_audit),
}
"""What each command does, by its name."""
