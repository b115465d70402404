"""The seals of a pasteurizer as they stand: each place's acts folded in order of time. Reads, writes nothing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime

from django.utils.translation import gettext as _

from records.workshop.keeping import standing
from records.workshop.models import SealAct
from records.workshop.parts import part_words, seal_places

APPLIED, SEEN_WHOLE, RENEWED = "applied", "seen whole", "renewed"
FOUND_BROKEN, FOUND_MISSING, FOR_WORK = "found broken", "found missing", "broken for work"
ACTS = (SEEN_WHOLE, FOUND_BROKEN, FOUND_MISSING, APPLIED, RENEWED, FOR_WORK)
SEALING = (APPLIED, RENEWED)
BREAKING = (FOUND_BROKEN, FOUND_MISSING, FOR_WORK)
WHOLE, BROKEN, NOT_THERE, NEVER = "whole", "broken", "not there", "never recorded"


@dataclass(frozen=True, slots=True)
class SealState:
    """A seal's place at a moment: its number by the book, how it stands, since when, and the entry that says so."""

    place: str  # key of the part
    words: str  # the part in words
    number: str
    state: str  # whole, broken, not there, never recorded
    since: datetime | None
    entry: int | None
    sentence: str

    @property
    def is_whole(self) -> bool:
        """Silence is no seal: only one that was seen or set counts."""
        return self.state == WHOLE


@dataclass(slots=True)
class Story:
    """One place's past: how it stands at the end, and each time that it was not whole (until None: still)."""

    place: str
    words: str
    number: str = ""
    state: str = NEVER
    since: datetime | None = None
    entry: int | None = None
    last_whole: datetime | None = None
    open_times: list[tuple[datetime, datetime | None]] = field(default_factory=list)

    def take(self, act: SealAct) -> None:
        """The next act, in order of time."""
        if act.what in SEALING:
            self._close(act.observed_at)
            self.number, self.last_whole = act.number_seen, act.observed_at
            self._stand(WHOLE, act)
        elif act.what == SEEN_WHOLE:
            self._seen(act)
        else:
            self._open(act, NOT_THERE if act.what == FOUND_MISSING else BROKEN)

    def _seen(self, act: SealAct) -> None:
        if is_another(self.number, act.number_seen):
            self._open(act, NOT_THERE)
        elif self.state in (WHOLE, NEVER):
            self.number, self.last_whole = act.number_seen or self.number, act.observed_at
            self._stand(WHOLE, act)
        # A seal that was found broken is whole again when it is renewed, not when somebody looks.

    def _open(self, act: SealAct, state: str) -> None:
        if not self.open_times or self.open_times[-1][1] is not None:
            self.open_times.append((act.observed_at, None))
        self.number = self.number or act.number_seen
        self._stand(state, act)

    def _close(self, at: datetime) -> None:
        if self.open_times and self.open_times[-1][1] is None:
            self.open_times[-1] = (self.open_times[-1][0], at)

    def _stand(self, state: str, act: SealAct) -> None:
        if state != self.state:
            self.since = act.observed_at
        self.state, self.entry = state, act.number


def is_another(known: str, seen: str) -> bool:
    """Whether a number seen is not the one that the book knows; nothing known or read is no difference."""
    return bool(known and seen and known.strip().casefold() != seen.strip().casefold())


def stories(press: str, at: datetime) -> dict[str, Story]:
    """Each seal's place of a pasteurizer with its acts up to `at`; places without any too."""
    acts = standing(SealAct.objects.filter(place=press, observed_at__lte=at)).order_by("observed_at", "number")
    return fold(acts)


def fold(acts: Iterable[SealAct]) -> dict[str, Story]:
    """The stories of these acts, in order of time."""
    found = {key: Story(key, part_words(key)) for key in seal_places()}
    for act in acts:
        if act.seal_place not in found:
            found[act.seal_place] = Story(act.seal_place, act.seal_place_words)
        found[act.seal_place].take(act)
    return found


def seals_at(press: str, at: datetime) -> list[SealState]:
    """Each place of a seal: its number, how it stands at `at`, since when, and the entry that says so."""
    return [_state(one) for one in stories(press, at).values()]


def _state(one: Story) -> SealState:
    return SealState(one.place, one.words, one.number, one.state, one.since, one.entry, _sentence(one))


def _sentence(one: Story) -> str:
    words = {"where": one.words, "number": one.number or _("no number")}
    if one.state == WHOLE:
        return _("Seal at %(where)s whole (%(number)s).") % words
    if one.state == BROKEN:
        return _("The seal at %(where)s is broken (%(number)s).") % words
    if one.state == NOT_THERE:
        return _("The seal at %(where)s is not there, or another one is (%(number)s by the book).") % words
    return _("No seal at %(where)s is in the book: nothing says that it is whole.") % words
