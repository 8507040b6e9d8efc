"""The command ``creekledger``: parse, call an operation, print. Exit 0 all met, 1 broken or open, 2 bad input."""

from __future__ import annotations

import argparse
import json
import shutil
import sys
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

from api import VERSION
from api.commands import add_commands
from api.domain.calendar import end_of_day, instant, parse_day
from api.exchange.faults import Fault, FaultyFileError
from api.operations.checking import Checked, Loaded, check, load
from api.printing import answers_json, answers_text
from api.progress import Progress

OK, NOT_MET, BAD_INPUT = 0, 1, 2
SCHEMA_NAMES = ("authority", "taxa", "trips")


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; gives the exit code."""
    arguments = parser().parse_args(argv)
    try:
        code: int = arguments.run(arguments)
    except FaultyFileError as problem:
        _say_faults(problem.faults)
        return BAD_INPUT
    except BrokenPipeError:
        # The reader has seen enough; closing quietly is what it expects.
        sys.stderr.close()
        return OK
    return code


def parser() -> argparse.ArgumentParser:
    """Build the parser of every command."""
    top = argparse.ArgumentParser(
        prog="creekledger",
        description="Checks a collecting season against the conditions of its permit and writes the season report. "
        "It compares your entries with limits you typed; it does not decide what is lawful.",
    )
    top.add_argument("--version", action="version", version=f"creekledger {VERSION}")
    commands = top.add_subparsers(required=True, metavar="COMMAND")
    _checking(commands.add_parser("check", help="answer every condition of the authorities from the trips"))
    _reporting(commands.add_parser("report", help="write the season report of the first authority as a PDF"))
    verifying = commands.add_parser("verify", help="hold a report against the data it carries")
    verifying.add_argument("pdf", type=Path, metavar="FILE.pdf")
    verifying.set_defaults(run=_verify)
    schemas = commands.add_parser("schema", help="print the JSON Schema of a file format")
    schemas.add_argument("name", choices=SCHEMA_NAMES)
    schemas.set_defaults(run=_schema)
    add_commands(commands)
    return top


def _inputs(command: argparse.ArgumentParser) -> None:
    command.add_argument("authorities", nargs="+", type=Path, metavar="AUTHORITY", help="authority files (JSON)")
    command.add_argument(
        "--trips", nargs="+", type=Path, default=[], metavar="PATH", help="trip files or folders (JSON, CSV, XLSX)"
    )
    command.add_argument(
        "--as-of", metavar="DATE", help="judge deadlines as at the end of this day, or at this time (default: now)"
    )
    command.add_argument("--nil", action="store_true", help="state that no collecting took place; takes no --trips")
    command.add_argument(
        "--partial", action="store_true", help="use what is good in files that have faults, naming every fault"
    )


def _checking(command: argparse.ArgumentParser) -> None:
    _inputs(command)
    command.add_argument("--json", action="store_true", help="print every finding as JSON")
    command.set_defaults(run=_check)


def _reporting(command: argparse.ArgumentParser) -> None:
    _inputs(command)
    command.add_argument("--out", type=Path, required=True, metavar="FILE.pdf", help="the file to write")
    command.set_defaults(run=_report)


def _moment(text: str | None, loaded: Loaded) -> datetime:
    """Read --as-of in the first authority's zone; a plain date means the end of that day."""
    if text is None:
        return datetime.now(UTC).replace(microsecond=0)
    zone = loaded.book.authorities[0].zone
    try:
        if len(text) != len("2027-06-11"):
            return instant(text, zone)
        # The day's last second: what is due on the day is still in time.
        return end_of_day(parse_day(text), zone) - timedelta(seconds=1)
    except ValueError:
        what = f"'{text}' is neither a day nor a time."
        raise FaultyFileError([Fault("--as-of", "", what, "Write 2027-06-11 or 2027-06-11T21:30.")]) from None


def _checked(arguments: argparse.Namespace, progress: Progress) -> Checked:
    if bool(arguments.trips) == arguments.nil:
        mend = "Give --trips PATH, or --nil alone to state that no collecting took place."
        raise FaultyFileError([Fault("--trips", "", "A season needs its trips.", mend)])
    progress.say("reading files")
    loaded = load(arguments.authorities, arguments.trips)
    progress.say("judging the season")
    checked = check(loaded, _moment(arguments.as_of, loaded), partial=arguments.partial)
    if checked.faults:
        _say_faults(checked.faults)
    return checked


def _check(arguments: argparse.Namespace) -> int:
    with Progress() as progress:
        checked = _checked(arguments, progress)
    if arguments.json:
        print(json.dumps(answers_json(checked), indent=1, ensure_ascii=False))
    else:
        print(answers_text(checked, _width()))
    return _code(checked)


def _code(checked: Checked) -> int:
    return NOT_MET if checked.outcome in ("broken", "open") else OK


def _report(arguments: argparse.Namespace) -> int:
    with Progress() as progress:
        checked = _checked(arguments, progress)
        _write_report(checked, arguments.out, progress)
    print(f"Report written to {arguments.out}")
    return OK


def _write_report(checked: Checked, out: Path, progress: Progress) -> None:
    from api.operations.reporting import frozen, report_pdf

    progress.say("freezing the snapshot")
    snapshot = frozen(checked, checked.facts.book.authorities[0].id)
    progress.say("setting the report")
    content = report_pdf(snapshot)
    try:
        out.write_bytes(content)
    except OSError as problem:
        what = f"The report cannot be written here ({problem.strerror})."
        mend = "Give a file in a folder that is there: --out FILE.pdf."
        raise FaultyFileError([Fault(str(out), "", what, mend)]) from problem


def _verify(arguments: argparse.Namespace) -> int:
    from api.operations.verifying import NotAReportError, verify

    try:
        content = arguments.pdf.read_bytes()
        with Progress() as progress:
            progress.say("reading the report back")
            problems = verify(content)
    except OSError as problem:
        raise FaultyFileError([Fault(str(arguments.pdf), "", f"cannot be read: {problem.strerror}", "")]) from problem
    except NotAReportError as problem:
        raise FaultyFileError([Fault(str(arguments.pdf), "", str(problem), "")]) from problem
    for line in problems:
        print(f"DIFFERS  {line}")
    if problems:
        print(f"{arguments.pdf}: the report and its data do not agree.")
        return NOT_MET
    print(f"{arguments.pdf}: every printed figure follows from the attached data.")
    return OK


def _schema(arguments: argparse.Namespace) -> int:
    from api.exchange.schemas import schema

    print(json.dumps(schema(arguments.name), indent=2, ensure_ascii=False))
    return OK


def _width() -> int:
    return max(60, min(140, shutil.get_terminal_size((110, 24)).columns))


def _say_faults(faults: Sequence[Fault]) -> None:
    for fault in faults:
        print(fault, file=sys.stderr)
    number = len(faults)
    print(f"{number} fault{'s' if number != 1 else ''} found; mend {'them' if number != 1 else 'it'}.", file=sys.stderr)


if __name__ == "__main__":
    sys.exit(main())
