"""Edits of a plan file: one value changes, every other line and comment stays."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pappus.errors import BadInput, BadPlan
from pappus.plan import example_plan_text
from pappus.web.desk._plan_edit import Edit, edited, phones_in, plan_of, save

TEXT = example_plan_text()
KEYS = ["fill.climb", "balloon.mass", "package[2].mass", "line[1].length", "canopy.drag_coefficient", "site[2].height"]


@given(st.sampled_from(KEYS), st.one_of(st.text(max_size=40), st.floats(allow_nan=False), st.integers(-9, 9**9)))
def test_only_the_line_of_the_key_changes(path: str, value: str | float) -> None:
    after = edited(TEXT, [Edit(path, value)])
    # not splitlines: a text may hold other ends of line, which TOML does not take for one
    before_lines, after_lines = TEXT.split("\n"), after.split("\n")
    place = tomllib.loads(after)
    for part in path.split("."):
        name, _, number = part.partition("[")
        place = place[name][int(number[:-1]) - 1] if number else place[name]
    assert place == value
    assert len(before_lines) == len(after_lines)
    changed = [(old, new) for old, new in zip(before_lines, after_lines, strict=True) if old != new]
    assert len(changed) <= 1
    assert all(old.split("=")[0] == new.split("=")[0] == f"{path.rpartition('.')[2]} " for old, new in changed)


def test_keys_come_and_go_with_the_comments_around_them() -> None:
    after = edited(TEXT, [Edit("fill.climb", None), Edit("fill.scale_lift", "2200 gf")])
    assert tomllib.loads(after)["fill"] == {"scale_lift": "2200 gf"}
    comments = [line for line in TEXT.splitlines() if line.startswith("#")]
    assert [line for line in after.splitlines() if line.startswith("#")] == comments
    assert plan_of(after, "flight.toml").fill.by == "scale_lift"


def test_a_table_that_is_not_there_is_begun() -> None:
    after = edited(
        '[mission]\nname = "x"  # kept\n', [Edit("gas.cylinder.volume", "50 L"), Edit("line[1].mass", "2 g")]
    )
    assert tomllib.loads(after) == {
        "mission": {"name": "x"},
        "gas": {"cylinder": {"volume": "50 L"}},
        "line": [{"mass": "2 g"}],
    }
    assert "# kept" in after


def test_blocks_and_items_of_lists() -> None:
    after = edited(
        TEXT,
        [Edit("package[2].edges[3]", "9 cm"), Edit("package[3].name", "third"), Edit("package[3].edges[1]", "1 cm"),
         Edit("package[1]", None)],
    )  # fmt: skip
    packages = tomllib.loads(after)["package"]
    assert packages == [
        {"name": "camera and kettle", "mass": "560 g", "edges": ["20 cm", "18 cm", "9 cm"]},
        {"name": "third", "edges": ["1 cm"]},
    ]


def test_times_stay_times() -> None:
    after = edited(TEXT, [Edit("window.release", "2027-02-13T13:15:00Z")])
    assert plan_of(after, "flight.toml").window.release.isoformat() == "2027-02-13T13:15:00+00:00"
    with pytest.raises(BadPlan) as refused:
        plan_of(edited(TEXT, [Edit("window.release", "soon")]), "flight.toml")
    assert [finding.field for finding in refused.value.findings] == ["window.release"]


@pytest.mark.parametrize(
    "path",
    ["", ".", "fill.", "a..b", "fill.climb.x", "package[0].mass", "package[9].mass", "package[2]", "nothing[2].x",
     "mission[1].name", "fill.Climb", "fill[1]", "package.mass[1]", "package[2].name[1]", "a.b.c.d.e", "fill climb",
     "package[-1].mass", "site[99].name"],
)  # fmt: skip
def test_paths_that_lead_nowhere_are_refused(path: str) -> None:
    with pytest.raises(BadInput) as refused:
        edited(TEXT, [Edit(path, "1")])
    assert refused.value.findings[0].fix


def test_a_text_that_is_no_toml_is_refused() -> None:
    for text in ("[mission", "a = ", "[" * 3000):
        with pytest.raises(BadPlan):
            edited(text, [Edit("fill.climb", "5 m/s")])


def test_saving_is_whole_or_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "flight.toml"
    path.write_text("old")
    path.chmod(0o640)
    save(path, "new é")
    assert path.read_bytes() == "new é".encode()
    assert path.stat().st_mode & 0o777 == 0o640

    def broken(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("pappus.web.desk._plan_edit.os.fsync", broken)
    with pytest.raises(OSError, match="No space"):
        save(path, "half")
    assert path.read_text() == "new é"
    assert [one.name for one in tmp_path.iterdir()] == ["flight.toml"]


def test_every_telephone_number_is_found(tmp_path: Path) -> None:
    path = tmp_path / "flight.toml"
    path.write_text('phone = "1"\n[a]\nphone = "2"\n[[b]]\nphone = "3"\nname = "4"\n[[b]]\nphone = "2"\n')
    assert phones_in(path) == ("1", "2", "3")
    path.write_text("not toml [")
    assert phones_in(path) == ()
    assert phones_in(tmp_path / "nothing.toml") == ()
