"""An area's own table beside the rows that hold everywhere: what is met by the one may be missed by the other."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from plant.process.pasteurization.classes import ProductClass
from plant.process.pasteurization.rows import Row, rows_for
from plant.process.pasteurization.verdict import Verdict, judge_by
from plant.process.said import Said
from plant.process.said import say as _


def general_missed(verdict: Verdict, product_class: ProductClass, rows: Iterable[Row], area: str) -> Said | None:
    """A sentence where the area's table is met and the rows that hold everywhere, in whose place it stands, are not.

    `verdict` by rows_for(`product_class`, `rows`, `area`). None where it is not met, where the area has no rows of its
    own for the method, or where a general row is met too. It changes no verdict: whoever reads one by a state's table
    has to know.

    Range: any rows.
    Raises: nothing.
    Source: 1 NYCRR 2.44 has 180 °F for 15 s for mix (state mirror), 21 CFR 135.3 has not (text consulted); which of
    them governs, the regulator decides.

    >>> from decimal import Decimal
    >>> from plant.process.pasteurization import Method, judge
    >>> mix = (ProductClass.MIX,), Method.HTST
    >>> here = Row("s", *mix, Decimal(180), "°F", Decimal(15), "state clause", "state mirror", area="Here")
    >>> every = [here, Row("f", *mix, Decimal(175), "°F", Decimal(25), "21 CFR 135.3", "text consulted")]
    >>> said = general_missed(judge(181, "°F", 15, [here]), ProductClass.MIX, every, "Here")
    >>> str(said)[:73]
    'The general row 175 °F for 25 s (21 CFR 135.3) is not met by these number'
    """
    here = verdict.standing
    if not verdict.met or here is None or not area or here.row.area != area:
        return None
    held = here.time_margin_s + Fraction(here.row.hold_s)
    general = judge_by(verdict.methods, here.temperature, here.row.unit, held, rows_for(product_class, rows))
    if general.met or general.standing is None:
        return None
    return _(
        "The general row %(row)s (%(clause)s) is not met by these numbers: %(margins)s. The table of %(area)s was "
        "taken in its place; which of the two governs, the regulator decides.",
        row=general.standing.row.words,
        clause=general.standing.row.clause,
        margins=general.standing.words,
        area=area,
    )
