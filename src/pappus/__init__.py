"""pappus: where will it be, how sure are we, and what do we do now?

Rooms and the direction of imports: see ``docs/decisions.md`` and the import contracts in ``pyproject.toml``.
"""

__version__ = "0.1.0"
