"""Every route of the URLconf, and an address for each: from the names and converters of its parts."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.urls import URLPattern, URLResolver, get_resolver, reverse

UNKNOWN_ID = uuid.UUID("00000000-0000-4000-8000-000000000000")


@dataclass(frozen=True)
class Route:
    """A route's full name and the converter of each part of its address that varies."""

    name: str
    parts: tuple[tuple[str, str], ...]

    def address(self, known: dict[str, Any] | None = None) -> str:
        """An address of this route: what `known` says of a part by its name, else something of the right kind."""
        known = known or {}
        return reverse(self.name, kwargs={name: known.get(name, _sample(kind)) for name, kind in self.parts})


def routes() -> list[Route]:
    """Every named route, in the order of the URLconf."""
    return list(_walk(get_resolver().url_patterns, "", ()))


def _walk(patterns: list[Any], prefix: str, parts: tuple[tuple[str, str], ...]) -> Iterator[Route]:
    for one in patterns:
        found = parts + tuple((name, type(kind).__name__) for name, kind in one.pattern.converters.items())
        if isinstance(one, URLResolver):
            inner = f"{prefix}{one.namespace}:" if one.namespace else prefix
            yield from _walk(one.url_patterns, inner, found)
        elif isinstance(one, URLPattern):
            yield Route(f"{prefix}{one.name}", found)


def _sample(kind: str) -> Any:
    match kind:
        case "IntConverter":
            return 1
        case "UUIDConverter":
            return UNKNOWN_ID
        case "SlugConverter":
            return "silo-a"
    return "x"
