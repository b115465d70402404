"""What the tests of the calculators share: workings of typed values, their parts, and odd values to type."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import pytest
from hypothesis import strategies as st

from plant.calculators import calculators
from plant.calculators.working import Ask, Step, Table, Working
from plant.process.errors import CalculationError

Typed = dict[str, str]
# What somebody may type instead of a value.
ODD = st.one_of(
    st.sampled_from(
        ["", "0", "-1", "1", "7", "2.5", "0.0001", "99999999999", "-99999999999", "1000", "nan", "1e9", "1,5", "-5 °C",
         "45 °F", "-40 °F", "60 min", "0 s", "1 parsec", "0 %", "50 %", "100 %", "5 lb", "0 kg", "°F", "abc", "; ;"]
    ),
    st.text(max_size=12),
)  # fmt: skip
# What somebody may type in a part of a row, and as the number of a quantity.
PART = st.one_of(
    st.sampled_from(["", "0", "-1", "5", "0.0001", "99999999999", "-99999999999", "1e5", "nan", "x"]),
    st.decimals(-50, 500, places=1).map(str),
)
NUMBER = st.one_of(
    st.sampled_from(["0", "0.0001", "1", "2.5", "5", "12", "38", "50", "99.9", "100", "1500", "-5", "-18.5", "-40"]),
    st.decimals(-10, 100_000, places=2).map(str),
)

# Of a calculator's asks: what somebody may type beside the example, one a line. Of rows the parts are taken too.
MORE: dict[str, Typed] = {
    "calibration": {
        "readings": "161\n161.9\n0.0001\nx",
        "earlier": "2026-01-12; run 1; 161.4\n2026-02-01 06:10; ; -99999999999\n2026-13-01; ; 99999999.999\nx; ; x",
        "last_good": "2026-02-30\n9999-12-31\n0001-01-01\n2026-01-15T06:00+05:00",
        "found_on": "2026-02-30\n9999-12-31\n0001-01-01\n2026-01-15T06:00+05:00",
    },
    "control_charts": {
        "values": "3.5 3.6 3.4\n3.5 3.5 3.7\n3.4 3.5 3.6\n3.6 3.4 3.5\n4.4 4.5 4.4",
        "unit": "% fat\n<b>",
    },
    "growth": {"readings": "0; 45.1\n60; 68\n527040; 45\n99999999999; 1e5"},
    "holding_test": {"pump": "0 psi; 0 gal/h\n1500 psi; 900 gal/h\n60000 bar; 1 L/s"},
    "holding_tube": {"bends": "-2 in; -90; -1\n90 in; 720; 2000", "sections": "-90 in; 60 ft\n90 in; -1 ft"},
    "lethality": {"readings": "0; 72\n15; 72\n200; 210\n99999999999; 63"},
    "mix": {
        "ingredients": (
            "milk; fat 3.5, MSNF rule; ; ; ; 0\ncream; fat 90, MSNF rule; 5; 5; 1.5; 50\n"
            "sugar; sucrose 100; -1; 9999999; x; 0.0001\n; fat rule; 100; ; ; \na; total solids 40, fat 50; ; ; ; \n"
            "b; total solids 36; ; ; ; \nc; water 9; ; ; ; \nd; sugars 5; ; ; ; \ne; x y 3; ; ; ; "
        ),
        "targets": "fat; 3; 4\nwater; 60; 70\ntotal solids; 20; ",
        "required": "fat; 3; 4\nwater; 60; 70\ntotal solids; 20; ",
        "least_of": "cream\nSugar",
    },
    "mpn": {"tubes": "10; 1000; 5\n1e-5; 5; 1\n10^-7; 2.5; 0\n1e-99; 3; 3\n99999999999; 3; 0"},
    "overrun": {"bulky": "cocoa; 3\nfruit or nuts; 12\nother; 99\nsawdust; -1"},
    "pasteurizer_setups": {
        "setups": (
            "Mix; 80 C; 1 s; 0001-01-01; no; milk, mix; none; 0.5 gal; 1 gal/min\n"
            "; 175 °F; 0 s; 9999-12-31; yes; mix; bypassed; ; "
        ),
        "on": "0001-01-01\n9999-12-31\n2026-02-30",
    },
    "sampling_plans": {
        "results": ">300\nabsent\npresent\n101\n-1",
        "samples": "2026-01-06; 31000\n2026-02-03; 25000\n2026-03-03; 25000\n2026-13-01; x\n9999-12-31; 1",
    },
    "standardizing": {
        "streams": (
            "milk; fat 3.5; ; 0; \ncream; fat 40, SNF 5; 100; 9999999; 1.5\na b; fat 4, FAT 5; -1; 5; x\n"
            "; fat 101; nan; ; \nwhey; fat 1e5; ; ; \npowder; x 0.0001; ; ; "
        ),
        "targets": "fat; 3; 4\nfat; ; \nSNF; 9; 8\nx; 1; 1",
        "least_of": "SKIM powder\nmilk",
    },
    "storage": {"readings": "0; 45.1\n60; 68\n527040; 45\n99999999999; 1e5"},
    "warming": {"readings": "0; 45.1\n60; 68\n527040; 45\n99999999999; 1e5"},
    "washing": {
        "plan": "rinse; flow; 5; 9999999; gal/min\n; speed; -5; ; mS/cm",
        "record": "rinse; flow; 9999999; L/h\nrinse; temperature; -5; °C\n; speed; ; x",
    },
}  # fmt: skip


def examples(key: str) -> Typed:
    """What the page of a calculator begins with."""
    return {one.name: one.example for one in calculators()[key].asks}


def worked(key: str, /, **changes: str) -> Working:
    """The working of a calculator's example with some values typed otherwise. Raises CalculationError."""
    calculator, typed = calculators()[key], examples(key) | changes
    assert typed.keys() == examples(key).keys(), f"{key} does not ask {changes.keys() - examples(key).keys()}"
    return calculator.work({one.name: one.read(typed[one.name]) for one in calculator.asks})


def step(working: Working, name: str) -> Step:
    """The step of that name, else the first with it in its name."""
    named = [one for one in working.steps if one.what == name]
    return (named or [one for one in working.steps if name in one.what])[0]


def result(working: Working, name: str) -> str:
    """The result of the step of that name, or with it in its name."""
    return step(working, name).result


def row(table: Table, name: str) -> tuple[str, ...]:
    """The row of a table that begins so."""
    return next(one for one in table.rows if one[0] == name)


def cautioned(working: Working) -> str:
    """All the cautions of a working, in small letters."""
    return " ".join(working.cautions).casefold()


def texts(working: Working) -> list[str]:
    """Everything that a working says in words, the picture apart."""
    steps = [text for one in working.steps for text in (one.what, one.how, one.result, one.source)]
    tables = [text for one in working.tables for line in ((one.caption,), one.head, *one.rows) for text in line]
    return [working.answer, working.verdict, working.margin, *working.cautions, *steps, *tables]


def refusals(key: str, cases: Sequence[tuple[Typed, str]]) -> Callable[..., None]:
    """A test that a calculator refuses each case, what is typed otherwise, in a sentence where `says` is found."""

    @pytest.mark.parametrize(("wrong", "says"), cases)
    def test_wrong_input_gets_a_sentence(wrong: Typed, says: str) -> None:
        """What is wrong, in words."""
        with pytest.raises(CalculationError, match=says):
            worked(key, **wrong)

    return test_wrong_input_gets_a_sentence


def odd_values(key: str) -> st.SearchStrategy[Typed]:
    """Changes to a calculator's example, of a few values mostly: many end in a working, many in a refusal."""
    return _changes({one.name: _typed(one, MORE.get(key, {}).get(one.name, "")) for one in calculators()[key].asks})


@st.composite
def _changes(draw: st.DrawFn, of: dict[str, st.SearchStrategy[str]]) -> Typed:
    most = len(of) if draw(st.integers(0, 5)) == 0 else 3
    chosen = draw(st.lists(st.sampled_from(sorted(of)), min_size=1, max_size=most, unique=True))
    return {name: draw(of[name]) for name in chosen}


def _typed(ask: Ask, more: str) -> st.SearchStrategy[str]:
    """What somebody may type for an ask: mostly something of its kind, else anything odd."""
    likely: st.SearchStrategy[str] = st.sampled_from([ask.example, *more.splitlines()])
    if ask.kind == "rows":
        columns = _columns(ask, more)
        whole = st.lists(st.tuples(*columns).map("; ".join), max_size=5).map("\n".join)
        changed = _changed(_rows(ask.example), columns)
        likely = st.one_of(changed, changed, whole, st.just(more or ask.example))
    elif ask.kind == "choice":
        likely = st.sampled_from([key for key, _label in ask.choices])
    elif ask.kind == "quantity":
        # What the ask takes is in the first unit; a number of it in another is odd enough.
        number = NUMBER
        if ask.low is not None and ask.high is not None:
            inside = st.floats(ask.low, ask.high).map("{:.3f}".format)
            number = st.one_of(NUMBER, inside, inside)
        likely = st.tuples(number, st.sampled_from(ask.units)).map(" ".join)
    return st.one_of(likely, likely, likely, likely, ODD)


def _rows(text: str) -> list[list[str]]:
    return [[part.strip() for part in line.split(";")] for line in text.splitlines()]


def _columns(ask: Ask, more: str) -> list[st.SearchStrategy[str]]:
    """For each column the parts that stand in it, or an odd one."""
    whole = [line for line in _rows(f"{ask.example}\n{more}") if len(line) == len(ask.columns)]
    known = [sorted({line[place] for line in whole} | {""}) for place in range(len(ask.columns))]
    return [st.one_of(*[st.sampled_from(parts)] * 3, PART) for parts in known]


@st.composite
def _changed(draw: st.DrawFn, example: list[list[str]], columns: list[st.SearchStrategy[str]]) -> str:
    """The example with up to two parts replaced, a line left out or put in again, or a part too few."""
    rows = [list(line) for line in example] or [[""] * len(columns)]
    lines, places = st.integers(0, len(rows) - 1), st.integers(0, len(columns) - 1)
    for _time in range(draw(st.integers(0, 2))):
        place = draw(places)
        rows[draw(lines)][place] = draw(columns[place])
    line = draw(lines)
    match draw(st.integers(0, 7)):
        case 5:
            rows.insert(draw(lines), list(rows[line]))
        case 6:
            del rows[line]
        case 7:
            del rows[line][-1]
    return "\n".join("; ".join(one) for one in rows)
