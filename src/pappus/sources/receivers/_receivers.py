"""Settings to receivers, ready to be started."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, datetime

from pappus.sources.receivers._address import (
    HttpAddress,
    LogAddress,
    MqttAddress,
    SerialAddress,
    TcpAddress,
    UdpAddress,
    parse_address,
)
from pappus.sources.receivers._desk import Take
from pappus.sources.receivers._log import LogSource
from pappus.sources.receivers._messages import MqttSource, UdpSource
from pappus.sources.receivers._receiver import Receiver, Source
from pappus.sources.receivers._senders import Sender
from pappus.sources.receivers._setting import ReceiverSetting, check_names
from pappus.sources.receivers._streams import SerialSource, TcpSource


def receivers_from(
    settings: Sequence[ReceiverSetting],
    take: Take,
    *,
    last_counter: Callable[[str], int | None] = lambda name: None,
    senders: Sequence[Sender] = (),
    clock: Callable[[], datetime] = lambda: datetime.now(UTC),
    seed: int = 0,
) -> tuple[Receiver, ...]:
    """One receiver for each setting, not started yet.

    ``take(heard)`` is called in the thread of the receiver that heard, and returns when the packet is durable.
    ``last_counter(name)``: the last number of that receiver in the store, from which it counts on. ``senders`` is for
    HTTP only, which tells a sender at once that its packet is not understood. ``seed`` moves the waits between tries.
    Raises BadInput where two receivers have one name.
    """
    check_names(settings)
    return tuple(
        Receiver(
            setting,
            _source(setting, tuple(senders)),
            take,
            last_counter=last_counter(setting.name) or 0,
            clock=clock,
            seed=seed,
        )
        for setting in settings
    )


def _source(setting: ReceiverSetting, senders: tuple[Sender, ...]) -> Source:
    address = parse_address(setting.address)
    match address:
        case SerialAddress():
            return SerialSource(address)
        case TcpAddress():
            return TcpSource(address)
        case UdpAddress():
            return UdpSource(address)
        case MqttAddress():
            return MqttSource(address, setting)
        case HttpAddress():
            from pappus.sources.receivers._posts import HttpSource  # loads a web server

            return HttpSource(address, setting.password, senders)
        case LogAddress():
            return LogSource(address, setting)
