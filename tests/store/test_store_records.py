"""Plans, forecasts, estimates, predictions, decisions and messages beside the packets."""

from __future__ import annotations

import json
import tempfile
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pappus.errors import BadInput
from pappus.store import Basis, FlightStore, Record, as_body
from pappus.tracking import Heard, received

START = datetime(2026, 6, 1, 4, 30, tzinfo=UTC)


class Phase(StrEnum):
    UP = "ascent"


@dataclass(frozen=True)
class Estimate:
    """An invented estimate."""

    phase: Phase
    height_msl_m: float
    rates_m_s: np.ndarray
    at_utc: datetime
    battery_v: float | None = None


ESTIMATE = Estimate(Phase.UP, 1234.1, np.array([0.1, np.nan], np.float32), START)


def heard(counter: int) -> Heard:
    return received("hill", counter, START + timedelta(seconds=counter), "nmea", b"%d" % counter)


def fed(*packets: Heard) -> Basis:
    basis = Basis.none()
    for packet in packets:
        basis = basis.plus(packet)
    return basis


def test_every_kind_is_kept_and_found(tmp_path: Path) -> None:
    path = tmp_path / "a"
    with FlightStore.open(path, laptop="car 1") as store:
        store.put_plan('name = "trial"\n', START)
        store.put_forecast({"name": "invented", "sha256": "00"}, START)
        store.put_decision({"answer": "wait", "why": ["gust"]}, START)
        store.put_message("Hello \N{SNOWMAN}", START)
        store.put_estimate(ESTIMATE, START, fed(heard(1)))
        digest = store.put_prediction({"latitude_deg": 47.1}, START, fed(heard(1)))
    with FlightStore.open(path, read_only=True) as store:
        found = {record.kind: record for record in store.records()}
        assert set(found) == {"plan", "forecast", "decision", "message", "estimate", "prediction"}
        assert found["plan"].content == 'name = "trial"\n'
        assert found["message"].content == "Hello \N{SNOWMAN}"
        assert found["decision"].content == {"answer": "wait", "why": ["gust"]}
        assert found["prediction"].digest == digest
        assert found["estimate"].basis == fed(heard(1))
        assert found["estimate"].body == as_body(ESTIMATE)
        assert {record.laptop for record in found.values()} == {"car 1"}
        assert [record.kind for record in store.records("plan", "message")] == ["message", "plan"]


def test_a_body_says_all_and_nothing_more() -> None:
    assert json.loads(as_body(ESTIMATE)) == {
        "phase": "ascent",
        "height_msl_m": 1234.1,
        # what single precision made of 0.1 (IEEE 754), to the last bit; unknown is no number and no zero
        "rates_m_s": [0.10000000149011612, "nan"],
        "at_utc": "2026-06-01T04:30:00+00:00",
        "battery_v": None,
    }


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_numbers_keep_every_bit(value: float) -> None:
    told = json.loads(as_body({"value": value}))["value"]
    assert np.float64(told).tobytes() == np.float64(value).tobytes()


def test_what_has_no_place_is_refused() -> None:
    with pytest.raises(TypeError, match="object has no place"):
        as_body({"what": object()})


def test_estimates_name_their_packets_and_the_rest_does_not() -> None:
    from pappus.store import to_lines

    for kind, basis in (("estimate", None), ("message", Basis.none())):
        with pytest.raises(BadInput) as error:
            list(to_lines([Record(kind, START, "car", basis, b"{}")]))  # type: ignore[arg-type]  # str in a loop
        assert error.value.findings[0].field == "basis"


def test_the_same_record_twice_is_one(tmp_path: Path) -> None:
    with FlightStore.open(tmp_path / "a") as store:
        assert store.put_message("hello", START) == store.put_message("hello", START)
        store.put_message("hello", START + timedelta(microseconds=1))
        assert len(list(store.records("message"))) == 2


def test_an_estimate_is_stale_once_an_earlier_packet_arrives(tmp_path: Path) -> None:
    with FlightStore.open(tmp_path / "a") as store, FlightStore.open(tmp_path / "b") as other:
        for counter in (0, 2):
            store.take(heard(counter))
        before = store.put_estimate("after packet 0", START, fed(heard(0)))
        after = store.put_estimate("after packet 2", START, fed(heard(0), heard(2)))
        turned = store.put_estimate("fed the wrong way round", START, fed(heard(2), heard(0)))
        store.put_message("settles the ones above", START)
        assert store.basis() == fed(heard(0), heard(2))
        assert store.stale() == {turned}
        store.take(heard(3))
        assert store.stale() == {turned}, "what comes later leaves it sound"
        other.take(heard(1))
        store.merge(tmp_path / "b")
        assert store.stale() == {turned, after}
        assert before not in store.stale()
        assert store.basis() == fed(*(heard(counter) for counter in range(4)))


RECORDS = st.lists(st.tuples(st.sampled_from(["car", "hill"]), st.integers(0, 2), st.sampled_from("ab")), max_size=6)


@settings(max_examples=25)
@given(RECORDS, RECORDS, RECORDS)
def test_records_merge_as_a_union(a: list[Any], b: list[Any], c: list[Any]) -> None:
    def records(told: list[Any]) -> list[Record]:
        return [
            Record("estimate", START + timedelta(seconds=second), laptop, fed(heard(second)), as_body(text))
            for laptop, second, text in told
        ]

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for key, told in (("a", a), ("b", b), ("c", c)):
            with FlightStore.open(folder / key) as store:
                store.take_many(records(told))
        results = []
        for key, order in (("one", "abc"), ("two", "cbaab")):
            with FlightStore.open(folder / key) as store:
                for other in order:
                    store.merge(folder / other)
                results.append(list(store.records()))
        assert results[0] == results[1]
        assert {record.digest for record in results[0]} == {record.digest for record in records([*a, *b, *c])}
