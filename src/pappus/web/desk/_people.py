"""Who may see and do what: people, their roles and their keys, kept beside the plan."""

from __future__ import annotations

import hashlib
import hmac
import json
import os
import secrets
import tempfile
import threading
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from enum import StrEnum
from pathlib import Path

from pappus.errors import BadFile, BadInput, Finding

MOST_PEOPLE = 60
_LAPTOP = "laptop"


class Role(StrEnum):
    """What a person may do: a viewer looks, the crew also acts on the flight, the director also decides and shares."""

    VIEWER = "viewer"
    CREW = "crew"
    DIRECTOR = "director"

    def may(self, least: Role) -> bool:
        """Whether this role is at least ``least``."""
        order = list(Role)
        return order.index(self) >= order.index(least)


@dataclass(frozen=True)
class Person:
    """One person with a link of their own; the key itself is not kept, only its digest."""

    id: str
    name: str
    role: Role
    key_sha256: str
    since_utc: str
    revoked_utc: str | None = None


class People:
    """The people of one desk, in ``people.json`` of its folder, so that a restart turns nobody out."""

    def __init__(self, folder: Path, now: Callable[[], datetime]) -> None:
        self._folder, self._now, self._lock = folder, now, threading.Lock()
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        self._people = self._read()
        self.laptop_key = self._own_key()
        self._secret = hashlib.sha256(b"pages of " + self.laptop_key.encode()).digest()

    def all(self) -> tuple[Person, ...]:
        """Everybody, the laptop first, revoked ones too."""
        with self._lock:
            return tuple(self._people.values())

    def by_key(self, key: str | None) -> Person | None:
        """Who holds this key; None when nobody does or the link was revoked."""
        if not key or len(key) > 200:
            return None
        digest = _digest(key)
        for person in self.all():
            if hmac.compare_digest(person.key_sha256, digest):
                return None if person.revoked_utc else person
        return None

    def add(self, name: str, role: Role) -> tuple[Person, str]:
        """A new person and the key of their link, which is told this once."""
        key = secrets.token_urlsafe(24)
        with self._lock:
            if len(self._people) >= MOST_PEOPLE:
                fix = f"Remove {self._folder / 'people.json'} to begin a new list."
                raise BadInput(Finding("name", name, f"{MOST_PEOPLE} people have a link already", fix))
            person = Person(secrets.token_hex(4), name, role, _digest(key), self._stamp())
            self._people[person.id] = person
            self._write()
        return person, key

    def revoke(self, person_id: str) -> Person | None:
        """End a link at once; None when there is no such person. The laptop itself keeps its own."""
        with self._lock:
            person = self._people.get(person_id)
            if person is None or person_id == _LAPTOP:
                return None
            ended = person if person.revoked_utc else replace(person, revoked_utc=self._stamp())
            self._people[person_id] = ended
            self._write()
        return ended

    def page_token(self, person: Person) -> str:
        """What a page of ours sends along with a change; other sites cannot know it."""
        return hmac.new(self._secret, person.key_sha256.encode(), hashlib.sha256).hexdigest()

    def token_fits(self, person: Person, token: str | None) -> bool:
        """Whether a change came from a page of ours, opened by this person."""
        return token is not None and hmac.compare_digest(self.page_token(person).encode(), token.encode())

    def _own_key(self) -> str:
        """The key of the laptop's own browser; kept, so that a restart in the field leaves its page open."""
        path = self._folder / "laptop.key"
        key = path.read_text("utf-8").strip() if path.is_file() else ""
        if len(key) < 32:
            key = secrets.token_urlsafe(32)
            write_secret(path, key.encode())
        own = Person(_LAPTOP, "this laptop", Role.DIRECTOR, _digest(key), self._stamp())
        self._people = {_LAPTOP: own} | {name: one for name, one in self._people.items() if name != _LAPTOP}
        return key

    def _read(self) -> dict[str, Person]:
        path = self._folder / "people.json"
        if not path.is_file():
            return {}
        try:
            rows = json.loads(path.read_text("utf-8"))
            people = [Person(**(row | {"role": Role(row["role"])})) for row in rows]
        except (ValueError, TypeError, KeyError) as error:
            fix = "Remove the file; then everybody needs a new link."
            raise BadFile(Finding(str(path), "", f"not a list of people: {error}", fix)) from error
        return {person.id: person for person in people}

    def _write(self) -> None:
        rows = [asdict(person) for person in self._people.values() if person.id != _LAPTOP]
        write_secret(self._folder / "people.json", json.dumps(rows, indent=1).encode())

    def _stamp(self) -> str:
        return self._now().astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def write_secret(path: Path, data: bytes) -> None:
    """The whole file or the old one, readable by its owner alone."""
    handle, part = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}-")
    with os.fdopen(handle, "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    Path(part).replace(path)


def _digest(key: str) -> str:
    return hashlib.sha256(key.encode("utf-8", "surrogatepass")).hexdigest()
