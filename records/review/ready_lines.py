"""The lines of the Ready page: one thing in a sentence, where it belongs, and what kind of thing it is."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from django.utils.translation import gettext as _

from plant.hazard_plan.content import VesselDef
from records.checks.queries import DueCheck

AGAINST, LATE, UNKNOWN = "against", "late", "unknown"


@dataclass(frozen=True, slots=True)
class Line:
    """One thing in a sentence, what kind of thing it is, and where it is answered ("" for nowhere)."""

    kind: str
    sentence: str
    address: str = ""


@dataclass(slots=True)
class Ready:
    """One place, or with no vessel the whole plant. `takes`: it can take first product, so the list is about that."""

    vessel: VesselDef | None
    takes: bool = True
    state: str = ""
    lines: list[Line] = field(default_factory=list)

    def add(self, kind: str, sentences: Iterable[str], address: str = "") -> None:
        """Add sentences; the same one stands once."""
        known = {one.sentence for one in self.lines}
        self.lines += [Line(kind, one, address) for one in dict.fromkeys(sentences) if one not in known]

    def of(self, kind: str) -> list[Line]:
        """The lines of a kind."""
        return [one for one in self.lines if one.kind == kind]

    @property
    def sorted_lines(self) -> list[Line]:
        """What stands against it first, then what is late, then what nobody recorded."""
        return [line for kind in (AGAINST, LATE, UNKNOWN) for line in self.of(kind)]


def late_words(check: DueCheck) -> str:
    """That a check is late, and since when it is due."""
    at = check.in_force.calendar.local(check.due.due_at).strftime("%H:%M")
    return _("%(what)s, due %(at)s, is late") % {"what": check.monitoring.what.rstrip("?."), "at": at}
