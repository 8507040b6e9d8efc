"""Set the project up in a folder of its own (.venv) and run one of its jobs. Needs Python 3.11+ and nothing else.

Usage: python3 .ci/bootstrap.py JOB

demo: run a server with the sample season on this machine; open what it prints in a browser
test: lint, types, import direction, every test (a real browser and a real PostgreSQL among them)
quick: the quick selection of the tests
setup: only set up
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
import venv
from pathlib import Path

from build_web import is_current  # beside this file

ROOT = Path(__file__).resolve().parent.parent
HOME = ROOT / ".venv"
BIN = HOME / ("Scripts" if os.name == "nt" else "bin")
PYTHON = BIN / ("python.exe" if os.name == "nt" else "python")
PIP = ("-m", "pip", "--disable-pip-version-check", "install", "--quiet")
LOCKS = {"demo": ".ci/requirements.lock", "test": ".ci/requirements-test.lock"}
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
TIMED = "tests/journeys/timed"
CHECKS = (
    ("lint", ("ruff", "check", "--quiet")),
    ("format", ("ruff", "format", "--check", "--quiet")),
    ("types", ("mypy",)),
    ("import direction", ("lint_imports",)),
)


def main(arguments: list[str]) -> int:
    """Run one job; gives its exit code."""
    job = arguments[0] if arguments else ""
    if job not in ("demo", "test", "quick", "setup"):
        print(__doc__)
        return 2
    if sys.version_info < (3, 11):  # noqa: UP036 - this file is what says so on an older Python
        print(f"Creekledger needs Python 3.11 or newer; this is {sys.version.split()[0]}.")
        return 2
    set_up("demo" if job == "demo" else "test")
    if job != "demo":
        must(".ci/build_web.py")
    if job == "demo":
        return run("-m", "api.cli", "demo", *arguments[1:])
    if job == "test":
        find_browser()
    return run_tests(quick=job == "quick", more=arguments[1:]) if job != "setup" else 0


def find_browser() -> None:
    """See that there is a Chromium for the browser tests; on Debian and its kin, as root, it is installed."""
    found = os.environ.get("CREEKLEDGER_BROWSER") or next(filter(None, map(shutil.which, BROWSERS)), "")
    if not found and shutil.which("apt-get") and os.geteuid() == 0:
        print("Installing Chromium for the browser tests ...", flush=True)
        for step in (["update"], ["install", "-y", "--no-install-recommends", "chromium"]):
            subprocess.run(["apt-get", "-qq", *step], stdout=subprocess.DEVNULL, check=False)
        found = shutil.which("chromium") or ""
    if not found:
        raise SystemExit("The browser tests need Chromium: install it, or name it in CREEKLEDGER_BROWSER.")
    os.environ["CREEKLEDGER_BROWSER"] = found


def set_up(kind: str) -> None:
    """Make the environment hold exactly what the lock file says; does nothing when it does already."""
    lock = ROOT / LOCKS[kind]
    stamp = HOME / f"creekledger-{kind}.stamp"
    wanted = hashlib.sha256(lock.read_bytes() + (ROOT / "pyproject.toml").read_bytes()).hexdigest()
    held = [HOME / f"creekledger-{name}.stamp" for name in (kind, "test")]
    if PYTHON.exists() and any(one.exists() and one.read_text() == wanted for one in held[:1]):
        if not is_current(ROOT):
            install_project()
        return
    if not PYTHON.exists():
        print("Making .venv ...", flush=True)
        venv.create(HOME, with_pip=True)
    print(f"Installing what {lock.name} names ...", flush=True)
    must(*PIP, "--require-hashes", "-r", str(lock))
    install_project()
    stamp.write_text(wanted)


def install_project() -> None:
    """Install the project where it stands; its own build makes the phone app, if that changed."""
    if not is_current(ROOT):
        print("Building the phone app ...", flush=True)
    must(*PIP, "--no-deps", "--editable", str(ROOT))


def run(*arguments: str) -> int:
    """Run the environment's Python in the project's folder; gives the exit code."""
    return subprocess.run([str(PYTHON), *arguments], cwd=ROOT, check=False).returncode


def must(*arguments: str) -> None:
    """Run the environment's Python and stop the whole job if it fails."""
    code = run(*arguments)
    if code:
        raise SystemExit(f"set-up failed ({' '.join(arguments[:4])} ended with {code})")


def run_tests(*, quick: bool, more: list[str]) -> int:
    """Run lint, types, import direction and the tests; gives the first failure's code."""
    if not quick:
        for name, command in CHECKS:
            print(f"{name} ...", flush=True)
            if command[0] == "lint_imports":
                script = BIN / ("lint-imports.exe" if os.name == "nt" else "lint-imports")
                code = subprocess.run([str(script), "--no-cache"], cwd=ROOT, check=False).returncode
            else:
                code = run("-m", *command)
            if code:
                return code
        os.environ.setdefault("CREEKLEDGER_SEASONS", "10000")
    side_by_side = ("-m", "pytest", "-n", str(os.cpu_count() or 2), "--dist", "loadfile")
    if quick or more:
        return run(*side_by_side, *(("-m", "not slow") if quick else ()), *more)
    # What is timed has the machine to itself: another test beside it would be measured as well.
    codes = [run("-m", "pytest", TIMED), run(*side_by_side, f"--ignore={TIMED}")]
    return next(filter(None, codes), 0)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
