"""The parsers of the commands that keep a server; what they do is in ``serving`` and loaded only when it is run."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from typing import Any

from api.domain.vocabulary import ACCOUNT_ROLES


def _lazily(name: str) -> Callable[[argparse.Namespace], int]:
    """Give a command that loads the server's code when it is run: the others start quickly without it."""

    def run(arguments: argparse.Namespace) -> int:
        code: int = import_module("api.serving").RUN[name](arguments)
        return code

    return run


def add_commands(commands: Any) -> None:
    """Add the server's commands to the parser."""
    serve = commands.add_parser("serve", help="run the server on the store that the settings name")
    _where(serve)
    serve.add_argument("--host", help="the address to listen on (default: 127.0.0.1)")
    serve.add_argument("--port", type=int, help="the port to listen on (default: 8765)")
    serve.add_argument("--certificate", type=Path, help="a TLS certificate of your own (PEM)")
    serve.add_argument("--certificate-key", type=Path, help="its key (PEM)")
    serve.set_defaults(run=_lazily("serve"))
    demo = commands.add_parser("demo", help="run a server with the sample season, on this machine only")
    demo.add_argument("--port", type=int, default=8765)
    demo.add_argument("--data", type=Path, help="keep the demo's data in this folder (default: a temporary one)")
    demo.set_defaults(run=_lazily("demo"))
    taking = commands.add_parser("import", help="take authority files and a season of files into the store")
    _where(taking)
    taking.add_argument("authorities", nargs="*", type=Path, metavar="AUTHORITY", help="authority files (JSON)")
    taking.add_argument("--trips", nargs="+", type=Path, default=[], metavar="PATH", help="trip files or folders")
    taking.set_defaults(run=_lazily("import"))
    naming = commands.add_parser("organisation", help="say whose record this is; without a name, show it or ask for it")
    _where(naming)
    naming.add_argument("name", nargs="?", help="the organisation's name")
    naming.add_argument("--zone", help="its time zone, as in Pacific/Auckland (default: the first authority's)")
    naming.add_argument(
        "--own-catch", choices=["yes", "no"], help="may a curator decide on what they collected themselves?"
    )
    naming.set_defaults(run=_lazily("organisation"))
    user = commands.add_parser("user", help="add somebody who may sign in; the password is asked for")
    _where(user)
    user.add_argument("login")
    user.add_argument("--name", default="", help="the person's name, where the person is not in the store yet")
    user.add_argument("--person", default="", help="the person's id, where the person is in the store")
    user.add_argument(
        "--role", action="append", choices=ACCOUNT_ROLES, required=True, help="may be given several times"
    )
    user.set_defaults(run=_lazily("user"))
    migrating = commands.add_parser("migrate", help="bring the store's tables to the newest step")
    _where(migrating)
    migrating.set_defaults(run=_lazily("migrate"))
    saving = commands.add_parser("backup", help="write everything to one archive, while the server runs")
    _where(saving)
    saving.add_argument("out", type=Path, metavar="FILE.zip")
    saving.add_argument("--replace", action="store_true", help="write over an archive that is there")
    saving.set_defaults(run=_lazily("backup"))
    restoring = commands.add_parser("restore", help="take a backup into an empty store")
    _where(restoring)
    restoring.add_argument("archive", type=Path, metavar="FILE.zip")
    restoring.set_defaults(run=_lazily("restore"))
    printing = commands.add_parser(
        "field-sheet", help="write a trip's sheet, to be printed and written on at the creek"
    )
    _where(printing)
    printing.add_argument("trip", help="the trip's code or id")
    printing.add_argument("--out", type=Path, required=True, metavar="FILE.pdf")
    printing.add_argument("--hauls", type=int, help="room for so many hauls (default: 4)")
    printing.add_argument(
        "--rows", type=int, help="a row for so many taxa in each haul (default: 12, which fill a page)"
    )
    printing.add_argument("--replace", action="store_true", help="write over a file that is there")
    printing.set_defaults(run=_lazily("field-sheet"))
    audit = commands.add_parser("audit", help="hold the audit chain against itself")
    audit.add_argument("deed", choices=["verify"])
    audit.add_argument(
        "--anchor", metavar="HASH", help="the audit hash that a filed report prints: is that entry still in the chain?"
    )
    _where(audit)
    audit.set_defaults(run=_lazily("audit"))


def _where(command: argparse.ArgumentParser) -> None:
    command.add_argument("--data", type=Path, help="the data folder (default: creekledger-data, or CREEKLEDGER_DATA)")
    command.add_argument("--database", help="a database address (default: SQLite in the data folder)")
