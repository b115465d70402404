"""Numerical conduction with freezing: slab, long cylinder, sphere, and the tub (a cylinder with ends, in r and z).

Finite volumes on the heat content (enthalpy): each cell holds heat, what leaves one enters the next, so none is lost.
The flow between cells is the difference of the conductivity integrated over temperature (Kirchhoff, 1894), so a
conductivity that changes with ice is followed exactly between two cells. The outside gives heat off to air of one
temperature by a heat transfer coefficient. Time steps: backward differentiation of scipy, with its own error control.
See Q. T. Pham, Modelling heat and mass transfer in frozen foods: a review, Int. J. Refrigeration 29:876, 2006 (from
memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.integrate import solve_ivp

from plant.process.arrays import FloatArray
from plant.process.errors import CalculationError, Infeasible, within
from plant.process.hardening.product import HeatTable
from plant.process.said import say as _

LONGEST_H: Final = 60 * 24.0
# Finer steps change the times below by less than one part in ten thousand.
_RTOL, _ATOL_KJ_KG = 1e-5, 1e-3


class Shape(StrEnum):
    """The shape of what cools: a slab between two faces, a long cylinder, a sphere, a cylinder with both its ends."""

    SLAB = "slab"
    CYLINDER = "cylinder"
    SPHERE = "sphere"
    TUB = "tub"


@dataclass(frozen=True, slots=True)
class Body:
    """What cools: `size_m` thickness of a slab, else diameter [m]; `height_m` of a tub [m], of no other.

    Raises OutsideRange for a size outside 1 mm to 2 m, CalculationError for a height where there is none.
    """

    shape: Shape
    size_m: float
    height_m: float | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        within("size", self.size_m, 0.001, 2, "m")
        if (self.shape is Shape.TUB) != (self.height_m is not None):
            raise CalculationError(_("a tub has a height, and no other shape has"))
        if self.height_m is not None:
            within("height", self.height_m, 0.001, 2, "m")


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """How a body cooled, all arrays of one shape (n,).

    `times_s` [s]; `core_c` the warmest place, `surface_c` the mean of the surface, `mean_c` what the body would have if
    it evened out [°C]; `removed_kj_kg` heat given off since the start, counted at the surface, `held_kj_kg` heat
    content, counted inside [kJ/kg]. `cells` how many cells. `reached_s` when the core was as cold as asked [s], None
    when only a time was asked.
    """

    times_s: FloatArray
    core_c: FloatArray
    surface_c: FloatArray
    mean_c: FloatArray
    removed_kj_kg: FloatArray
    held_kj_kg: FloatArray
    cells: int
    reached_s: float | None


@dataclass(frozen=True, slots=True, eq=False)
class _Grid:
    """Cells, per unit of what is left out by symmetry: volumes, conductances between them, and their outer faces."""

    volumes: FloatArray
    exchange: Any  # sparse (n, n): flow into each cell from the conductivity integrals of all
    face_cell: NDArray[np.intp]
    face_area: FloatArray
    face_depth: FloatArray
    face_h: FloatArray
    axis: NDArray[np.intp]  # rows of cells towards the middle: (lines, 2), innermost first
    mirrored: bool


def overall_h_w_m2k(h_w_m2k: float, layers: tuple[tuple[float, float], ...] = ()) -> float:
    """The heat transfer coefficient from the product through its package to the air [W/(m2 K)].

    1/U = 1/h + sum of (thickness/conductivity), for thin layers.

    h_w_m2k: from the package to the air [W/(m2 K)].
    layers: thickness [m] and conductivity [W/(m K)] of each: board, plastic, a gap of still air.

    Range: h 0.5 to 10,000,000 W/(m2 K), thickness 0 to 0.1 m, conductivity 0.005 to 500 W/(m K).
    Raises: OutsideRange.
    Source: resistances in series, by definition.

    >>> round(overall_h_w_m2k(20, ((0.001, 0.05),)), 2)
    14.29
    """
    resistance = 1 / _coefficient(h_w_m2k)
    for thickness, conductivity in layers:
        resistance += within("thickness", thickness, 0, 0.1, "m") / within(
            "conductivity", conductivity, 0.005, 500, "W/(m K)"
        )
    return 1 / resistance


def cool(
    body: Body,
    table: HeatTable,
    start_c: float,
    ambient_c: float,
    h_w_m2k: float,
    *,
    core_c: float | None = None,
    hours: float | None = None,
    ends_w_m2k: tuple[float, float] | None = None,
    cells: int = 24,
) -> Course:
    """How a body cools from one temperature in air of another, until its core is so cold or so many hours are over.

    body: shape and size.
    table: its heat and conductivity; it must cover both temperatures.
    start_c: everywhere at the start [°C].
    ambient_c: of the air, below the start [°C].
    h_w_m2k: to the air, through the package (overall_h_w_m2k) [W/(m2 K)].
    core_c: wanted core temperature [°C]; or `hours`: how long [h]. One of them.
    ends_w_m2k: of a tub's top and bottom, where they differ from its side [W/(m2 K)].
    cells: from the middle to the surface; a tub has so many across its radius and as many, fitted, over its height.

    Range: cells 4 to 400 (tub 4 to 60), at most 60 days, h 0.5 to 10,000,000 W/(m2 K).
    Raises: OutsideRange, CalculationError; Infeasible when the core cannot be so cold in this air, or not in 60 days.
    Source: finite volumes, enthalpy and Kirchhoff's transformation (see the module).

    >>> from plant.process.hardening.product import constant_table
    >>> course = cool(Body(Shape.SLAB, 0.05), constant_table(1000, 4.0, 0.5), 20, 0, 20, core_c=5)
    >>> round(course.reached_s / 60)
    169
    """
    low, high = float(table.temperature_c[0]), float(table.temperature_c[-1])
    start, air = within("temperature at the start", start_c, low, high, "°C"), float(ambient_c)
    air = within("temperature of the air", air, low, start, "°C")
    if air >= start:
        raise CalculationError(_("the air must be colder than the product"))
    if (core_c is None) == (hours is None):
        raise CalculationError(_("ask for a core temperature or for a time"))
    if core_c is not None:
        _can_be(core_c, start, air)
    until_s = within("time", LONGEST_H if hours is None else hours, 1e-4, LONGEST_H, "h") * 3600
    grid = _grid(body, _coefficient(h_w_m2k), ends_w_m2k, cells)
    return _solved(grid, table, start, air, core_c, until_s)


@dataclass(frozen=True, slots=True, eq=False)
class HardeningTime:
    """When the core is as cold as wanted.

    `hours`; `error_hours` what the grid may be wrong by, an estimate; `coarse_hours` on half as many cells; `course`
    on the finer grid. What is not known of air, package and conductivity is far more than `error_hours`.
    """

    hours: float
    error_hours: float
    coarse_hours: float
    course: Course


def hardening_time(
    body: Body,
    table: HeatTable,
    start_c: float,
    ambient_c: float,
    h_w_m2k: float,
    core_c: float,
    *,
    ends_w_m2k: tuple[float, float] | None = None,
    cells: int = 12,
) -> HardeningTime:
    """The time until the core is as cold as wanted, on a grid and on one twice as fine, with the error estimated.

    The estimate is the change from the coarse grid to the fine one: for a method of second order three times the
    error left, as the grid convergence index of two grids wants.

    body, table, start_c, ambient_c, h_w_m2k, core_c, ends_w_m2k: as cool.
    cells: of the coarse grid.

    Range: as cool; cells 4 to 200 (tub 4 to 30).
    Raises: as cool.
    Source: as cool; error: P. J. Roache, J. Fluids Eng. 116:405, 1994 (from memory).

    >>> from plant.process.hardening.product import constant_table
    >>> found = hardening_time(Body(Shape.SLAB, 0.05), constant_table(1000, 4.0, 0.5), 20, 0, 20, 5)
    >>> round(found.hours, 2), found.error_hours < 0.01
    (2.81, True)
    """
    within("cells", cells, 4, 30 if body.shape is Shape.TUB else 200)
    coarse, fine = (
        cool(body, table, start_c, ambient_c, h_w_m2k, core_c=core_c, ends_w_m2k=ends_w_m2k, cells=many)
        for many in (cells, 2 * cells)
    )
    rough, better = (coarse.reached_s or 0.0) / 3600, (fine.reached_s or 0.0) / 3600
    return HardeningTime(better, abs(better - rough), rough, fine)


def _can_be(core_c: float, start: float, air: float) -> None:
    within("wanted core temperature", core_c)
    if core_c >= start:
        raise CalculationError(_("the product is already as cold as that"))
    if core_c <= air:
        raise Infeasible(
            _("in air of %(air)s °C nothing becomes %(wanted)s °C", air=f"{air:g}", wanted=f"{core_c:g}"),
            "core temperature",
            core_c,
            lowest=air,
            unit="°C",
        )


def _coefficient(h_w_m2k: float) -> float:
    return within("heat transfer coefficient", h_w_m2k, 0.5, 1e7, "W/(m2 K)")


# --- the grid


def _grid(body: Body, h: float, ends: tuple[float, float] | None, cells: int) -> _Grid:
    count = int(within("cells", cells, 4, 60 if body.shape is Shape.TUB else 400))
    radius = body.size_m / 2
    edges = np.linspace(0, radius, count + 1)
    if body.height_m is not None:
        top, bottom = (h, h) if ends is None else (_coefficient(ends[0]), _coefficient(ends[1]))
        return _tub(edges, body.height_m, h, top, bottom)
    if ends is not None:
        raise CalculationError(_("only a tub has a top and a bottom"))
    power = {Shape.SLAB: 0, Shape.CYLINDER: 1, Shape.SPHERE: 2}[body.shape]
    areas = edges**power if power else np.ones_like(edges)
    volumes = np.diff(edges ** (power + 1)) / (power + 1)
    step = radius / count
    middle = np.arange(count, dtype=np.intp)[:, None]
    return _Grid(
        volumes,
        _exchange(count, [(np.arange(count - 1), np.arange(1, count), areas[1:-1] / step)]),
        np.array([count - 1], dtype=np.intp),
        np.array([areas[-1]]),
        np.array([step / 2]),
        np.array([h]),
        middle,
        mirrored=True,
    )


def _tub(edges: FloatArray, height: float, side: float, top: float, bottom: float) -> _Grid:
    """The cells of a tub, radius inward to outward within layers from the bottom up, per radian."""
    across = len(edges) - 1
    up = max(4, min(120, round(height / (edges[1] - edges[0]))))
    layer, step = height / up, float(edges[1] - edges[0])
    rings = np.diff(edges**2) / 2
    number = np.arange(across * up, dtype=np.intp).reshape(up, across)
    sideways = np.broadcast_to(edges[1:-1] * layer / step, (up, across - 1)).ravel()
    upward = np.broadcast_to(rings / layer, (up - 1, across)).ravel()
    pairs = [
        (number[:, :-1].ravel(), number[:, 1:].ravel(), sideways),
        (number[:-1].ravel(), number[1:].ravel(), upward),
    ]
    return _Grid(
        np.tile(rings * layer, up),
        _exchange(across * up, pairs),
        np.concatenate((number[:, -1], number[-1], number[0])),
        np.concatenate((np.full(up, edges[-1] * layer), rings, rings)),
        np.concatenate((np.full(up, step / 2), np.full(2 * across, layer / 2))),
        np.concatenate((np.full(up, side), np.full(across, top), np.full(across, bottom))),
        number[:, :2].T,
        mirrored=False,
    )


def _exchange(count: int, pairs: list[tuple[Any, Any, FloatArray]]) -> Any:
    one = np.concatenate([first for first, _second, _size in pairs])
    other = np.concatenate([second for _first, second, _size in pairs])
    size = np.concatenate([size for _first, _second, size in pairs])
    rows, columns = np.concatenate((one, other, one, other)), np.concatenate((other, one, one, other))
    values = np.concatenate((size, size, -size, -size))
    return sparse.csc_matrix((values, (rows, columns)), shape=(count, count))


# --- the solution


class _Rows:
    """The table by heat content: temperature, integrated conductivity and their slopes, quick to look up."""

    def __init__(self, table: HeatTable) -> None:
        self.heat, self.temperature, self.k = table.enthalpy_kj_kg, table.temperature_c, table.conductivity_w_mk
        steps = np.diff(self.temperature)
        self.integral = np.concatenate(([0.0], np.cumsum(steps * (self.k[1:] + self.k[:-1]) / 2)))
        rises = np.diff(self.heat)
        self.warming, self.conducting = steps / rises, np.diff(self.integral) / rises

    def place(self, heat: FloatArray) -> NDArray[np.intp]:
        """The row below each heat content."""
        return np.clip(np.searchsorted(self.heat, heat, side="right") - 1, 0, len(self.heat) - 2)

    def temperature_at(self, heat: FloatArray) -> FloatArray:
        """The temperatures of heat contents."""
        return np.asarray(np.interp(heat, self.heat, self.temperature))

    def conductivity_at(self, temperature: FloatArray) -> FloatArray:
        """The conductivities at temperatures."""
        return np.asarray(np.interp(temperature, self.temperature, self.k))


def _solved(
    grid: _Grid, table: HeatTable, start: float, air: float, core_c: float | None, until_s: float
) -> Course:  # fmt: skip
    rows, count, density = _Rows(table), len(grid.volumes), table.density_kg_m3
    mass = density * grid.volumes * 1000  # J per kJ/kg
    whole = float(mass.sum())
    faces, reach = grid.face_cell, 1 / grid.face_depth

    def through(heat: FloatArray) -> tuple[FloatArray, FloatArray]:
        """The heat that leaves at each outer face [W], and the conductance there [W/K]."""
        temperature = rows.temperature_at(heat[faces])
        k = rows.conductivity_at(temperature) * reach
        conductance = grid.face_area * grid.face_h * k / (grid.face_h + k)
        return conductance * (temperature - air), conductance

    def change(_time: float, state: FloatArray) -> FloatArray:
        heat = state[:count]
        place = rows.place(heat)
        integral = rows.integral[place] + rows.conducting[place] * (heat - rows.heat[place])
        leaving, _conductance = through(heat)
        flow = grid.exchange @ integral - np.bincount(faces, leaving, count)
        return np.concatenate((flow / mass, [leaving.sum() / whole]))

    def slope(_time: float, state: FloatArray) -> Any:
        heat = state[:count]
        place = rows.place(heat)
        _leaving, conductance = through(heat)
        out = np.bincount(faces, conductance, count) * rows.warming[place]
        inner = grid.exchange @ sparse.diags(rows.conducting[place]) - sparse.diags(out)
        last = sparse.csc_matrix(out[None, :] / whole)
        return sparse.bmat([[sparse.diags(1 / mass) @ inner, None], [last, sparse.csc_matrix((1, 1))]], format="csc")

    def core_at(state: FloatArray) -> float:
        return _warmest(rows.temperature_at(state[:count]), grid)

    reached: Callable[[float, FloatArray], float] | None = None
    if core_c is not None:

        def reached(_time: float, state: FloatArray) -> float:
            return core_at(state) - core_c

        reached.terminal = True  # type: ignore[attr-defined]
        reached.direction = -1  # type: ignore[attr-defined]
    held = table.heat_at(start)
    begin = np.concatenate((np.full(count, held), [0.0]))
    found = solve_ivp(
        change, (0.0, until_s), begin, "BDF", jac=slope, rtol=_RTOL, atol=_ATOL_KJ_KG, events=reached, first_step=1e-3
    )
    if not found.success:
        raise CalculationError(_("the steps in time did not converge: %(reason)s", reason=str(found.message)[:80]))
    if core_c is not None and not len(found.t_events[0]):
        raise Infeasible(
            _("the core does not become %(wanted)s °C within %(days)s days", wanted=f"{core_c:g}", days="60"),
            "core temperature",
            core_c,
            unit="°C",
        )
    states = found.y.T
    # The state at the event is not the last step's own: add it.
    times, when = found.t, None
    if core_c is not None:
        when = float(found.t_events[0][0])
        if times[-1] < when:
            times, states = np.append(times, when), np.vstack((states, found.y_events[0][:1]))
    heats = states[:, :count]
    mean = heats @ (mass / whole)
    return Course(
        times_s=np.asarray(times),
        core_c=np.array([core_at(one) for one in states]),
        surface_c=np.array([_surface(one, grid, rows, air) for one in heats]),
        mean_c=rows.temperature_at(mean),
        removed_kj_kg=states[:, count],
        held_kj_kg=mean,
        cells=count,
        reached_s=when,
    )


def _warmest(temperature: FloatArray, grid: _Grid) -> float:
    """The temperature of the core: by parabolas through the cells nearest to it, whose slope is 0 in the middle."""
    if grid.mirrored:
        return float((9 * temperature[grid.axis[0, 0]] - temperature[grid.axis[1, 0]]) / 8)
    near, next_ = temperature[grid.axis[0]], temperature[grid.axis[1]]
    along = (9 * near - next_) / 8
    top = int(along.argmax())
    if top in (0, len(along) - 1):
        return float(along[top])
    before, after = along[top - 1], along[top + 1]
    bend = 2 * along[top] - before - after
    return float(along[top] + (after - before) ** 2 / (8 * bend)) if bend > 1e-12 else float(along[top])


def _surface(heat: FloatArray, grid: _Grid, rows: _Rows, air: float) -> float:
    temperature = rows.temperature_at(heat[grid.face_cell])
    k = rows.conductivity_at(temperature) / grid.face_depth
    at_face = (k * temperature + grid.face_h * air) / (k + grid.face_h)
    return float((at_face * grid.face_area).sum() / grid.face_area.sum())
