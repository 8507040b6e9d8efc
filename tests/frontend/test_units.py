"""The frontend's own tests and types, run with the Node of the environment; and that a planted difference shows."""

from __future__ import annotations

import json
import re
import shutil
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.domain.case_files import FOLDER, every_case

ROOT = Path(__file__).resolve().parents[2]
VITEST = "node_modules/vitest/vitest.mjs"
LEAST = 1083
"""As many unit tests stood before: fewer means that some have vanished."""

pytestmark = pytest.mark.slow


@dataclass(frozen=True)
class Told:
    """What a run of the unit tests came to: how many passed, and the names of those that did not."""

    passed: int
    failed: list[str]
    left_out: list[str]


def told_by(report: Path) -> Told:
    found = json.loads(report.read_text("utf-8"))
    tests = [one for file in found["testResults"] for one in file["assertionResults"]]
    broken = [
        file["name"] for file in found["testResults"] if file["status"] != "passed" and not file["assertionResults"]
    ]
    return Told(
        passed=sum(one["status"] == "passed" for one in tests),
        failed=broken
        + [f"{one['fullName']}: {''.join(one['failureMessages'])[:600]}" for one in tests if one["status"] == "failed"],
        left_out=[one["fullName"] for one in tests if one["status"] not in ("passed", "failed")],
    )


def run_units(node, report: Path, *more: str, **environment: str) -> Told:
    """Run the unit tests; a failed one ends Node with an error, and the report tells which it was."""
    try:
        node(VITEST, "run", "--reporter=json", f"--outputFile={report}", *more, **environment)
    except RuntimeError:
        if not report.exists():
            raise
    return told_by(report)


def test_every_unit_test_of_the_frontend_passes_and_none_is_left_out(node, tmp_path, record_property):
    told = run_units(node, tmp_path / "units.json")
    record_property("frontend unit tests", told.passed)
    assert told.failed == []
    assert told.left_out == []
    assert told.passed >= LEAST


@pytest.mark.parametrize(
    "command",
    [
        ("node_modules/svelte-check/bin/svelte-check", "--tsconfig", "./tsconfig.json", "--fail-on-warnings"),
        ("node_modules/typescript/bin/tsc", "-p", "src/checks"),
        ("node_modules/typescript/bin/tsc", "-p", "src/core"),
        ("node_modules/typescript/bin/tsc", "-p", "src/worker"),
        ("node_modules/typescript/bin/tsc", "-p", "build"),
        ("node_modules/typescript/bin/tsc", "-p", "tsconfig.tests.json"),
    ],
    ids=["app", "checks, without page and network", "core, likewise", "worker", "build", "tests"],
)
def test_types_hold(node, command):
    node(*command)


MAY_KNOW = {
    "checks": {"checks"},
    "core": {"core", "checks"},
    "device": {"device", "core"},
    "sync": {"sync", "device", "core"},
    "worker": {"worker"},
    "ui": {"ui", "core"},
    "map": {"map", "ui", "checks"},
    "checking": {"checking", "device", "core", "checks"},
    "field": {"field", "checking", "map", "ui", "sync", "device", "core", "checks"},
    "desk": {"desk", "map", "ui", "device", "core", "checks"},
}
"""Which folders of the frontend's sources a folder may import from; tests may look at more."""


@pytest.mark.parametrize("folder", MAY_KNOW)
def test_imports_run_one_way(folder):
    home = ROOT / "frontend" / "src"
    found = 0
    for file in [*(home / folder).rglob("*.ts"), *(home / folder).rglob("*.svelte")]:
        if file.name.endswith((".test.ts", ".worlds.ts")) or file.parent.name == "testing":
            continue
        for name in re.findall(r'from "(\.[^"]*)"', file.read_text("utf-8")):
            target = (file.parent / name).resolve().relative_to(home).parts[0]
            assert target in MAY_KNOW[folder], f"{file.name} imports {name}"
            found += 1
    assert found > 0 or folder in ("worker", "ui")


def test_the_checks_know_no_clock():
    """The moment of judging is handed in: a clock of their own would make them answer otherwise each time."""
    files = [one for one in (ROOT / "frontend" / "src" / "checks").rglob("*.ts") if not one.name.endswith(".test.ts")]
    assert len(files) > 30
    for file in files:
        assert not re.search(r"Date\.now|new Date\(\)|performance\.|Math\.random", file.read_text("utf-8")), file.name


def test_the_checks_know_no_page_and_no_network(node, tmp_path):
    copy = tmp_path / "checks"
    shutil.copytree(ROOT / "frontend" / "src" / "checks", copy)
    settings = json.loads((copy / "tsconfig.json").read_text("utf-8"))
    settings["extends"] = str(ROOT / "frontend" / "tsconfig.json")
    (copy / "tsconfig.json").write_text(json.dumps(settings))
    node("node_modules/typescript/bin/tsc", "-p", str(copy))
    with (copy / "counts.ts").open("a") as file:
        file.write("fetch('/api');\ndocument.title;\nnavigator.onLine;\n")
    with pytest.raises(RuntimeError) as failed:
        node("node_modules/typescript/bin/tsc", "-p", str(copy))
    for name in ("fetch", "document", "navigator"):
        assert f"Cannot find name '{name}'" in str(failed.value)


PLANTED = {
    "counts.ts": ('operator === "at most" ? side <= 0', 'operator === "at most" ? side < 0', "take_limits"),
    "taxa.ts": ("includes(taxon)) ? MAYBE : NO", "includes(taxon)) ? NO : NO", "take_limits"),
    "calendar.ts": ("first <= day && day <= last", "first <= day && day < last", "seasons"),
    "rules/size_limits.ts": ("side > 0 || (side === 0 &&", "side > 0 || (side !== 0 &&", "size_limits"),
    "rules/stages.ts": ('=== "is not"', '=== "may be"', "stage_and_sex"),
    "rules/prohibited.ts": ("fit.certain && !line.count.low.isZero ?", "fit.possible && !line.count.low.isZero ?", "prohibited_taxa"),
    "rules/gear.ts": ("largest ? side <= 0 : side >= 0", "largest ? side < 0 : side >= 0", "gear"),
    "rules/areas.ts": ('answer.leaves_for_certain ? "broken"', 'answer.enters_for_certain ? "broken"', "areas"),
    "places/positions.ts": ("return fix.radius_m *", "return 1 *", "areas"),
    "rules/seasons.ts": ("day < parseDay(end)", "day <= parseDay(end)", "seasons"),
    "rules/hours.ts": ("slack: MARGIN", "slack: 0", "time_of_day"),
    "daylight.ts": ("const SUN_RADIUS = 32 / 120", "const SUN_RADIUS = -32 / 120", "time_of_day"),
    "judge.ts": ("workedUntil(facts, fact) >= ends", "workedUntil(facts, fact) > ends + 1e12", "term"),
    "remaining.ts": ("entry.at && isInWindow", "entry.at || isInWindow", "scenarios"),
}  # fmt: skip
"""By file: what stands there, what is put in its place, and the cases that must turn red."""


@pytest.fixture
def copied(node, tmp_path):
    """Run the shared cases against a copy of the checks, once it was changed."""
    shutil.copytree(ROOT / "frontend" / "src" / "checks", tmp_path / "src" / "checks")
    shutil.copy(ROOT / "frontend" / "tsconfig.json", tmp_path)
    (tmp_path / "node_modules").symlink_to(ROOT / "frontend" / "node_modules")
    (tmp_path / "vitest.config.mjs").write_text("export default { test: { include: ['src/checks/cases.test.ts'] } };")

    def run() -> Told:
        return run_units(node, tmp_path / "units.json", "--root", str(tmp_path), CREEKLEDGER_CASES=str(FOLDER))

    return run


@pytest.mark.parametrize("name", PLANTED)
def test_a_planted_difference_turns_the_shared_cases_red(copied, tmp_path, name):
    stands, planted, cases = PLANTED[name]
    file = tmp_path / "src" / "checks" / name
    text = file.read_text("utf-8")
    assert text.count(stands) == 1, "the place of the planted difference is no longer there, or no longer the only one"
    file.write_text(text.replace(stands, planted), "utf-8")
    told = copied()
    assert any(f" {cases}: " in one for one in told.failed), told.failed[:3]
    assert told.passed > 100, "the rest of the cases still runs"


def test_the_unchanged_copy_passes(copied):
    """Else a copy that cannot run at all would look like a difference that was found."""
    told = copied()
    assert told.failed == []
    assert told.passed > len(every_case()) / 2
