"""Rule sets: what the law and the model ordinance ask, as data files, each row with its clause and its basis.

Pure: no Django. The files are plant/rules/<key>.toml; us.toml says what each name of a row means.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, fields
from functools import lru_cache
from pathlib import Path
from typing import Any

__all__ = ["BASES", "Rule", "RuleSet", "READ", "keys", "rule_set"]

FOLDER = Path(__file__).parent
READ = "text consulted"  # the basis of a row whose wording was read: a plan may not be laxer
BASES = (READ, "state mirror", "twin", "secondary", "from memory", "computed")
_SOURCE = re.compile(r"\bR\d+\b")


@dataclass(frozen=True, slots=True)
class Rule:
    """One row. Decimals as text in `unit`, the governing unit; `celsius` as printed, for display alone.

    `seconds` or `minutes`: the shortest hold that goes with `low`. `hours`: how soon `high` has to be reached.
    `samples`, `may_exceed`, `m`, `never_above`: n, c, m and M of a criterion for a lot; `m` empty: found or not.
    `mean_months`: `high` bounds the geometric mean of the counts of so many months, with `mean_each` a month at least.
    `months`: the longest time between two tests. `each`: what a check must be done at, one of "run", "tanker", "day",
    "label roll".
    """

    id: str
    group: str
    title: str
    clause: str
    edition: str
    basis: str
    quantity: str = ""
    unit: str = ""
    low: str = ""
    high: str = ""
    seconds: str = ""
    minutes: str = ""
    hours: str = ""
    celsius: str = ""
    samples: int = 0
    may_exceed: int = 0
    m: str = ""
    never_above: str = ""
    mean_months: int = 0
    mean_each: int = 0
    months: int = 0
    each: str = ""
    source: str = ""
    note: str = ""

    @property
    def was_read(self) -> bool:
        """Whether the wording itself was read, so that a laxer plan is refused."""
        return self.basis == READ


@dataclass(frozen=True, slots=True)
class RuleSet:
    """All rows of one rule set, by id in written order, and the addresses behind their R-numbers."""

    key: str
    title: str
    edition: str
    caution: str
    rows: dict[str, Rule]
    sources: dict[str, str]

    def addresses(self, rule: Rule) -> list[tuple[str, str]]:
        """The numbers that a row names as its source, each with its address."""
        return [(number, self.sources[number]) for number in _SOURCE.findall(rule.source)]


def keys() -> list[str]:
    """The rule sets there are."""
    return sorted(path.stem for path in FOLDER.glob("*.toml"))


@lru_cache(maxsize=8)
def rule_set(key: str) -> RuleSet:
    """The rule set of that key; KeyError when there is none, ValueError when its file is wrong."""
    if key not in keys():
        raise KeyError(key)
    data = tomllib.loads((FOLDER / f"{key}.toml").read_text(encoding="utf-8"))
    rows: dict[str, Rule] = {}
    for row in data["rules"]:
        rule = _rule(row)
        if rule.id in rows:
            raise ValueError(f"{key}: {rule.id} stands twice")
        rows[rule.id] = rule
    made = RuleSet(data["key"], data["title"], data["edition"], data["caution"], rows, data["sources"])
    for rule in rows.values():
        made.addresses(rule)
    return made


def _rule(row: dict[str, Any]) -> Rule:
    unknown = set(row) - {one.name for one in fields(Rule)}
    if unknown:
        raise ValueError(f"{row.get('id')}: {sorted(unknown)[0]} is not a name that a rule knows")
    rule = Rule(**row)
    if rule.basis not in BASES:
        raise ValueError(f"{rule.id}: {rule.basis!r} is no basis; use one of {', '.join(BASES)}")
    return rule
