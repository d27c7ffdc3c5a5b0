"""Random and damaged packets through every parser: ``python benchmarks/packet_fuzz.py 1000000``.

Counted for each form: parsers that crash or take long, packets accepted although their own check fails (by a second
implementation of the check, here), positions that are none, and damaged packets whose position was accepted and is not
the one that was sent. The last cannot be zero where a form has no check, or a weak one.
"""

from __future__ import annotations

import json
import math
import multiprocessing
import random
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from pappus.sources.receivers import NotUnderstood, Sender, parse, read_senders

HEARD_UTC = datetime(2026, 6, 14, 10, 15, 3, tzinfo=UTC)
CHUNK = 5000
SLOW_S = 0.05
"""Processor time of one packet; a hundred times what a good one takes."""
WRONG_DEG = 4e-4
"""40 m of latitude, above the rounding of every form."""
MAPPING = """
[[sender]]
name = "trial"
when = { v = 2 }
[sender.keys]
latitude_deg = { key = "g.lat", unit = "deg", times = 1e-7 }
longitude_deg = { key = "g.lon", unit = "deg", times = 1e-7 }
height_msl_m = { key = "g.alt", unit = "ft" }
time_utc = { key = "t", unit = "unix s" }
temperature_k = { key = "temps.0", unit = "°C" }
fix = { key = "g.fix", none = [0], three = [3] }
"""
Maker = Callable[[random.Random, float, float], bytes]


def xor_of(line: bytes) -> int:
    """The NMEA check, a second time."""
    value = 0
    for byte in line:
        value ^= byte
    return value


def fletcher_of(body: bytes) -> bytes:
    """The UBX check, a second time: both sums at the end, as RFC 1145 defines them."""
    first = sum(body) % 256
    second = sum((len(body) - index) * byte for index, byte in enumerate(body)) % 256
    return bytes((first, second))


def crc_of(frame: bytes) -> int:
    """The AX.25 check, a second time: bit by bit."""
    value = 0xFFFF
    for byte in frame:
        for shift in range(8):
            bit = (value ^ byte >> shift) & 1
            value = value >> 1 ^ (0x8408 if bit else 0)
    return value ^ 0xFFFF


def sealed_nmea(body: str) -> bytes:
    """A sentence with its checksum."""
    return f"${body}*{xor_of(body.encode('latin-1')):02X}\r\n".encode("latin-1")


def minutes(angle_deg: float, width: int, decimals: int, sides: str) -> tuple[str, str]:
    """Degrees and minutes with the hemisphere, no minute rounded up to 60."""
    degrees, rest = divmod(round(abs(angle_deg) * 60 * 10**decimals), 60 * 10**decimals)
    whole, part = divmod(rest, 10**decimals)
    return f"{degrees:0{width}d}{whole:02d}.{part:0{decimals}d}", sides[angle_deg < 0]


def base_91(value: int) -> str:
    """Four digits of base 91."""
    return "".join(chr(33 + value // 91**power % 91) for power in (3, 2, 1, 0))


def nmea(rng: random.Random, latitude_deg: float, longitude_deg: float) -> bytes:
    """GGA, mostly with the RMC of the same epoch."""
    (north, n), (east, e) = minutes(latitude_deg, 2, 4, "NS"), minutes(longitude_deg, 3, 4, "EW")
    clock, height = f"10{rng.randrange(60):02d}{rng.randrange(60):02d}.00", rng.randrange(-100, 400_000) / 10
    gga = sealed_nmea(f"GNGGA,{clock},{north},{n},{east},{e},1,11,0.8,{height},M,48.2,M,,")
    if rng.random() < 0.3:
        return gga
    return gga + sealed_nmea(f"GNRMC,{clock},A,{north},{n},{east},{e},18.5,092.3,140626,,,A")


def ubx(rng: random.Random, latitude_deg: float, longitude_deg: float) -> bytes:
    """One NAV-PVT message."""
    body = bytearray(b"\x01\x07\x5c\x00" + bytes(92))
    body[8:20] = (2026).to_bytes(2, "little") + bytes((6, 14, 10, 15, 3, 7, 20, 0, 0, 0))
    body[24:28] = bytes((3, 1, 0, 11))
    for place, value in (
        (28, longitude_deg * 1e7),
        (32, latitude_deg * 1e7),
        (36, 31e6),
        (40, rng.randrange(40_000_000)),
    ):
        body[place : place + 4] = round(value).to_bytes(4, "little", signed=True)
    return b"\xb5\x62" + bytes(body) + fletcher_of(bytes(body))


def plain(rng: random.Random, latitude_deg: float, longitude_deg: float) -> bytes:
    """A plain report in monitor form."""
    return b"N0CALL-11>APRS,RELAY1,WIDE2-1*:" + plain_report(rng, latitude_deg, longitude_deg)


def plain_report(rng: random.Random, latitude_deg: float, longitude_deg: float) -> bytes:
    """A plain report with its time, motion and height."""
    (north, n), (east, e) = minutes(latitude_deg, 2, 2, "NS"), minutes(longitude_deg, 3, 2, "EW")
    motion = f"{rng.randrange(1, 361):03d}/{rng.randrange(200):03d}"
    return f"/1015{rng.randrange(60):02d}h{north}{n}/{east}{e}O{motion}/A={rng.randrange(120_000):06d}".encode(
        "latin-1"
    )


def compressed(rng: random.Random, latitude_deg: float, longitude_deg: float) -> bytes:
    """A compressed report in monitor form."""
    place = base_91(round(380926 * (90 - latitude_deg))) + base_91(round(190463 * (180 + longitude_deg)))
    return f"N0CALL>APRS:!/{place}O{rng.choice(('7PZ', 'S]R', '{?!', ' sT'))}/A=012345".encode("latin-1")


def mic_e(rng: random.Random, latitude_deg: float, longitude_deg: float) -> bytes:
    """A Mic-E report in monitor form."""
    total, west = round(abs(latitude_deg) * 6000), longitude_deg < 0
    letters = [chr(ord("P") + int(digit)) for digit in f"{total // 6000:02d}{total % 6000:04d}"]
    degrees, part = divmod(round(abs(longitude_deg) * 6000), 6000)
    offset = degrees >= 100 or degrees < 10
    for index, marked in ((3, latitude_deg >= 0), (4, offset), (5, west)):
        if not marked:
            letters[index] = chr(ord(letters[index]) - 32)
    first = degrees + (118 if degrees < 10 else 28 if degrees < 100 else 8 if degrees < 110 else -72)
    packed = (first, part // 100 + (88 if part < 1000 else 28), part % 100 + 28, 30, 50, 79)
    return f'N0CALL>{"".join(letters)}:`{"".join(map(chr, packed))}O/"{rng.randrange(33, 124):c}T}}'.encode("latin-1")


def frame(rng: random.Random, latitude_deg: float, longitude_deg: float) -> bytes:
    """An AX.25 frame without its check."""
    header = bytes.fromhex("82A0A4A64040E0 9C6086829898 76 A48A9882B262E0 AE92888A644063".replace(" ", ""))
    return header + b"\x03\xf0" + plain_report(rng, latitude_deg, longitude_deg)


def kiss(rng: random.Random, latitude_deg: float, longitude_deg: float) -> bytes:
    """A frame as a modem hands it over."""
    body = b"\x00" + frame(rng, latitude_deg, longitude_deg)
    return b"\xc0" + body.replace(b"\xdb", b"\xdb\xdd").replace(b"\xc0", b"\xdb\xdc") + b"\xc0"


def on_air(rng: random.Random, latitude_deg: float, longitude_deg: float) -> bytes:
    """A frame with its check."""
    body = frame(rng, latitude_deg, longitude_deg)
    return body + crc_of(body).to_bytes(2, "little")


def own_json(rng: random.Random, latitude_deg: float, longitude_deg: float) -> bytes:
    """A packet of our own schema."""
    found = {
        "tracker": "box-1", "time_utc": "2026-06-14T10:15:00Z", "latitude_deg": round(latitude_deg, 6),
        "longitude_deg": round(longitude_deg, 6), "height_msl_m": rng.randrange(40_000), "satellites": 9,
        "battery_v": 3.9, "temperature_k": {"inside": 268.2, "outside": 228.0},
    }  # fmt: skip
    return json.dumps(found).encode()


def other_json(rng: random.Random, latitude_deg: float, longitude_deg: float) -> bytes:
    """A packet that the mapping file explains."""
    place = {
        "lat": round(latitude_deg * 1e7),
        "lon": round(longitude_deg * 1e7),
        "alt": rng.randrange(120_000),
        "fix": 3,
    }
    return json.dumps({"v": 2, "g": place, "t": 1781432100, "temps": [-12.5]}).encode()


@dataclass(frozen=True)
class Form:
    """One form of packet: how a good one is made, sealed again after damage, and checked by other code than ours."""

    name: str
    kind: Any
    make: Maker
    check: str
    holds: Callable[[bytes], bool] | None = None
    seal: Callable[[bytes], bytes] | None = None


def nmea_holds(raw: bytes) -> bool:
    """Whether any line carries its own checksum."""
    for line in raw.splitlines():
        body, star, end = line.strip().rpartition(b"*")
        try:
            if star and body[:1] == b"$" and xor_of(body[1:]) == int(end, 16):
                return True
        except ValueError:
            continue
    return False


def ubx_seal(raw: bytes) -> bytes:
    """Length and checksum right again."""
    body = raw[2:4] + max(len(raw) - 8, 0).to_bytes(2, "little") + raw[6:-2]
    return b"\xb5\x62" + body + fletcher_of(body)


def nmea_seal(raw: bytes) -> bytes:
    """Each line sealed again as far as it is text."""
    lines = (line.strip().lstrip(b"$").rpartition(b"*")[0] for line in raw.splitlines())
    return b"".join(sealed_nmea(line.decode("latin-1")) for line in lines if line)


FORMS = (
    Form("NMEA 0183", "nmea", nmea, "8 bits a line", nmea_holds, nmea_seal),
    Form("UBX", "ubx", ubx, "16 bits", lambda raw: fletcher_of(raw[2:-2]) == raw[-2:], ubx_seal),
    Form(
        "AX.25 with its check", "ax25", on_air, "16 bits",
        lambda raw: crc_of(raw[:-2]) == int.from_bytes(raw[-2:], "little"),
        lambda raw: raw[:-2] + crc_of(raw[:-2]).to_bytes(2, "little"),
    ),
    Form("AX.25 in KISS", "ax25", kiss, "done by the modem, not seen here"),
    Form("APRS text, plain", "aprs-text", plain, "none"),
    Form("APRS text, compressed", "aprs-text", compressed, "none"),
    Form("APRS text, Mic-E", "aprs-text", mic_e, "none"),
    Form("JSON, our own", "json", own_json, "none"),
    Form("JSON, mapped", "json", other_json, "none"),
)  # fmt: skip


def damaged(rng: random.Random, raw: bytes) -> bytes:
    """One to four bits turned, bytes changed, added, taken, doubled, or the end cut off."""
    data = bytearray(raw)
    for _ in range(rng.randint(1, 4)):
        if not data:
            break
        place = rng.randrange(len(data))
        what = rng.randrange(8)
        if what <= 1:
            data[place] ^= 1 << rng.randrange(8)
        elif what <= 3:
            data[place] = rng.randrange(256)
        elif what == 4:
            data.insert(place, rng.randrange(256))
        elif what == 5:
            del data[place]
        elif what == 6:
            data[place:place] = data[place : place + rng.randrange(1, 9)]
        elif rng.random() < 0.3:
            del data[place:]
        else:
            # a byte of the same kind, which no grammar can see
            data[place] = rng.choice(b"0123456789") if 48 <= data[place] < 58 else rng.randrange(33, 127)
    return bytes(data)


def senders() -> tuple[Sender, ...]:
    """The mapping of the trial sender."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "senders.toml"
        path.write_text(MAPPING, encoding="utf-8")
        return read_senders(path)


def run_chunk(job: tuple[int, int]) -> Counter[tuple[str, str]]:
    """Counts by (form, what) of one chunk; the same seed gives the same counts, but for "slow"."""
    seed, count = job
    rng = random.Random(seed)
    known = senders()
    counts: Counter[tuple[str, str]] = Counter()
    for index in range(count):
        form = FORMS[index % len(FORMS)]
        latitude_deg, longitude_deg = rng.uniform(-89.9, 89.9), rng.uniform(-179.9, 179.9)
        chance = rng.random()
        good = form.make(rng, latitude_deg, longitude_deg)
        sealed = False
        if chance < 0.05:
            raw = good
        elif chance < 0.15:
            raw = rng.randbytes(rng.randrange(120))
        elif chance < 0.30 and form.seal is not None:
            raw, sealed = form.seal(damaged(rng, good)), True
        else:
            raw = damaged(rng, good)
        counts[form.name, "packets"] += 1
        judge(counts, form, raw, good, sealed, (latitude_deg, longitude_deg), known)
    return counts


def judge(
    counts: Counter[tuple[str, str]], form: Form, raw: bytes, good: bytes, sealed: bool, sent: tuple[float, float],
    known: tuple[Sender, ...],
) -> None:  # fmt: skip
    """Parse one packet and count what came of it."""
    start = time.thread_time()
    try:
        found = parse(form.kind, raw, HEARD_UTC, known)
    except Exception as error:  # what the run is there to find
        counts[form.name, "crashed"] += 1
        print(f"{form.name}: {error!r} at {raw!r}", file=sys.stderr)
        return
    if time.thread_time() - start > SLOW_S:
        counts[form.name, "slow"] += 1
    if isinstance(found, NotUnderstood):
        counts[form.name, "refused"] += 1
        if raw == good:
            counts[form.name, "good ones refused"] += 1
        return
    counts[form.name, "accepted"] += 1
    if form.holds is not None and not form.holds(raw):
        counts[form.name, "check fails, accepted"] += 1
    for fix in found:
        place = (fix.latitude_deg, fix.longitude_deg)
        if place[0] is None or place[1] is None:
            continue
        numbers = (*place, fix.height_msl_m or 0.0, fix.speed_m_s or 0.0, fix.course_deg or 0.0)
        if not (all(map(math.isfinite, numbers)) and abs(place[0]) <= 90.0 and abs(place[1]) <= 180.0):
            counts[form.name, "no position"] += 1
        if not sealed and max(abs(place[0] - sent[0]), abs(place[1] - sent[1])) > WRONG_DEG:
            counts[form.name, "wrong position accepted"] += 1


def fuzz(count: int, seed: int = 1, processes: int = 2) -> Counter[tuple[str, str]]:
    """Counts by (form, what) over so many packets."""
    jobs = [(seed * 1_000_003 + start, min(CHUNK, count - start)) for start in range(0, count, CHUNK)]
    if processes == 1:
        return sum(map(run_chunk, jobs), Counter())
    with multiprocessing.get_context("spawn").Pool(processes) as pool:
        return sum(pool.imap_unordered(run_chunk, jobs), Counter())


COLUMNS = ("packets", "accepted", "crashed", "slow", "check fails, accepted", "no position", "good ones refused",
           "wrong position accepted")  # fmt: skip


def table(counts: Counter[tuple[str, str]]) -> list[str]:
    """The counts as lines of a table."""
    lines = ["| form | its own check | " + " | ".join(COLUMNS) + " |", "|--|--|" + "--:|" * len(COLUMNS)]
    for form in FORMS:
        row = [str(counts[form.name, column]) for column in COLUMNS]
        if form.holds is None:
            row[COLUMNS.index("check fails, accepted")] = "-"
        lines.append(f"| {form.name} | {form.check} | " + " | ".join(row) + " |")
    return lines


if __name__ == "__main__":
    started = time.perf_counter()
    print("\n".join(table(fuzz(int(sys.argv[1]) if len(sys.argv) > 1 else 20_000))))
    print(f"{time.perf_counter() - started:.0f} s")
