"""`pappus verify` on folders that it has never seen, with files damaged, half-empty or unknown among them."""

from __future__ import annotations

import gzip
import json
import random
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from pappus.sources import invented_sounding_csv, read_prior

Shared = Callable[[str], Path]
Run = Callable[..., "subprocess.CompletedProcess[str]"]


@pytest.fixture
def mixed(tmp_path: Path) -> Path:
    """A folder of an unknown hand: one good sounding, the rest not."""
    folder = tmp_path / "mixed"
    folder.mkdir()
    good = invented_sounding_csv()
    (folder / "good.csv").write_text(good)
    (folder / "half.csv").write_text(good[: len(good) // 2])
    (folder / "head only.csv").write_text(good.splitlines()[0] + "\n")
    (folder / "empty.bufr").write_bytes(b"")
    (folder / "noise.bin").write_bytes(random.Random(4).randbytes(5_000))
    (folder / "packed noise.gz").write_bytes(gzip.compress(random.Random(5).randbytes(5_000)))
    (folder / "torn.gz").write_bytes(gzip.compress(good.encode())[:-200])
    (folder / "letter.txt").write_text("Dear crew, the flights are on the other stick.\n")
    (folder / "list.json").write_text("[1, 2, 3]")
    (folder / "a folder").mkdir()
    return folder


def answered(pappus: Run, *arguments: object) -> tuple[int, str]:
    result = pappus(*map(str, arguments))
    return result.returncode, result.stdout + (result.stderr if result.returncode else "")


def test_every_file_is_used_or_named(mixed: Path, pappus: Run) -> None:
    code, said = answered(pappus, "verify", mixed)
    assert code == 0, said
    together = " ".join(said.split())
    for name in ("empty.bufr", "noise.bin", "packed noise.gz", "torn.gz", "letter.txt", "list.json", "head only.csv"):
        assert name in together
    assert "Judged with the prior" in together


def test_numbers_as_json(mixed: Path, pappus: Run) -> None:
    code, said = answered(pappus, "verify", mixed, "--json")
    assert code == 0, said
    answer = json.loads(said)
    assert answer["later_balloons"]["pairs"] == 0
    assert len(answer["not_used"]) >= 7
    assert answer["descents"] == []


def test_nothing_is_learned_from_nothing_and_it_says_so(mixed: Path, tmp_path: Path, pappus: Run) -> None:
    made, tables = tmp_path / "ours.toml", tmp_path / "tables.txt"
    code, said = answered(pappus, "verify", mixed, "--fit", made, "--out", tables)
    assert code == 0, said
    again, built_in = read_prior(made), read_prior()
    assert again.name == "ours"
    assert again.flight == built_in.flight
    assert (again.wind.sd_m_s == built_in.wind.sd_m_s).all()
    assert "Not learned" in tables.read_text()
    before = made.read_text()
    code, said = answered(pappus, "verify", mixed, "--fit", made)
    assert code == 2
    assert "exists" in said
    assert made.read_text() == before


def test_recorded_flights_with_damaged_ones_among_them(shared_data: Shared, tmp_path: Path, pappus: Run) -> None:
    folder = tmp_path / "flights"
    folder.mkdir()
    for name in ("bco_20190210T1909_ascent_309057.bufr", "bco_20190210T2043_descent_309056.bufr"):
        content = shared_data(f"sondes/{name}").read_bytes()
        (folder / name).write_bytes(content)
        (folder / f"cut {name}").write_bytes(content[: len(content) // 3])
    code, said = answered(pappus, "verify", folder, "--json")
    assert code == 0, said
    answer = json.loads(said)
    assert sorted(row["leg"] for row in answer["drift"]) == ["ascent", "descent"]
    assert all(row["end_error_m"] < 80.0 for row in answer["drift"])
    assert len(answer["descents"]) == 1
    assert sum("cut bco" in line for line in answer["not_used"]) == 2
