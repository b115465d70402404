"""Allergens: which ones the law names, how they travel with product from lot to lot, and what a label leaves out.

Names are keys in English as plans and records keep them. No dose is computed: no threshold of an allergen in a food is
set in US law, so what went in, in whatever part, is in it.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass
from typing import TypeVar

Lot = TypeVar("Lot", bound=Hashable)

# Section 201(qq) of the Federal Food, Drug, and Cosmetic Act; sesame by the FASTER Act of 2021, since 1 January 2023.
US_CLAUSE = "21 USC 321(qq)"
US_MAJOR = (
    "milk", "eggs", "fish", "crustacean shellfish", "tree nuts", "peanuts", "wheat", "soybeans", "sesame",
)  # fmt: skip
# Of these a label names the kind: the nut, the species (21 USC 343(w)(2)).
US_KIND_CLAUSE = "21 USC 343(w)(2)"
US_BY_KIND = ("fish", "crustacean shellfish", "tree nuts")
# Regulation (EU) No 1169/2011, Annex II, in its order.
EU_CLAUSE = "Regulation (EU) 1169/2011, Annex II"
EU_ANNEX_II = (
    "cereals containing gluten", "crustaceans", "eggs", "fish", "peanuts", "soybeans", "milk", "tree nuts", "celery",
    "mustard", "sesame", "sulfur dioxide and sulfites", "lupin", "mollusks",
)  # fmt: skip
BY_RULE_SET = {"us": (US_CLAUSE, US_MAJOR), "eu": (EU_CLAUSE, EU_ANNEX_II)}


@dataclass(frozen=True, slots=True)
class Content:
    """Something that went in, by its printed name, with its allergens."""

    name: str
    allergens: frozenset[str]


@dataclass(frozen=True, slots=True)
class Left:
    """An allergen that a label does not declare, and the names of what brought it."""

    allergen: str
    brought_by: tuple[str, ...]


def named_by_law(rule_set: str) -> tuple[str, tuple[str, ...]]:
    """The clause and the allergens that it names for a rule set ("us", "eu"). Raises KeyError for another."""
    return BY_RULE_SET[rule_set]


def undeclared(declared: Iterable[str], contents: Iterable[Content]) -> list[Left]:
    """What contents bring that a label does not declare, in order of the allergen's name; each once.

    An allergen counts whether or not the law names it: what a plan's own list says stands too.
    """
    own = set(declared)
    found: dict[str, dict[str, None]] = {}
    for one in contents:
        for allergen in one.allergens - own:
            found.setdefault(allergen, {})[one.name] = None
    return [Left(allergen, tuple(found[allergen])) for allergen in sorted(found)]


def carried(lot: Lot, into: Mapping[Lot, Iterable[Content]], out_of: Mapping[Lot, Iterable[Lot]]) -> list[Content]:
    """Everything that is in a lot: what went into it and into the lots that it was made of, rework among them.

    `into`: what was put into each lot as such; `out_of`: the lots that gave product to each. Each content once, the
    nearest first. Rework that goes round (a lot made partly of itself) ends the walk there.
    """
    found: dict[Content, None] = {}
    seen, waiting = {lot}, deque([lot])
    while waiting:
        here = waiting.popleft()
        found.update(dict.fromkeys(into.get(here, ())))
        for one in out_of.get(here, ()):
            if one not in seen:
                seen.add(one)
                waiting.append(one)
    return list(found)


def all_of(contents: Iterable[Content]) -> tuple[str, ...]:
    """The allergens of these contents together, those that US law names first, in its order, then by name."""
    every = frozenset().union(*(one.allergens for one in contents))
    return (*(one for one in US_MAJOR if one in every), *sorted(every - set(US_MAJOR)))
