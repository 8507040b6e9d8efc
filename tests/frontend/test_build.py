"""The package's build makes the phone app when its sources changed, and does nothing otherwise."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def checkout(tmp_path):
    """A copy of the sources without what Node installs."""
    shutil.copytree(ROOT / "frontend", tmp_path / "frontend", ignore=shutil.ignore_patterns("node_modules"))
    return tmp_path


@pytest.fixture
def said(build_web, monkeypatch):
    """What Node was told to do, in place of doing it; a build makes a page."""
    commands = []

    def run(root, *command, more=None):
        commands.append(" ".join(Path(part).name for part in command))
        if "npm-cli.js" in commands[-1]:
            (root / "frontend" / "node_modules").mkdir(exist_ok=True)
        elif more:
            folder = Path(more["CREEKLEDGER_APP_FOLDER"])
            folder.mkdir(parents=True)
            (folder / "index.html").write_text("<p>built</p>")
        return ""

    monkeypatch.setattr(build_web, "run_node", run)
    return commands


def test_the_app_in_this_checkout_was_made_from_these_sources(build_web):
    assert build_web.is_current(ROOT)


def test_an_unchanged_app_is_not_built_again(build_web, checkout, said):
    assert build_web.build(checkout)
    assert len(said) == 2
    assert not build_web.build(checkout)
    assert len(said) == 2


def test_a_changed_source_is_built_again_but_tools_that_stand_are_not_installed_again(build_web, checkout, said):
    build_web.build(checkout)
    (checkout / "frontend" / "src" / "main.ts").write_text("export {};\n")
    assert not build_web.is_current(checkout)
    assert build_web.build(checkout)
    assert [one.split()[0] for one in said] == ["npm-cli.js", "vite.js", "vite.js"]


def test_another_lock_file_installs_the_tools_again(build_web, checkout, said):
    build_web.build(checkout)
    with (checkout / "frontend" / "package-lock.json").open("a") as lock:
        lock.write("\n")
    build_web.build(checkout)
    assert [one.split()[0] for one in said] == ["npm-cli.js", "vite.js"] * 2


@pytest.mark.parametrize("name", ["src/checks/counts.test.ts", "contract/openapi.json", "node_modules/x/index.js"])
def test_what_is_not_part_of_the_app_builds_nothing(build_web, checkout, said, name):
    build_web.build(checkout)
    path = checkout / "frontend" / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("changed")
    assert build_web.is_current(checkout)


def test_a_file_renamed_or_added_builds_again(build_web, checkout, said):
    build_web.build(checkout)
    (checkout / "frontend" / "public" / "icon.svg").rename(checkout / "frontend" / "public" / "other.svg")
    assert not build_web.is_current(checkout)


def test_a_failed_build_leaves_the_old_app_and_shows_the_end_of_what_was_said(build_web, checkout, said, monkeypatch):
    build_web.build(checkout)
    monkeypatch.undo()
    (checkout / "frontend" / "src" / "main.ts").write_text("oops(")
    tools = checkout / "frontend" / "node_modules" / "vite" / "bin" / "vite.js"
    tools.parent.mkdir(parents=True)
    tools.write_text(
        "for (let i = 0; i < 100; i++) console.log(`line ${i}`); console.error('what is wrong'); process.exit(3);"
    )
    with pytest.raises(build_web.BuildError) as failed:
        build_web.build(checkout)
    assert "vite.js build ended with 3" in str(failed.value)
    assert "what is wrong" in str(failed.value)
    assert "line 99" in str(failed.value)
    assert "line 10\n" not in str(failed.value)
    assert (checkout / "api" / "routes" / "built" / "index.html").read_text() == "<p>built</p>"


def test_a_package_without_the_sources_takes_the_app_it_brings(build_web, checkout, said):
    build_web.build(checkout)
    shutil.rmtree(checkout / "frontend")
    assert build_web.is_current(checkout)


def test_nothing_built_and_nothing_installed_is_in_the_repository():
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    assert "frontend/package-lock.json" in listed
    assert "node_modules" not in listed
    assert "api/routes/built" not in listed


def test_the_lock_file_of_the_app_names_no_registry_and_pins_every_package_by_its_hash():
    text = (ROOT / "frontend" / "package-lock.json").read_text("utf-8")
    assert '"resolved"' not in text
    assert "omit-lockfile-registry-resolved=true" in (ROOT / "frontend" / ".npmrc").read_text("utf-8")
    assert text.count('"integrity"') == text.count('"node_modules/') > 50
