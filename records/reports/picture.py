"""The Day chart's picture from the plain values of the day's data."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import UTC, datetime
from typing import Any

from django.utils.translation import gettext as _

from plant.pictures import day_data as pictures
from plant.pictures.day_chart import WORDS, day_chart_svg
from plant.process.limits import Outcome
from records.judging.words import to_operator
from records.reports.values import Data


def from_plain(plain: Data) -> pictures.DayChart:
    """The picture's data from the plain values."""
    return pictures.DayChart(
        title=plain["title"],
        plant=plain["plant"],
        start_at=_at(plain["start_at"]),
        end_at=_at(plain["end_at"]),
        zone=plain["zone"],
        now_at=_at(plain["now_at"]) if plain["now_at"] else None,
        shifts=tuple((_at(at), name) for at, name in plain["shifts"]),
        lanes=tuple(_lane_of(one) for one in plain["lanes"]),
        movements=tuple(
            pictures.Movement(one["from"], one["to"], _at(one["start_at"]), _maybe(one["end_at"]), one["label"])
            for one in plain["movements"]
        ),
    )


def _lane_of(one: Data) -> pictures.Lane:
    scale = one["scale"]
    return pictures.Lane(
        name=one["name"],
        limit_label=one["limit_label"],
        capacity=one["capacity"],
        contents=tuple(
            pictures.Segment(
                _at(each["start"]),
                _at(each["end"]),
                _number(each["fill0"]),
                _number(each["fill1"]),
                each["family"],
                each["label"],
            )
            for each in one["contents"]
        ),
        trace=tuple(_trace(one.get("trace", []))),
        scale=(float(scale[0]), float(scale[1])) if scale else None,
        limit=float(one["limit"]) if one["limit"] else None,
        act_limit=float(one["act_limit"]) if one["act_limit"] else None,
        limit_is=one["limit_is"],
        marks=tuple(
            pictures.Mark(_at(m["at"]), m["outcome"], m["label"], float(m["value"]) if m["value"] else None)
            for m in one["marks"]
        ),
        washes=tuple(pictures.Wash(_at(each["start"]), _at(each["end"]), each["label"]) for each in one["washes"]),
        holds=tuple(pictures.Hold(_at(each["start"]), _maybe(each["end"])) for each in one["holds"]),
        deviations=tuple(
            pictures.Deviation(_at(each["start"]), _maybe(each["end"]), each["sentence"]) for each in one["deviations"]
        ),
        notes=tuple(pictures.Note(_at(each["at"]), each["text"]) for each in one["notes"]),
    )


def _trace(columns: list[list[str | None]]) -> Iterator[tuple[datetime, float | None]]:
    """Each column's least and greatest at its first moment; None where nothing was recorded."""
    for at, low, high in columns:
        assert at is not None  # each column has its moment
        yield _at(at), _number(low)
        if high is not None:
            yield _at(at), _number(high)


def _at(text: str) -> datetime:
    return datetime.fromisoformat(text).astimezone(UTC)


def _number(text: str | None) -> float | None:
    return None if text is None else float(text)


def _maybe(text: str | None) -> datetime | None:
    return _at(text) if text else None


def svg(data: Data, *, print_: bool) -> str:
    """The Day chart of a day's data as a drawing, in the present language."""
    share, width = PRINT_SHARE[paper(data)], PRINT_WIDTH if print_ else SCREEN_WIDTH
    return day_chart_svg(from_plain(data["chart"]), width, print_, words(), print_share=share)


PRINT_WIDTH = 1180.0
SCREEN_WIDTH = 976.0  # what a tablet lying down (1024) has between the page's margins
# Height to width of a landscape page within its margins, a line of words under the chart left out.
PRINT_SHARE = {"letter": 0.73, "a4": 0.665}


def paper(data: Data) -> str:
    """'letter' where degrees are Fahrenheit, else 'a4'."""
    return "letter" if data["plant"]["temperature_unit"].removeprefix("°") == "F" else "a4"


def words() -> Mapping[str, str]:
    """The drawing's words in the present language."""
    named: dict[str, Any] = {outcome.value: to_operator(outcome.value) for outcome in Outcome}
    named |= {
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
    return {**WORDS, **named}
