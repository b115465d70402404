"""What lies over a trace besides its samples: products along the top, diversions and findings with their sentences.

A feature that knows of such times registers a source, in its own module, when the application starts:

    @overlays.source
    def products(instrument: str, window: Window, in_force: InForce) -> Overlay: ...

Each source is asked once for each picture, with one instrument and one window, and answers with few queries.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from plant.pictures.strip_data import Band, Stretch
from records.people.plans import InForce
from records.traces.windows import Window


@dataclass(frozen=True, slots=True)
class Overlay:
    """Products and marked times; their words are in the reader's language."""

    bands: tuple[Band, ...] = ()
    stretches: tuple[Stretch, ...] = ()


Source = Callable[[str, Window, InForce], Overlay]
_SOURCES: list[Source] = []


def source(given: Source) -> Source:
    """Register a source, once."""
    if given not in _SOURCES:
        _SOURCES.append(given)
    return given


def forget(given: Source) -> None:
    """Ask a source no more."""
    _SOURCES.remove(given)


def over(instrument: str, window: Window, in_force: InForce) -> Overlay:
    """What all sources know of an instrument and a window."""
    found = [one(instrument, window, in_force) for one in _SOURCES]
    bands = tuple(band for one in found for band in one.bands)
    return Overlay(bands, tuple(stretch for one in found for stretch in one.stretches))
