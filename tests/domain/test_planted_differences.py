"""Differences planted in a copy of the core: the shared cases must turn red, as they do for the phone's checks."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.slow

ROOT = Path(__file__).resolve().parents[2]

_RUN = """
import json, sys
sys.path[:0] = sys.argv[1:3]
import api.domain.judge
assert api.domain.judge.__file__.startswith(sys.argv[1]), "the copy is not what runs"
from tests.domain.test_cases import every_case, test_the_judge_answers_as_expected as check
red, green = [], 0
for case in every_case():
    if case.check != "judge":
        continue
    try:
        check(case)
        green += 1
    except Exception:
        red.append(case.name)
print(json.dumps({"red": red, "green": green}))
"""

PLANTED = {
    "counts.py": ("return amount <= limit", "return amount < limit", "take_limits"),
    "places/positions.py": ("self.radius_m is None else radius_95(", "self.radius_m is None else 0.001 * radius_95(", "areas"),
    "rules/stages.py": ('== "is not"', '== "may be"', "stage_and_sex"),
    "rules/areas.py": ("answer.leaves_for_certain", "answer.enters_for_certain", "areas"),
    "calendar.py": ("return first <= day <= last", "return first <= day < last", "seasons"),
}  # fmt: skip
"""By file: what stands there, what is put in its place, and the cases that must turn red."""


def told_by(copy: Path) -> dict[str, list[str] | int]:
    """Run the judge's cases with the core of a copy; give the names of those that fail, and how many pass."""
    command = [sys.executable, "-c", _RUN, str(copy), str(ROOT)]
    done = subprocess.run(command, cwd=copy, capture_output=True, text=True, check=True)
    found: dict[str, list[str] | int] = json.loads(done.stdout.splitlines()[-1])
    return found


@pytest.fixture
def copy(tmp_path):
    """Give a folder with a copy of the server's code."""
    shutil.copytree(ROOT / "api", tmp_path / "api", ignore=shutil.ignore_patterns("built", "__pycache__"))
    return tmp_path


def test_the_unchanged_copy_passes(copy):
    told = told_by(copy)
    assert told["red"] == []
    assert told["green"] > 300


@pytest.mark.parametrize("name", PLANTED)
def test_a_planted_difference_turns_the_shared_cases_red(copy, name):
    stands, planted, cases = PLANTED[name]
    file = copy / "api" / "domain" / name
    text = file.read_text("utf-8")
    assert text.count(stands) == 1, "the place of the planted difference is no longer there, or no longer the only one"
    file.write_text(text.replace(stands, planted), "utf-8")
    red = told_by(copy)["red"]
    assert any(one.startswith(f"{cases}: ") for one in red), red[:5]
