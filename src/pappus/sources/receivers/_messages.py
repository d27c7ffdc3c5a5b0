"""Whole messages from the network: datagrams and an MQTT broker."""

from __future__ import annotations

import socket
import time
from typing import Any

from pappus.sources.receivers._address import MqttAddress, UdpAddress
from pappus.sources.receivers._desk import Desk
from pappus.sources.receivers._framing import EPOCH_PAUSE_S, LARGEST_MESSAGE, Epochs, packets_of_message
from pappus.sources.receivers._setting import ReceiverSetting
from pappus.tracking import PacketKind

_POLL_S = 0.25
_LARGEST_DATAGRAM = 65_535
_MOST_SENDERS, _LONGEST_PAUSE_S = 32, 1.0
_CONNECT_S = 5.0
_KEEP_ALIVE_S = 30
_AT_LEAST_ONCE = 1
_OWN_TIME: tuple[PacketKind, ...] = ("json", "nmea", "ubx")
"""Kinds that mostly carry their time; a broker may keep them for us while we are away. Others would come late and look
new."""


class UdpSource:
    """Datagrams that anybody may send to a port of this computer."""

    again = True

    def __init__(self, address: UdpAddress) -> None:
        self._address = address

    def run(self, desk: Desk) -> None:
        """Raises OSError when the port cannot be had."""
        family = socket.AF_INET6 if ":" in self._address.host else socket.AF_INET
        with socket.socket(family, socket.SOCK_DGRAM) as listening:
            listening.bind((self._address.host, self._address.port))
            listening.settimeout(_POLL_S)
            desk.opened()
            epochs = _EpochsOfSenders(desk)
            while not desk.stopping.is_set():
                try:
                    message, sender = listening.recvfrom(_LARGEST_DATAGRAM)
                except TimeoutError:
                    epochs.flush(EPOCH_PAUSE_S)
                    continue
                if desk.setting.kind == "nmea" and len(message) <= LARGEST_MESSAGE:
                    epochs.feed(message, sender)
                    # more may wait in the port; only a pause of a whole epoch tells that this sender is done
                    epochs.flush(_LONGEST_PAUSE_S)
                else:
                    _hand_over(desk, message)
            epochs.flush(0.0)


class _EpochsOfSenders:
    """Many programs send each NMEA sentence in a datagram of its own: the epochs of each sender are put together."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._senders: dict[object, tuple[Epochs, float]] = {}

    def feed(self, message: bytes, sender: object) -> None:
        framer = self._senders.pop(sender, (Epochs(), 0.0))[0]
        dropped = framer.dropped
        # a sender may leave out the end of the line
        packets = framer.feed(message + b"\n")
        self._desk.drop(framer.dropped - dropped + (not message.strip()))
        self._senders[sender] = framer, time.monotonic()
        while len(self._senders) > _MOST_SENDERS:
            oldest = next(iter(self._senders))
            packets += self._senders.pop(oldest)[0].flush()
        for packet in packets:
            self._desk.packet(packet)

    def flush(self, pause_s: float) -> None:
        """End the epochs of senders that have been silent for so long."""
        now_s = time.monotonic()
        for sender, (framer, last_s) in list(self._senders.items()):
            if now_s - last_s >= pause_s:
                del self._senders[sender]
                for packet in framer.flush():
                    self._desk.packet(packet)


class MqttSource:
    """A topic of an MQTT broker, at least once: the broker hears that we have a packet when it is kept, not before."""

    again = True

    def __init__(self, address: MqttAddress, setting: ReceiverSetting) -> None:
        self._address, self._setting = address, setting

    def run(self, desk: Desk) -> None:
        """Raises OSError when the broker is not there, says no, or goes away."""
        from paho.mqtt import client as mqtt  # few commands hear anything
        from paho.mqtt.enums import CallbackAPIVersion

        address, problem = self._address, list[str]()
        client = mqtt.Client(
            CallbackAPIVersion.VERSION2,
            client_id=f"pappus-{self._setting.name}",
            clean_session=self._setting.kind not in _OWN_TIME,
        )
        client.connect_timeout = _CONNECT_S
        if address.user:
            client.username_pw_set(address.user, self._setting.password)
        if address.tls:
            client.tls_set()

        def connected(_client: Any, _data: Any, _flags: Any, reason: Any, _properties: Any) -> None:
            if reason.is_failure:
                problem.append(f"the broker says: {reason}")
            else:
                client.subscribe(address.topic, qos=_AT_LEAST_ONCE)

        def subscribed(_client: Any, _data: Any, _id: Any, reasons: Any, _properties: Any) -> None:
            if any(reason.is_failure for reason in reasons):
                problem.append(f"the broker does not give {address.topic}: {reasons[0]}")
            else:
                desk.opened()

        def message(_client: Any, _data: Any, publication: Any) -> None:
            if publication.retain:
                # the broker's memory of an earlier packet; taken as heard now it would be a position of long ago
                desk.drop(1, "a retained message, kept by the broker from before")
                return
            _hand_over(desk, publication.payload)

        client.on_connect, client.on_subscribe, client.on_message = connected, subscribed, message
        try:
            client.connect(address.host, address.port, keepalive=_KEEP_ALIVE_S)
            while not desk.stopping.is_set():
                code = client.loop(timeout=_POLL_S)
                if problem:
                    raise ConnectionError(problem[0])
                if code != mqtt.MQTT_ERR_SUCCESS:
                    raise ConnectionError(mqtt.error_string(code))
        finally:
            client.disconnect()


def _hand_over(desk: Desk, message: bytes) -> None:
    if len(message) > LARGEST_MESSAGE:
        desk.drop(1, f"a message of more than {LARGEST_MESSAGE} bytes")
        return
    packets = packets_of_message(desk.setting.kind, message)
    if not packets:
        desk.drop(1)
    for packet in packets:
        desk.packet(packet)
