"""How far a recall reaches: the lots and movements that could hold any of it, and how much of it by perfect mixing."""

from __future__ import annotations

from django.utils.translation import gettext_lazy as _

from plant.calculators.lots_family import family_picture
from plant.calculators.lots_rows import (
    BREAKS,
    MOVEMENTS,
    OUTSIDE,
    Record,
    amount,
    clock,
    origin_of,
    percent,
    record_of,
)
from plant.calculators.working import BY_DEFINITION, Ask, Calculator, Step, Table, Values, Working
from plant.process.lots import (
    Lot,
    Mix,
    Origin,
    Scope,
    Shares,
    fill_at,
    lot_shares,
    origin_shares,
    scope_backward,
    scope_forward,
)
from plant.process.said import say

PATHS = say("time-respecting paths; Kempe, Kleinberg and Kumar, 2002 (from memory)")
MIXING = say("perfect mixing; Danckwerts, 1953; Levenspiel, Chemical Reaction Engineering, ch. 11 (from memory)")
UNITS = ("gal", "L", "lb", "kg")
CAUTIONS = (
    say(
        "A recall goes by the worst case: every lot that could hold any of it. A small share takes no lot out of it "
        "and makes none fit to eat."
    ),
    say("The shares assume that every vessel is perfectly mixed. They serve the inquiry, not the decision."),
    say(
        "What is not recorded is not found: rework, samples, what is left in lines and hoses, a wash that was not "
        "done. Where the record is doubtful, leave the clean break out."
    ),
    say(
        "Whom to tell, what to hold and what to recall is decided by your recall plan (21 CFR 117.139) and your "
        "regulator. Records of sources and recipients: 21 CFR 1.337 and 1.345."
    ),
)


def _work(values: Values) -> Working:
    record, origin = record_of(values), origin_of(values)
    slack = float(values["slack"].value) if values["slack"] is not None else 0.0
    if values["direction"] == "forward":
        return _forward(record, origin, slack, values["unit"])
    return _backward(record, origin, slack, values["unit"])


def _forward(record: Record, origin: Origin, slack: float, unit: str) -> Working:
    scope = scope_forward(record.movements, record.breaks, origin, record.outside)
    shares = origin_shares(record.movements, record.breaks, origin, outside=record.outside, slack=slack)
    out = [one for one in scope.movements if record.leaves(one)]
    answer = say(
        "%(lots)s lots and %(moves)s movements could hold some of it; %(out)s of the movements left the plant.",
        lots=str(len(scope.lots)),
        moves=str(len(scope.movements)),
        out=str(len(out)),
    )
    steps = [_origin_step(origin), *_scope_steps(scope)]
    for ident in out[:6]:
        mix = shares.carried.get(ident)
        if mix is not None:
            low, high = float(mix.low[0]), float(mix.high[0])
            what = say("Movement %(line)s, out of the plant: how much of it is of the origin", line=str(ident))
            how = f"{'?' if mix.quantity is None else f'{mix.quantity:g} {unit}'} x {percent(low, high)}"
            steps.append(Step(what, how, amount(mix, low, high, unit), MIXING))
    return Working(
        answer=answer,
        steps=tuple(steps),
        cautions=(*_not_followed(record), *_cautions_of(shares), *CAUTIONS),
        tables=(_lot_table(scope, shares, unit), _move_table(record, scope, shares, unit)),
        picture=family_picture(record, scope, shares, origin, forward=True),
    )


def _backward(record: Record, origin: Origin, slack: float, unit: str) -> Working:
    scope = scope_backward(record.movements, record.breaks, origin, record.outside)
    shares = lot_shares(record.movements, record.breaks, outside=record.outside, slack=slack)
    brought = [one for one in scope.movements if one in shares.sources]
    answer = say(
        "It could hold something of %(lots)s lots; %(brought)s movements from outside could have brought it.",
        lots=str(len(scope.lots)),
        brought=str(len(brought)),
    )
    asked = _asked(record, origin, scope, shares)
    steps = [_origin_step(origin), *_scope_steps(scope)]
    for name, mix in asked.items():
        for ident in brought[:8]:
            place = shares.sources.index(ident)
            low, high = float(mix.low[place]), float(mix.high[place])
            what = say("%(asked)s: share of movement %(line)s", asked=name, line=str(ident))
            steps.append(Step(what, record.route(ident), percent(low, high), MIXING))
    rows = [
        (
            str(ident),
            record.route(ident),
            clock(scope.movements[ident]),
            *(percent(*_ends(mix, shares.sources.index(ident))) for mix in asked.values()),
        )
        for ident in brought
    ]
    head = (say("movement"), say("from and to"), say("latest"), *asked)
    return Working(
        answer=answer,
        steps=tuple(steps),
        cautions=(*_not_followed(record), *_cautions_of(shares), *CAUTIONS),
        tables=(Table(say("What could have brought it"), head, tuple(rows)), _past_table(scope, shares, unit)),
        picture=family_picture(record, scope, shares, origin, forward=False),
    )


def _ends(mix: Mix, place: int) -> tuple[float, float]:
    return float(mix.low[place]), float(mix.high[place])


def _asked(record: Record, origin: Origin, scope: Scope, shares: Shares) -> dict[str, Mix]:
    """The movements and lots that were asked about, with what is known of their shares."""
    found: dict[str, Mix] = {}
    for ident in origin.movements:
        if ident in shares.carried:
            found[say("movement %(line)s", line=str(ident))] = shares.carried[ident]
    for lot in scope.lots:
        first = fill_at(record.breaks, lot[0], origin.since)
        within = first <= lot[1] <= fill_at(record.breaks, lot[0], origin.until)
        if lot[0] in origin.places and within and lot in shares.entered:
            found[_lot_name(lot)] = shares.entered[lot]
    for ident in scope.movements:
        move = next(one for one in record.movements if one.ident == ident)
        if move.target in origin.places and move.target in record.outside and ident in shares.carried:
            found[say("movement %(line)s", line=str(ident))] = shares.carried[ident]
    return dict(list(found.items())[:4])


def _origin_step(origin: Origin) -> Step:
    named, lines = ", ".join(origin.places), ", ".join(map(str, origin.movements))
    moves = say("movements %(lines)s", lines=lines)
    if not origin.places:
        return Step(say("What is asked about"), moves, say("all of it"), BY_DEFINITION)
    both = say("%(places)s; movements %(lines)s", places=named, lines=lines) if lines else named
    window = say("%(since)s to %(until)s", since=clock(origin.since), until=clock(origin.until))
    return Step(say("What is asked about"), both, window, BY_DEFINITION)


def _scope_steps(scope: Scope) -> list[Step]:
    return [
        Step(
            say("Lots in the worst case"),
            say("every chain of movements, each going on when the one before had arrived, until a clean break"),
            str(len(scope.lots)),
            PATHS,
        ),
        Step(say("Movements in it"), say("the links of these chains"), str(len(scope.movements)), PATHS),
    ]


def _not_followed(record: Record) -> list[str]:
    """Names called outside through which something went: a vessel called so by mistake cuts a recall's list short."""
    given = {str(one[1]) for one in record.movements if one[1] in record.outside}
    through = sorted(given & {str(one[2]) for one in record.movements if one[2] in record.outside})
    if not through:
        return []
    names = ", ".join(through)
    return [
        say("Called outside, yet it takes in and gives out: %(names)s. What went through is not followed.", names=names)
    ]


def _cautions_of(shares: Shares) -> list[str]:
    found: list[str] = []
    if shares.overdrawn:
        names = "; ".join(f"{lot[0]}, {more:.4g}" for lot, more in shares.overdrawn.items())
        found.append(
            say("More was drawn than came in, so something is missing or a meter is off: %(names)s.", names=names)
        )
    if not all(mix.known for mix in shares.carried.values()):
        found.append(say("Some shares have bounds only: a quantity is unknown."))
    return found


def _lot_name(lot: Lot) -> str:
    return say("%(vessel)s, fill %(fill)s", vessel=lot[0], fill=str(lot[1] + 1))


def _lot_table(scope: Scope, shares: Shares, unit: str) -> Table:
    rows = []
    for lot, at in scope.lots.items():
        mix = shares.entered.get(lot)
        low, high = _ends(mix, 0) if mix else (0.0, 0.0)
        shown = ("", "") if mix is None else (percent(low, high), amount(mix, low, high, unit))
        rows.append((lot[0], str(lot[1] + 1), clock(at), *shown))
    head = (say("vessel"), say("fill"), say("from"), say("share of all that it took in"), say("of it"))
    return Table(say("Lots that could hold any of it"), head, tuple(rows))


def _move_table(record: Record, scope: Scope, shares: Shares, unit: str) -> Table:
    rows = []
    for ident, at in scope.movements.items():
        mix = shares.carried.get(ident)
        low, high = _ends(mix, 0) if mix else (0.0, 0.0)
        shown = ("", "") if mix is None else (percent(low, high), amount(mix, low, high, unit))
        out = say("out of the plant") if record.leaves(ident) else ""
        rows.append((str(ident), record.route(ident), clock(at), *shown, out))
    head = (say("movement"), say("from and to"), say("from"), say("share"), say("of it"), "")
    return Table(say("Movements that could have carried some of it"), head, tuple(rows))


def _past_table(scope: Scope, shares: Shares, unit: str) -> Table:
    rows = []
    for lot, at in scope.lots.items():
        mix = shares.entered.get(lot)
        taken = "" if mix is None else "?" if mix.quantity is None else f"{mix.quantity:.1f} {unit}"
        rows.append((lot[0], str(lot[1] + 1), clock(at), taken))
    head = (say("vessel"), say("fill"), say("latest"), say("took in"))
    return Table(say("Lots of which it could hold something"), head, tuple(rows))


CALCULATOR = Calculator(
    key="lots",
    title=_("How far a recall reaches"),
    purpose=_(
        "Every lot that could hold some of a milk, an ingredient or a vessel's contents, or where a lot's came from, "
        "and how much of it by perfect mixing."
    ),
    asks=(
        MOVEMENTS,
        BREAKS,
        OUTSIDE,
        Ask(
            name="direction",
            label=_("Follow it"),
            kind="choice",
            choices=(("forward", _("forward: where could it be")), ("backward", _("backward: where did it come from"))),
            example="forward",
        ),
        Ask(
            name="places",
            label=_("Vessels or outside places"),
            kind="text",
            example="Nettle Farm",
            required=False,
            help=_("With commas between them."),
        ),
        Ask(name="since", label=_("From"), kind="text", example="4:00", required=False, help=_("hours:minutes")),
        Ask(name="until", label=_("Until"), kind="text", example="5:00", required=False, help=_("hours:minutes")),
        Ask(
            name="lines",
            label=_("Or movements, by the number of their line"),
            kind="text",
            required=False,
            help=_("With commas between them."),
        ),
        Ask(
            name="unit",
            label=_("Unit of the quantities"),
            kind="choice",
            choices=tuple((one, one) for one in UNITS),
            example="gal",
        ),
        Ask(
            name="slack",
            label=_("So much more may be drawn than a vessel held"),
            units=("",),
            low=0,
            high=1e9,
            example="20",
            required=False,
            help=_("Meters differ. Beyond it the shares of that lot are unknown."),
        ),
    ),
    work=_work,
)
