"""The words of the drawings in the reader's language: the drawings themselves know no Django."""

from __future__ import annotations

from django.utils.translation import gettext as _

from plant.process.limits import Outcome


def outcome_words() -> dict[str, str]:
    """Return what operators call each verdict."""
    return {
        Outcome.MET: _("in limits"),
        Outcome.OPERATING: _("in limits, act"),
        Outcome.NOT_MET: _("out of limits"),
        Outcome.NOT_PROVEN: _("not proven"),
    }


def stop_words() -> dict[str, str]:
    """Return the states of a stop of the walk."""
    return {"due": _("due"), "done": _("done"), "late": _("late"), "missed": _("missed")}


def gauge_words() -> dict[str, str]:
    """Return the words of gauge.gauge_svg."""
    return {
        **outcome_words(),
        "limit": _("limit"),
        "act_above": _("act above"),
        "act_below": _("act below"),
        "new": _("now"),
        "title": _("Limit gauge"),
        "no_readings": _("no earlier reading"),
    }


def chart_words() -> dict[str, str]:
    """Return the words of day_chart.day_chart_svg."""
    return {
        **outcome_words(),
        "raw milk": _("raw milk"),
        "cream": _("cream"),
        "skim": _("skim"),
        "milk": _("pasteurized milk"),
        "mix": _("mix"),
        "ice cream": _("ice cream"),
        "other": _("other"),
        "on hold": _("on hold"),
        "now": _("now"),
        "limit": _("limit"),
        "act line": _("act from here"),
        "recorded": _("recorded temperature"),
        "reading": _("reading"),
        "wash": _("washed or sanitized"),
        "movement": _("movement"),
        "deviation": _("deviation"),
        "forward": _("clocks go forward"),
        "back": _("clocks go back"),
        "height": _("height: how full"),
        "level": _("how full is not known"),
        "several": _("several readings, the gravest mark"),
        "summary": _("{lanes} lanes, {readings} readings, {deviations} deviations, {movements} movements"),
        "nothing": _("No vessel to show"),
    }
