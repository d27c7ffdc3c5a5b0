"""The field pack: what goes in comes out, damage is seen, and nothing half-written is ever taken for whole."""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pappus.errors import BadFile, BadInput
from pappus.sources import Pack, PackFile, damage, digest, put_file, read_pack, unique_name, write_pack

NOON = datetime(2027, 2, 13, 12, tzinfo=UTC)


def packed(tmp_path: Path, **contents: bytes) -> Pack:
    folder = tmp_path / "pack"
    files = []
    for name, content in contents.items():
        source = tmp_path / name
        source.write_bytes(content)
        entry = PackFile(
            f"winds/{name}", "winds", f"file {name}", "own", "", 0, NOON, NOON, NOON, (-40.0, 1.0, 2.0, 9.5)
        )
        files.append(put_file(folder, source, entry))
    pack = Pack(folder, "0" * 64, NOON, tuple(files))
    write_pack(pack)
    return pack


def test_a_pack_is_read_as_it_was_written_wherever_it_is_moved(tmp_path: Path) -> None:
    pack = packed(tmp_path, one=b"winds", two=b"more winds" * 1000)
    moved = shutil.move(pack.folder, tmp_path / "stick")
    again = read_pack(Path(moved))
    assert again == replace(pack, folder=Path(moved))
    assert damage(again) == []
    assert again.files[1].sha256 == digest(again.paths("winds")[1])
    assert again.paths("map") == []


def test_every_changed_byte_and_every_missing_file_is_seen(tmp_path: Path) -> None:
    pack = packed(tmp_path, one=b"a" * 500, two=b"b" * 500, three=b"c" * 500, four=b"d")
    one, two, three, four = pack.paths("winds")
    content = bytearray(one.read_bytes())
    content[random.Random(3).randrange(500)] ^= 0x10
    one.write_bytes(bytes(content))
    two.write_bytes(b"b" * 499)
    three.unlink()
    found = {file.path: reason for file, reason in damage(pack)}
    assert found == {
        "winds/one": "changed since it was packed",
        "winds/two": "499 bytes long instead of 500",
        "winds/three": "missing",
    }  # fmt: skip
    assert four.exists()


@pytest.mark.parametrize("path", ["../secret", "/etc/hosts", "winds/../../x", "C:\\x", "c:/x", "", "winds\\x", "a\0b"])
def test_a_manifest_that_points_outside_is_refused(tmp_path: Path, path: str) -> None:
    pack = packed(tmp_path, one=b"x")
    manifest = pack.folder / "manifest.json"
    data = json.loads(manifest.read_text())
    data["files"][0]["path"] = path
    manifest.write_text(json.dumps(data))
    with pytest.raises(BadFile, match="outside its folder"):
        read_pack(pack.folder)


def test_a_link_out_of_the_folder_is_refused(tmp_path: Path) -> None:
    pack = packed(tmp_path, one=b"x")
    (pack.folder / "winds" / "one").unlink()
    (pack.folder / "winds" / "one").symlink_to(tmp_path / "one")
    with pytest.raises(BadFile, match="outside its folder"):
        read_pack(pack.folder)


@given(st.data())
def test_a_damaged_manifest_is_one_clear_line(tmp_path_factory: pytest.TempPathFactory, data: st.DataObject) -> None:
    pack = packed(tmp_path_factory.mktemp("pack"), one=b"x")
    manifest = pack.folder / "manifest.json"
    content = bytearray(manifest.read_bytes())
    cut = data.draw(st.integers(0, len(content)))
    damaged = (
        bytes(content[:cut]) + data.draw(st.binary(max_size=8)) + bytes(content[cut + data.draw(st.integers(0, 9)) :])
    )
    manifest.write_bytes(damaged)
    if damaged == bytes(content):
        return
    try:
        read_pack(pack.folder)  # a changed letter in a name is no damage that a manifest can show
    except BadFile as error:
        said = error
    else:
        return
    assert len(said.findings) == 1
    assert "pappus fetch" in said.findings[0].fix


def test_no_manifest_is_no_pack(tmp_path: Path) -> None:
    with pytest.raises(BadFile, match="no field pack"):
        read_pack(tmp_path)


COPY = """
import resource, sys
from pathlib import Path
from pappus.sources import PackFile, put_file
if len(sys.argv) > 3:
    resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[3]), int(sys.argv[3])))
    import signal; signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
print("ready", flush=True)
while True:
    put_file(Path(sys.argv[1]), Path(sys.argv[2]), PackFile("winds/one", "winds", "x", "own", "", 0))
"""


def copying(folder: Path, source: Path, *more: str) -> subprocess.Popen[str]:
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(place for place in sys.path if place)}
    command = [sys.executable, "-c", COPY, str(folder), str(source), *more]
    return subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def test_killed_while_copying_the_old_file_or_the_new_one_is_there(tmp_path: Path) -> None:
    pack = packed(tmp_path, one=b"old")
    new = tmp_path / "new"
    new.write_bytes(b"new" * 5_000_000)
    for wait in (0.0, 0.01, 0.03, 0.06):
        process = copying(pack.folder, new)
        assert process.stdout is not None
        process.stdout.readline()
        time.sleep(wait)
        process.send_signal(signal.SIGKILL)
        process.communicate()
        held = (pack.folder / "winds" / "one").read_bytes()
        assert held in (b"old", new.read_bytes())
        assert read_pack(pack.folder).files == pack.files


def test_a_full_disk_leaves_the_pack_as_it_was(tmp_path: Path) -> None:
    """The size of any file is limited for the process, which its writes meet as an error of the disk."""
    pack = packed(tmp_path, one=b"old")
    new = tmp_path / "new"
    new.write_bytes(b"new" * 1_000_000)
    process = copying(pack.folder, new, "100000")
    _, error = process.communicate(timeout=60)
    assert "cannot be written" in error
    assert damage(read_pack(pack.folder)) == []
    assert [path.name for path in (pack.folder / "winds").iterdir()] == ["one"]


def test_what_cannot_be_read_is_not_packed(tmp_path: Path) -> None:
    with pytest.raises(BadFile, match="no such file"):
        put_file(tmp_path / "pack", tmp_path / "none", PackFile("winds/one", "winds", "x", "own", "", 0))
    (tmp_path / "file").write_text("in the way")
    (tmp_path / "one").write_text("x")
    with pytest.raises(BadInput):
        put_file(tmp_path / "file", tmp_path / "one", PackFile("winds/one", "winds", "x", "own", "", 0))


def test_names_do_not_meet() -> None:
    assert unique_name("a.grib2", []) == "a.grib2"
    assert unique_name("a.txt.gz", ["a.txt.gz", "a-2.txt.gz"]) == "a-3.txt.gz"
