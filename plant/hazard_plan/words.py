"""A plan in words for its page: how often, within what bounds, on what basis."""

from __future__ import annotations

from django.utils.functional import Promise
from django.utils.translation import get_language, gettext_lazy, ngettext
from django.utils.translation import gettext as _

from plant.hazard_plan.content import FrequencyDef, LimitDef, TrainingDef
from plant.hazard_plan.recurrence import recurrence
from plant.kept_words import kept_word

# The bases of rows and limits as people read them; the word that the data uses is the key.
BASES: dict[str, str | Promise] = {
    "text consulted": gettext_lazy("text consulted"),
    "state mirror": gettext_lazy("a state's copy was read"),
    "twin": gettext_lazy("a sister rule was read"),
    "secondary": gettext_lazy("a summary was read"),
    "from memory": gettext_lazy("from memory: nobody read the text"),
    "computed": gettext_lazy("computed from other rows"),
    "plant rule": gettext_lazy("plant rule"),
}


def basis(word: str) -> str:
    """A basis in words."""
    return str(BASES.get(word, word))


def topic(training: TrainingDef) -> str:
    """What is taught, in the language that is spoken where the plan says it."""
    spanish = (get_language() or "").startswith("es")
    return training.topic_es if spanish and training.topic_es else training.topic


def again(training: TrainingDef) -> str:
    """How often it is asked: "once", "every 12 months"."""
    if not training.every_months:
        return _("once")
    words = ngettext("every month", "every %(months)s months", training.every_months)
    return words % {"months": training.every_months}


def bounds(limit: LimitDef) -> str:
    """The critical limit: "45 °F or below", "19 to 24 °F", "one of: yes"."""
    return _between(limit.low, limit.high, limit.unit) or _(" or ").join(kept_word(one) for one in limit.wanted)


def operating(limit: LimitDef) -> str:
    """The operating limit: "act above 40 °F"; empty when there is none."""
    unit = f" {limit.unit}" if limit.unit else ""
    low, high = limit.operating_low, limit.operating_high
    if low and high:
        return _("act below %(low)s and above %(high)s%(unit)s") % {"low": low, "high": high, "unit": unit}
    if low:
        return _("act below %(low)s%(unit)s") % {"low": low, "unit": unit}
    return _("act above %(high)s%(unit)s") % {"high": high, "unit": unit} if high else ""


def _between(low: str, high: str, unit: str) -> str:
    spaced = f" {unit}" if unit else ""
    if low and high:
        return _("%(low)s to %(high)s%(unit)s") % {"low": low, "high": high, "unit": spaced}
    if high:
        return _("%(high)s%(unit)s or below") % {"high": high, "unit": spaced}
    return _("%(low)s%(unit)s or above") % {"low": low, "unit": spaced} if low else ""


def often(one: FrequencyDef, shift_names: dict[str, str]) -> str:
    """How often, in words."""
    match one.kind:
        case "each_shift":
            shifts = ", ".join(shift_names.get(key, key) for key in one.shifts) or _("each shift")
            return _("%(shifts)s at %(times)s") % {"shifts": shifts, "times": ", ".join(one.at)}
        case "while_holding":
            return _("every %(length)s while it holds product") % {"length": _minutes(one.every_min)}
        case "before_use":
            return _("before use, at most %(length)s before") % {"length": _minutes(one.valid_min)}
        case "during_run":
            every = _minutes(one.every_min) if one.every_min else _("%(count)s units") % {"count": one.every_units}
            return _("every %(length)s of a run") % {"length": every}
        case "run_ends":
            if one.first and one.last:
                return _("at the start and the end of each run")
            return _("at the start of each run") if one.first else _("at the end of each run")
        case "after_event":
            return _("%(length)s after each %(event)s") % {"length": _minutes(one.minutes), "event": one.event}
        case "each_event":
            return _("at each %(event)s") % {"event": one.event}
        case "calendar":
            at = one.at[0] if one.at else ""
            closed = _("also on closed days") if one.on_closed == "keep" else _("not on closed days")
            return _("%(rule)s at %(at)s, %(closed)s") % {"rule": recurrence(one.rule), "at": at, "closed": closed}
    return one.kind


def _minutes(count: int) -> str:
    if count and count % 60 == 0:
        hours = count // 60
        return ngettext("%(count)s hour", "%(count)s hours", hours) % {"count": hours}
    return ngettext("%(count)s minute", "%(count)s minutes", count) % {"count": count}
