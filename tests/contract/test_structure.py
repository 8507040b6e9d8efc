"""Imports run one way; the top level holds what the design card names; no path or host stands in a file."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
ALLOWED = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "LICENSE",
    "api",
    "frontend",
    "reports",
    "tests",
    "sample_trips",
}


def tracked() -> list[str]:
    done = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True)
    return done.stdout.splitlines()


def test_imports_run_one_way() -> None:
    command = [str(Path(sys.executable).with_name("lint-imports")), "--no-cache"]

    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout
    assert "0 broken" in done.stdout


def test_the_domain_imports_without_a_web_or_data_library() -> None:
    code = (
        "import sys, api.domain.judge, api.domain.remaining, api.domain.choice;"
        "bad = {'pydantic', 'pandas', 'geopandas', 'reportlab', 'pikepdf', 'sqlite3', 'openpyxl'} & set(sys.modules);"
        "sys.exit(', '.join(bad) or 0)"
    )

    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_top_level_is_the_design_card() -> None:
    top = {name.split("/")[0] for name in tracked()}

    assert {name for name in top if not name.startswith(".")} <= ALLOWED


def test_lock_files_name_no_host_and_pin_every_package_by_hash() -> None:
    for name in ("requirements.lock", "requirements-test.lock"):
        text = (ROOT / ".ci" / name).read_text(encoding="utf-8")
        assert "://" not in text
        pins = re.findall(r"^\S+==\S+", text, flags=re.MULTILINE)
        assert len(pins) > 20
        assert text.count("--hash=sha256:") >= len(pins)


def test_the_runtime_lock_is_part_of_the_test_lock() -> None:
    pins = [
        set(re.findall(r"^(\S+==\S+)", (ROOT / ".ci" / name).read_text(encoding="utf-8"), flags=re.MULTILINE))
        for name in ("requirements.lock", "requirements-test.lock")
    ]

    assert pins[0] <= pins[1]
