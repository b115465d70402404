"""The sentences of findings. They name no time of day: that is shown beside them, in the zone of the reader."""

from __future__ import annotations

from fractions import Fraction

from plant.process.limits import Limit
from plant.process.pasteurization.numbers import said_temperature, said_time
from plant.process.pasteurization.rows import Row
from plant.process.said import Said
from plant.process.said import say as _
from plant.process.trace_judging.findings import Comparison, in_seconds
from plant.process.trace_judging.values import Cause, Exact


def amount(value: Exact, unit: str) -> Said:
    """A number with its unit, exact to the last digit that it has."""
    return said_temperature(value, unit)


def time(milliseconds: int) -> Said:
    """Milliseconds in words: "12 s", "1 min 5 s"."""
    return said_time(in_seconds(milliseconds))


def below_row(row: Row, hold_s: Exact | None, value: Fraction, recorded: Fraction, compared: Comparison | None) -> Said:
    """Forward flow below the row that its class and hold ask for."""
    words = {"value": amount(value, row.unit), "row": row.words}
    if hold_s is None:
        said = _("Forward flow at %(value)s, below the row %(row)s.", **words)
    else:
        words["held"] = said_time(hold_s)
        said = _("Forward flow at %(value)s, below the row %(row)s; the hold of record is %(held)s.", **words)
    if compared is None or value == recorded:
        return said
    return _(
        "%(sentence)s Recorded were %(recorded)s: in this run the recorder reads %(apart)s higher than the indicating "
        "thermometer.",
        sentence=said,
        recorded=amount(recorded, row.unit),
        apart=amount(compared.difference, compared.unit),
    )


def out_of(name: str, value: Fraction, limit: Limit, strict: bool) -> Said:
    """A value out of a limit."""
    words = {"name": name, "value": amount(value, limit.unit)}
    if strict and limit.low is not None and limit.high is None:
        bound = amount(limit.low, limit.unit)
        return _("%(name)s: %(value)s; it has to be above %(bound)s.", bound=bound, **words)
    if strict and limit.high is not None and limit.low is None:
        bound = amount(limit.high, limit.unit)
        return _("%(name)s: %(value)s; it has to be below %(bound)s.", bound=bound, **words)
    return _("%(name)s: %(value)s; the limit is %(limit)s.", limit=limit.words(), **words)


def past_operating(name: str, value: Fraction, bound: Exact, unit: str) -> Said:
    """A value past an operating limit, inside the critical one."""
    return _(
        "%(name)s: %(value)s, past the operating limit of %(bound)s.",
        name=name,
        value=amount(value, unit),
        bound=amount(bound, unit),
    )


def unproven(name: str, why: Cause, milliseconds: int, slowest_ms: int, value: Said | str) -> Said:
    """Why a stretch of a channel proves nothing. `value`: what a sample at fault says, with its unit."""
    words = {"name": name, "time": time(milliseconds), "value": str(value)}
    if isinstance(value, Said):
        words["value"] = value
    if why is Cause.TOO_SLOW:
        return _(
            "%(name)s: recorded more slowly than every %(slowest)s, as the plan asks: not proven between its samples.",
            name=name,
            slowest=time(slowest_ms),
        )
    if why is Cause.SENSOR_FAILED:
        return _("%(name)s: the sensor reported a failure; %(time)s are not proven.", name=name, time=words["time"])
    if why is Cause.SPIKE:
        return _(
            "%(name)s: %(value)s for a moment, faster than the process can change: a fault of the sensor. "
            "%(time)s are not proven.",
            **words,
        )
    if why is Cause.JUMP:
        return _(
            "%(name)s: a jump to %(value)s, faster than the process can change: a fault of the sensor. "
            "%(time)s are not proven, until it was compared or came back.",
            **words,
        )
    if why is Cause.OUT_OF_RANGE:
        return _(
            "%(name)s: %(value)s is beyond what the instrument can measure: a fault of the sensor. "
            "%(time)s are not proven.",
            **words,
        )
    if why is Cause.FLAT:
        return _("%(name)s: %(value)s without any change for %(time)s: the sensor may be stuck. Not proven.", **words)
    del words["value"]
    return _("%(name)s: nothing recorded for %(time)s; what was in between is not proven.", **words)


HOLD_NOT_PROVEN = {
    Cause.NO_TEST: _("The set-up has no holding-time test of record: its hold is not proven."),
    Cause.TEST_OVERDUE: _("The holding-time test of the set-up is overdue: its hold is not proven."),
    Cause.SEAL_BROKEN: _("A seal was broken since the holding-time test: the hold is not proven."),
    Cause.PUMP_WORKED_ON: _("The timing pump was worked on since the holding-time test: the hold is not proven."),
    Cause.NO_SET_UP: _("Forward flow, and no approved set-up is named for it: nothing proves the hold."),
}


def higher(found: Comparison) -> Said:
    """The recorder reads higher than the indicating thermometer."""
    return _(
        "The recorder reads %(recording)s beside %(indicating)s on the indicating thermometer: %(apart)s higher. It "
        "must never read higher.",
        recording=amount(found.recording, found.unit),
        indicating=amount(found.indicating, found.unit),
        apart=amount(found.difference, found.unit),
    )


def too_low(found: Comparison, allowed: Said) -> Said:
    """The recorder reads further below the indicating thermometer than its tolerance."""
    return _(
        "The recorder reads %(recording)s beside %(indicating)s on the indicating thermometer: %(apart)s lower; "
        "%(allowed)s are allowed. What it recorded is not proven.",
        recording=amount(found.recording, found.unit),
        indicating=amount(found.indicating, found.unit),
        apart=amount(-found.difference, found.unit),
        allowed=allowed,
    )


def clock_off(least_ms: int | None, most_ms: int | None, allowed_ms: int) -> Said:
    """A recorder's clock that is off, or that nobody checked."""
    if least_ms is None or most_ms is None:
        return _("Nobody compared the recorder's clock: its times are not proven.")
    furthest = max(least_ms, most_ms, key=abs)
    words = {"off": time(abs(furthest)), "allowed": time(allowed_ms)}
    if furthest > 0:
        return _("The recorder's clock was up to %(off)s ahead; %(allowed)s are allowed.", **words)
    return _("The recorder's clock was up to %(off)s late; %(allowed)s are allowed.", **words)
