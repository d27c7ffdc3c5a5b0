"""Addresses of receivers, one text each: ``tcp://host:port``, ``serial:/dev/ttyUSB0?baud=9600`` and so on."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import SplitResult, parse_qsl, unquote, urlsplit

from pappus.errors import BadInput, Finding

_EXAMPLES = (
    "Write serial:/dev/ttyUSB0?baud=9600, tcp://host:port, gpsd://host, udp://0.0.0.0:port, mqtt://host:port/topic, "
    "http://127.0.0.1:port/path or file:name."
)
_MQTT_PORTS = {"mqtt": 1883, "mqtts": 8883}
_OPTIONS = {"serial": {"baud"}, "file": {"speed"}, "tcp": {"hello"}}
_LONGEST_HELLO = 500
_GPSD_PORT, _GPSD_HELLO = 2947, '?WATCH={"enable":true,"nmea":true}'
"""Of gpsd's own protocol: its sentences as they come, not its JSON."""


@dataclass(frozen=True)
class SerialAddress:
    """A serial port of this computer."""

    device: str
    baud: int


@dataclass(frozen=True)
class TcpAddress:
    """A server that sends packets to whoever connects, after ``hello`` where it wants to be asked."""

    host: str
    port: int
    hello: str = ""


@dataclass(frozen=True)
class UdpAddress:
    """Where this computer listens for datagrams; host ``0.0.0.0`` for all its networks."""

    host: str
    port: int


@dataclass(frozen=True)
class MqttAddress:
    """A broker and the topic, wild cards allowed."""

    host: str
    port: int
    topic: str
    tls: bool
    user: str | None


@dataclass(frozen=True)
class HttpAddress:
    """Where this computer takes packets by POST."""

    host: str
    port: int
    path: str


@dataclass(frozen=True)
class LogAddress:
    """A recorded log. ``speed``: 1 as recorded, 10 ten times faster, None as fast as the packets are taken."""

    path: str
    speed: float | None


Address = SerialAddress | TcpAddress | UdpAddress | MqttAddress | HttpAddress | LogAddress


def parse_address(text: str, where: str = "address") -> Address:
    """The address in its parts. Raises BadInput, naming ``where``, the text and what is wrong with it."""
    try:
        return _parse(text)
    except ValueError as error:
        raise BadInput(Finding(where, text, str(error), _EXAMPLES)) from error


def _parse(text: str) -> Address:
    # "#" is the wild card of a topic; elsewhere it would begin a fragment, which no address has
    parts = urlsplit(text.replace("#", "%23") if text.startswith("mqtt") else text)
    options = dict(parse_qsl(parts.query, keep_blank_values=True, strict_parsing=bool(parts.query)))
    unknown = options.keys() - _OPTIONS.get(parts.scheme, set())
    if unknown or parts.fragment:
        raise ValueError(f"{', '.join(sorted(unknown)) or parts.fragment} is no option of this address")
    match parts.scheme:
        case "serial":
            baud = options.get("baud", "9600")
            if (
                not parts.path
                or parts.netloc
                or not (baud.isascii() and baud.isdigit() and 50 <= int(baud) <= 4_000_000)
            ):
                raise ValueError("needs a device and a baud rate of 50 to 4000000")
            return SerialAddress(unquote(parts.path), int(baud))
        case "file":
            if not parts.path:
                raise ValueError("needs the name of a log")
            return LogAddress(unquote(parts.netloc + parts.path), _speed(options.get("speed", "fastest")))
        case "tcp":
            hello = options.get("hello", "")
            if len(hello) > _LONGEST_HELLO or not hello.isprintable():
                raise ValueError("has a hello that is not one line of text")
            return TcpAddress(*_host_and_port(parts, bare=True), hello)
        case "gpsd":
            return TcpAddress(*_host_and_port(parts, bare=True, port=_GPSD_PORT), _GPSD_HELLO)
        case "udp":
            return UdpAddress(*_host_and_port(parts, bare=True))
        case "http":
            return HttpAddress(*_host_and_port(parts), parts.path or "/")
        case "mqtt" | "mqtts":
            topic = unquote(parts.path[1:])
            levels = topic.split("/")
            if not topic or "\0" in topic or "#" in "".join(levels[:-1]):
                raise ValueError("needs a topic, with # at its end only")
            if any(level not in ("+", "#") and set(level) & {"+", "#"} for level in levels):
                raise ValueError("has a wild card that is not a whole level of the topic")
            if parts.password is not None:
                raise ValueError("a password does not belong into a plan")
            host, port = _host_and_port(parts, port=_MQTT_PORTS[parts.scheme])
            return MqttAddress(host, port, topic, parts.scheme == "mqtts", parts.username)
        case _:
            raise ValueError("is not the address of a receiver")


def _host_and_port(parts: SplitResult, *, bare: bool = False, port: int | None = None) -> tuple[str, int]:
    host, found = parts.hostname, parts.port
    if bare and parts.path not in ("", "/"):
        raise ValueError("ends after the port")
    found = port if found is None else found
    if not host or found is None:
        raise ValueError("needs a host and a port")
    return host, found


def _speed(text: str) -> float | None:
    if text == "fastest":
        return None
    speed = float(text)
    if not 0.001 <= speed <= 1e6:
        raise ValueError("needs a speed of 0.001 to 1000000, or fastest")
    return speed
