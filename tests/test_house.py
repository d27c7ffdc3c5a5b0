"""The rules of the house: rooms, types, no clock in pure rooms, short files, one door a room."""

from __future__ import annotations

import ast
import importlib
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
SOURCE = ROOT / "src" / "pappus"
PURE = (
    "errors",
    "units",
    "earth",
    "atmosphere",
    "sky",
    "ground",
    "airspace",
    "hazard",
    "rules",
    "wind",
    "weather",
    "flight_train",
    "trajectory",
    "landing",
    "recovery",
)
ROOMS = sorted(path.parent.name for path in SOURCE.glob("*/__init__.py"))
SUB_ROOMS = sorted(".".join(path.parent.parts[-2:]) for path in SOURCE.glob("*/*/__init__.py"))


def run(*command: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *command], cwd=ROOT, capture_output=True, text=True, timeout=600, check=False
    )


def test_imports_go_down_only() -> None:
    result = run("-c", "from importlinter.cli import lint_imports_command; lint_imports_command()")
    assert result.returncode == 0, result.stdout
    assert "0 broken" in result.stdout


def test_types_are_strict_in_the_pure_rooms() -> None:
    result = run("-m", "mypy")
    assert result.returncode == 0, result.stdout


def test_ruff_finds_nothing() -> None:
    result = run("-m", "ruff", "check", ".")
    assert result.returncode == 0, result.stdout


@pytest.mark.parametrize("room", ROOMS)
def test_a_room_has_one_door(room: str) -> None:
    """Everything in ``__all__`` exists; other rooms import through the door only."""
    module = importlib.import_module(f"pappus.{room}")
    assert module.__all__, room
    for name in module.__all__:
        assert hasattr(module, name), f"{room}.{name}"
    for path in SOURCE.rglob("*.py"):
        if path.relative_to(SOURCE).parts[0] == room:
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module:
                assert not node.module.startswith(f"pappus.{room}."), f"{path} reaches behind the door of {room}"


@pytest.mark.parametrize("sub_room", SUB_ROOMS)
def test_a_sub_room_has_a_door_of_its_own(sub_room: str) -> None:
    """Its private files are for itself: the rest of its room comes through its door too."""
    module = importlib.import_module(f"pappus.{sub_room}")
    assert module.__all__, sub_room
    for name in module.__all__:
        assert hasattr(module, name), f"{sub_room}.{name}"
    for path in SOURCE.rglob("*.py"):
        if ".".join(path.relative_to(SOURCE).parts[:2]) == sub_room:
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module:
                assert not node.module.startswith(f"pappus.{sub_room}."), (
                    f"{path} reaches behind the door of {sub_room}"
                )


def test_pure_rooms_have_no_clock_and_no_hidden_chance() -> None:
    for room in PURE:
        for path in (SOURCE / room).rglob("*.py"):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Attribute):
                    assert node.attr not in {"now", "utcnow", "today"}, f"{path}:{node.lineno}"
                    assert not (node.attr == "seed" and isinstance(node.value, ast.Attribute)), f"{path}:{node.lineno}"
                if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                    assert node.func.id not in {"open", "print", "input"}, f"{path}:{node.lineno}"


def test_files_are_short() -> None:
    for path in [*SOURCE.rglob("*.py"), *(ROOT / "tests").rglob("*.py"), ROOT / "build_data.py"]:
        assert len(path.read_text(encoding="utf-8").splitlines()) <= 400, path


def test_every_room_of_the_order_exists_or_is_optional() -> None:
    contracts = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"][
        "contracts"
    ]
    layers = next(contract["layers"] for contract in contracts if contract["type"] == "layers")
    named = [name.strip() for layer in layers for name in layer.split("|")]
    for name in named:
        assert name.startswith("(") or (SOURCE / name / "__init__.py").exists(), name
    assert {name.strip("()") for name in named} >= set(ROOMS)
