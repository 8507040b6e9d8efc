"""The other commands: report, verify, schema; and that each is documented."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from api.cli import main, parser
from reports.pdf_text import lines_of
from tests.builders import SAMPLE, trips_file, write_season

ROOT = SAMPLE.parent


def report(tmp_path: Path, name: str = "report.pdf") -> Path:
    authority, trips = write_season(tmp_path)
    out = tmp_path / name
    code = main(["report", str(authority), "--trips", str(trips), "--as-of", "2028-07-02", "--out", str(out)])
    assert code == 0
    return out


def test_report_is_written_and_verified(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = report(tmp_path)

    assert out.read_bytes().startswith(b"%PDF-")
    assert main(["verify", str(out)]) == 0
    assert "every printed figure follows from the attached data" in capsys.readouterr().out


def test_a_report_made_in_part_says_so_on_its_first_page(tmp_path: Path) -> None:
    lines = [{"id": "L1", "taxon": "Galaxias maculatus", "count": "many"}]
    authority, trips = write_season(tmp_path, None, trips_file(lines))
    out = tmp_path / "report.pdf"

    command = ["report", str(authority), "--trips", str(trips), "--as-of", "2028-07-02", "--partial", "--out", str(out)]
    assert main(command) == 0
    first = " ".join(lines_of(out.read_bytes(), 0))
    assert "Partial. Files had 1 fault" in first
    assert "nothing caught" not in first
    assert main(["verify", str(out)]) == 0


def test_report_says_where_it_cannot_write(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    authority, trips = write_season(tmp_path)
    blocked = tmp_path / "file"
    blocked.write_text("in the way", encoding="utf-8")

    code = main(["report", str(authority), "--trips", str(trips), "--out", str(blocked / "report.pdf")])
    assert code == 2
    assert "cannot be written" in capsys.readouterr().err


@pytest.mark.parametrize("content", [b"", b"not a PDF", b"%PDF-1.7\nbut no more"])
def test_verify_refuses_what_is_no_report(tmp_path: Path, capsys: pytest.CaptureFixture[str], content: bytes) -> None:
    path = tmp_path / "other.pdf"
    path.write_bytes(content)

    assert main(["verify", str(path)]) == 2
    err = capsys.readouterr().err
    assert "other.pdf" in err
    assert "Traceback" not in err


def test_verify_of_a_missing_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["verify", str(tmp_path / "none.pdf")]) == 2
    assert "none.pdf" in capsys.readouterr().err


@pytest.mark.parametrize("name", ["authority", "taxa", "trips"])
def test_schema_is_a_json_schema(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schema", name]) == 0
    schema = json.loads(capsys.readouterr().out)
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert schema["title"]


def test_nothing_moves_on_a_pipe(tmp_path: Path) -> None:
    authority, trips = write_season(tmp_path)
    command = [sys.executable, "-m", "api.cli", "check", str(authority), "--trips", str(trips), "--as-of", "2027-12-01"]

    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False, timeout=60)
    assert done.returncode == 0
    assert done.stderr == ""
    assert "\r" not in done.stdout


def test_every_command_stands_in_the_readme() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    actions = [
        action for action in parser()._actions if hasattr(action, "choices") and isinstance(action.choices, dict)
    ]
    [commands] = actions
    assert commands.choices
    for name in commands.choices:
        assert f"creekledger {name}" in text
