"""How a sheet says things: times on the plant's clocks, limits, answers and outcomes in words."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.utils import formats
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from plant.process.limits import Outcome
from records.reports.values import Data

# The words of the proof; operators read others (records.judging.words).
OUTCOMES = {
    Outcome.MET.value: (gettext_lazy("met"), "met"),
    Outcome.OPERATING.value: (gettext_lazy("met, past the operating limit"), "act"),
    Outcome.NOT_MET.value: (gettext_lazy("not met"), "out"),
    Outcome.NOT_PROVEN.value: (gettext_lazy("not proven"), "none"),
}
TIMELINESS = {
    "on time": "",
    "answered late": gettext_lazy("late"),
    "missed": gettext_lazy("missed"),
    "answered after missed": gettext_lazy("missed, answered after"),
    "not yet": gettext_lazy("not due yet"),
    "due": gettext_lazy("open"),
    "late": gettext_lazy("open, late"),
}
KINDS = {
    "ccp": gettext_lazy("critical control point"),
    "allergen": gettext_lazy("allergen control"),
    "sanitation": gettext_lazy("sanitation control"),
    "supply-chain": gettext_lazy("supply-chain control"),
    "prerequisite": gettext_lazy("prerequisite programme"),
    "operating": gettext_lazy("operating control"),
}
SAME_TIME = timedelta(minutes=2)  # received so soon after it was observed needs no second time


@dataclass(frozen=True, slots=True)
class Clock:
    """The plant's clocks on one day: a time of another date carries its date."""

    zone: ZoneInfo
    day: date

    def time(self, text: str) -> str:
        """'09:15', or '4 Mar 02:00' on another date; nothing for no time."""
        if not text:
            return ""
        local = datetime.fromisoformat(text).astimezone(self.zone)
        clock = f"{local:%H:%M}"
        return clock if local.date() == self.day else f"{formats.date_format(local, 'j M')} {clock}"

    def full(self, text: str) -> str:
        """'2026-03-03 09:15:00 CST'."""
        return f"{datetime.fromisoformat(text).astimezone(self.zone):%Y-%m-%d %H:%M:%S %Z}"

    def offset(self, starts_at: str, ends_at: str) -> str:
        """'UTC−06:00', or both offsets of a day on which the clocks change."""
        seen = []
        for text in (starts_at, ends_at):
            local = datetime.fromisoformat(text).astimezone(UTC).astimezone(self.zone)
            shown = f"{local:%z}"
            shown = f"UTC{shown[:3].replace('-', '−')}:{shown[3:5]}"
            if shown not in seen:
                seen.append(shown)
        if len(seen) == 1:
            return seen[0]
        return _("%(first)s, after the clocks change %(then)s") % {"first": seen[0], "then": seen[1]}

    def received(self, row: Data) -> str:
        """When the book had it, where that is not when it was so."""
        observed, received = (datetime.fromisoformat(row[name]) for name in ("observed_at", "received_at"))
        return self.time(row["received_at"]) if received - observed > SAME_TIME else ""

    def signed(self, row: Data) -> str:
        """'Wren Castell, supervisor, 10:20'."""
        return ", ".join(
            part for part in (row["by"] or _("the watch"), row["role"], self.time(row["received_at"])) if part
        )


def limit_words(one: Data, what: str = "") -> str:
    """'at most 45 °F, act above 43 °F'; the quantity first where the question does not name it."""
    unit = f" {one['unit']}" if one["unit"] else ""
    low, high = one["low"], one["high"]
    if one["wanted"]:
        said = _("wanted: %(answers)s") % {"answers": _(" or ").join(answer(each) for each in one["wanted"])}
    elif low and high:
        said = _("%(low)s to %(high)s%(unit)s") % {"low": low, "high": high, "unit": unit}
    elif high:
        said = _("at most %(bound)s%(unit)s") % {"bound": high, "unit": unit}
    elif low:
        said = _("at least %(bound)s%(unit)s") % {"bound": low, "unit": unit}
    else:
        said = ""
    acts = []
    if one["act_low"]:
        acts.append(_("act below %(bound)s%(unit)s") % {"bound": one["act_low"], "unit": unit})
    if one["act_high"]:
        acts.append(_("act above %(bound)s%(unit)s") % {"bound": one["act_high"], "unit": unit})
    named = (
        one["quantity"] if one["quantity"] and not one["wanted"] and one["quantity"].lower() not in what.lower() else ""
    )
    return ", ".join(filter(None, (f"{named}: {said}" if named and said else said, *acts)))


def answer(typed: str) -> str:
    """A typed answer; yes and no in the present language."""
    return {"yes": _("yes"), "no": _("no")}.get(typed, typed)


def reading_words(one: Data) -> str:
    """What was read, as it was typed, with its unit."""
    if one["not_taken"]:
        return _("not taken: %(why)s") % {"why": one["not_taken"]}
    unit = f" {one['unit']}" if one["unit"] else ""
    if one["kind"] == "pair":
        return _("indicating %(one)s, recording %(other)s%(unit)s") % {
            "one": one["typed"],
            "other": one["typed_second"],
            "unit": unit,
        }
    if one["kind"] == "places":
        return places_words(one["places"])
    if one["kind"] == "photo" or (one["file"] and not one["typed"]):
        return _("photo %(hash)s…") % {"hash": one["file"][:16]}
    return f"{answer(one['typed'])}{unit}"


def places_words(places: Data) -> str:
    """'20 places: ok', the answers with their places where they are not all the same."""
    answers: dict[str, list[str]] = {}
    for place, given in places.items():
        answers.setdefault(given, []).append(place)
    if len(answers) == 1:
        given = next(iter(answers))
        return _("%(count)s places: %(answer)s") % {"count": len(places), "answer": answer(given)}
    fewest = sorted(answers.items(), key=lambda one: (len(one[1]), one[0]))
    parts = [f"{answer(given)}: {', '.join(named)}" for given, named in fewest[:-1]]
    return "; ".join([*parts, _("the others: %(answer)s") % {"answer": answer(fewest[-1][0])}])


def remarks(one: Data, clock: Clock) -> list[str]:
    """What else belongs to a reading: what it says of itself, what was written to it."""
    said = []
    if one["agitator_ran"] is False:
        said.append(_("the agitator had not run"))
    if one["bulb_covered"] is False:
        said.append(_("the bulb was not covered"))
    if one["late_reason"]:
        said.append(_("why late: %(why)s") % {"why": one["late_reason"]})
    if one["paper_form"]:
        said.append(_("copied from paper form no. %(number)s") % {"number": one["paper_form"]})
    if one["file"] and one["kind"] != "photo":
        said.append(_("photo %(hash)s…") % {"hash": one["file"][:16]})
    if one["note"]:
        said.append(one["note"])
    said += [f"{each['text']} ({each['initials']} {clock.time(each['received_at'])})" for each in one["notes"]]
    return said
