"""Wheels of any layout as arrays: omni, mecanum, plain tyres, casters, each by contact point and heading."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from dryfit.catalogue.rows import Row
from dryfit.design.sections.wheels import Casters, WheelSizes
from dryfit.design.sections.wheels import Wheel as WheelRecord
from dryfit.design.sections.wheels import Wheels as WheelsRecord
from dryfit.ground import units
from dryfit.ground.axes import stack
from dryfit.ground.quantity import Array, Num, Quantity
from dryfit.ground.sources import practice
from dryfit.ground.units import STANDARD_GRAVITY
from dryfit.machine.ledger import Default, Ledger, whole


@dataclass(frozen=True)
class Wheels:
    """All wheels that touch the floor, W of them, driven or not.

    Frame of the machine: origin on the floor below the middle of the base, x forward, y left, z up.
    names, kinds ("omni", "mecanum", "tyre", "caster"), driven: W entries each.
    position: contact points (..., W, 2), m.
    heading: direction in which the wheel drives, from +x towards +y, (..., W), rad.
    roller_angle: (..., W), rad; 0 for omni (its rollers run free along the axle) and tyre, ±45° for mecanum:
    wheel rate × radius = v_along + v_across × tan(roller_angle), `across` being 90° left of `along`.
    radius: (..., W), m.  row_gap: distance between the two rows of rollers along the axle, 0 for one row, (..., W), m.
    roller_radius: radius of a roller at its middle, (..., W), m; equal to `radius` for tyres and casters.
    roller_count: rollers around the wheel, all rows together, (..., W).
    width, mass (one wheel), run_out (eccentricity of the rim, half the dial reading): (..., W).
    trail: how far a caster's contact lies behind its swivel axis, which `position` gives; 0 for others, (..., W), m.
    """

    names: tuple[str, ...]
    kinds: tuple[str, ...]
    driven: tuple[bool, ...]
    position: Array
    heading: Array
    roller_angle: Array
    radius: Array
    row_gap: Array
    roller_radius: Array
    roller_count: Array
    width: Array
    mass: Array
    run_out: Array
    trail: Array
    load_rating: Array
    """what each wheel may carry, (..., W), N"""
    scatter: Array
    """how far the diameters of bought wheels lie from one another, half-width as a fraction, (..., W)"""
    lim_heading_error: Num
    """turn that a metre of straight driving may cost, rad/m"""


_SIZES: dict[str, tuple[units.Dimension, float]] = {
    "diameter": (units.POSITIVE_LENGTH, 0.0),
    "row_gap": (units.LENGTH, 0.2),
    "roller_diameter": (units.POSITIVE_LENGTH, 0.2),
    "rollers": (units.COUNT, 0.0),
    "width": (units.POSITIVE_LENGTH, 0.2),
    "mass": (units.MASS, 0.3),
    "run_out": (units.UNSIGNED_LENGTH, 0.5),
    "trail": (units.UNSIGNED_LENGTH, 0.3),
    "load_rating": (units.MASS, 0.4),
    "diameter_scatter": (units.PERCENT, 0.5),
}
_USUAL: dict[str, dict[str, str]] = {
    "omni": {
        "diameter": "152 mm", "row_gap": "20 mm", "roller_diameter": "22 mm", "rollers": "16", "width": "46 mm",
        "mass": "0.5 kg", "run_out": "0.15 mm", "load_rating": "20 kg", "diameter_scatter": "0.5 %",
    },
    "mecanum": {
        "diameter": "152 mm", "row_gap": "0 mm", "roller_diameter": "25 mm", "rollers": "12", "width": "55 mm",
        "mass": "0.85 kg", "run_out": "0.2 mm", "load_rating": "20 kg", "diameter_scatter": "0.5 %",
    },
    "tyre": {
        "diameter": "150 mm", "row_gap": "0 mm", "roller_diameter": "150 mm", "rollers": "0", "width": "40 mm",
        "mass": "0.65 kg", "run_out": "0.25 mm", "load_rating": "40 kg", "diameter_scatter": "0.5 %",
    },
    "caster": {
        "diameter": "75 mm", "row_gap": "0 mm", "roller_diameter": "75 mm", "rollers": "0", "width": "25 mm",
        "mass": "0.4 kg", "run_out": "0.5 mm", "load_rating": "40 kg", "diameter_scatter": "1 %", "trail": "28 mm",
    },
}  # fmt: skip
_COUNTS = {"three omni": 3, "four omni": 4, "four mecanum": 4, "two driven and casters": 2}
_SAME_PLACE = 1e-6


@dataclass(frozen=True)
class _One:
    """One wheel while the list is put together: place, heading and sizes."""

    name: str
    kind: str
    driven: bool
    at: tuple[Num, Num]
    heading: Num
    roller_angle: Num
    sizes: dict[str, Num]


def resolve_wheels(r: WheelsRecord, ledger: Ledger) -> Wheels:
    """Contact points, headings and sizes of every wheel, whatever the layout; defaults are a three-wheel omni base."""
    layout = ledger.choose(
        "base.wheels.layout",
        r.layout,
        "custom" if r.each is not None else "three omni",
        "the wheels are listed one by one" if r.each is not None else "drives in any direction with fewest parts",
    )
    _faults_of_layout(r, layout, ledger)
    limit = "a turn of more than 5 deg in a metre needs measuring wheels or a heading sensor"
    heading_error = ledger.take(
        "base.wheels.limits.heading_error",
        units.ANGLE,
        r.limits.heading_error,
        None,
        Default("5 deg", 0.0, limit, practice(limit)),
    )
    build: dict[str, Callable[[WheelsRecord, Ledger], list[_One]]] = {
        "three omni": _omni,
        "four omni": _omni,
        "four mecanum": _mecanum,
        "two driven and casters": _differential,
        "custom": _custom,
    }
    wheels = build[layout](r, ledger)
    if not ledger.faults:
        _faults_of_places(wheels, ledger)
    return _arrays(wheels or [_nothing()], heading_error)


def _faults_of_layout(r: WheelsRecord, layout: str, ledger: Ledger) -> None:
    if r.count is not None:
        ledger.take("base.wheels.count", units.COUNT, r.count)
        asked = whole(r.count.si)
        expected = len(r.each or ()) if layout == "custom" else _COUNTS[layout]
        if asked == 0:
            ledger.fault("base.wheels.count", "a machine without wheels cannot drive", "0", "a count of 3 or more")
        elif asked != expected:
            ledger.fault(
                "base.wheels.count",
                f"the layout '{layout}' has {expected} wheels",
                str(asked),
                f"{expected}, or no count",
            )
    if layout == "custom" and r.each is None:
        ledger.fault(
            "base.wheels.layout", "a custom layout lists its wheels under 'each'", layout, "each: - at: [x, y] ..."
        )
    if layout != "custom" and r.each is not None:
        ledger.fault(
            "base.wheels.layout", "wheels listed under 'each' need the layout 'custom'", layout, "layout: custom"
        )


def _sizes(
    kind: str, own: WheelSizes, own_path: str, ledger: Ledger, shared: WheelSizes | None = None, shared_path: str = ""
) -> dict[str, Num]:
    """Sizes of one wheel: own value, own row, shared value, shared row, or what is usual for its kind."""
    row = ledger.row(f"{own_path}.item", "wheels", own.item)
    shared_row = None if shared is None else ledger.row(f"{shared_path}.item", "wheels", shared.item)
    _right_kind(kind, row, f"{own_path}.item", ledger)

    def given(record: WheelSizes | None, its_row: Row | None, key: str) -> bool:
        return (record is not None and getattr(record, key) is not None) or (
            its_row is not None and key in its_row.quantities
        )

    sizes: dict[str, Num] = {}
    for key, (dimension, spread) in _SIZES.items():
        if kind in ("tyre", "caster") and key in ("roller_diameter", "row_gap", "rollers"):
            sizes[key] = float("nan")
            continue
        if key == "trail" and kind != "caster":
            sizes[key] = 0.0
            continue
        text = _USUAL[kind][key]
        if key == "row_gap" and own.rows is not None and whole(own.rows.si) == 1:
            text = "0 mm"
        default = Default(text, spread, f"usual for a wheel of the kind {kind}")
        if shared is not None and not given(own, row, key) and given(shared, shared_row, key):
            sizes[key] = ledger.take(f"{shared_path}.{key}", dimension, getattr(shared, key), shared_row)
        else:
            sizes[key] = ledger.take(f"{own_path}.{key}", dimension, getattr(own, key), row, default)
    return sizes


def _right_kind(kind: str, row: Row | None, path: str, ledger: Ledger) -> None:
    if row is not None and row.words.get("kind", kind) != kind:
        ledger.fault(path, f"the layout wants wheels of the kind {kind}", row.key, f"a row of the kind {kind}")


def _omni(r: WheelsRecord, ledger: Ledger) -> list[_One]:
    count = 3 if r.layout is None else _COUNTS[str(r.layout)]
    radius = ledger.take(
        "base.wheels.circle_radius",
        units.POSITIVE_LENGTH,
        r.circle_radius,
        None,
        Default("250 mm", 0.2, "a base that passes a narrow door"),
    )
    first = Default("60 deg" if count == 3 else "45 deg", 0.0, "drives forward with a side of the base in front")
    first_at = ledger.take("base.wheels.first_at", units.ANGLE, r.first_at, None, first)
    sizes = _sizes("omni", r, "base.wheels", ledger)
    azimuths = [first_at + 2 * np.pi * i / count for i in range(count)]
    return [
        _One(f"wheel {i + 1}", "omni", True, (radius * np.cos(a), radius * np.sin(a)), a + np.pi / 2, 0.0, sizes)
        for i, a in enumerate(azimuths)
    ]


def _track(r: WheelsRecord, ledger: Ledger) -> tuple[Num, Num]:
    track = ledger.take(
        "base.wheels.track", units.POSITIVE_LENGTH, r.track, None, Default("400 mm", 0.2, "passes a narrow door")
    )
    wheelbase = ledger.take(
        "base.wheels.wheelbase",
        units.POSITIVE_LENGTH,
        r.wheelbase,
        None,
        Default("400 mm", 0.2, "a base about as long as it is wide"),
    )
    return track, wheelbase


def _mecanum(r: WheelsRecord, ledger: Ledger) -> list[_One]:
    track, wheelbase = _track(r, ledger)
    sizes = _sizes("mecanum", r, "base.wheels", ledger)
    # Seen from above the rollers that touch the floor point to the middle of the base: turning stays under control.
    corners = (("front left", 1, 1, -1), ("front right", 1, -1, 1), ("rear left", -1, 1, 1), ("rear right", -1, -1, -1))
    return [
        _One(name, "mecanum", True, (x * wheelbase / 2, y * track / 2), 0.0, sign * np.pi / 4, sizes)
        for name, x, y, sign in corners
    ]


def _differential(r: WheelsRecord, ledger: Ledger) -> list[_One]:
    track, wheelbase = _track(r, ledger)
    axle = ledger.take(
        "base.wheels.axle_at", units.LENGTH, r.axle_at, None, Default("0 mm", 0.0, "driven wheels in the middle")
    )
    sizes = _sizes("tyre", r, "base.wheels", ledger)
    wheels = [
        _One("left", "tyre", True, (axle, track / 2), 0.0, 0.0, sizes),
        _One("right", "tyre", True, (axle, -track / 2), 0.0, 0.0, sizes),
    ]
    path = "base.wheels.casters"
    record = r.casters or Casters()
    small = _sizes("caster", record, path, ledger)
    if record.at is None:
        places: list[tuple[Num, Num]] = [(wheelbase / 2, 0.0), (-wheelbase / 2, 0.0)]
        ledger.choose(f"{path}.at", None, "one in front, one behind", "casters half a wheelbase before and behind")
    else:
        places = [_place(at, f"{path}.at", ledger) for at in record.at]
    return wheels + [_One(f"caster {i + 1}", "caster", False, at, 0.0, 0.0, small) for i, at in enumerate(places)]


def _custom(r: WheelsRecord, ledger: Ledger) -> list[_One]:
    wheels: list[_One] = []
    for i, w in enumerate(r.each or ()):
        path = f"base.wheels.each[{i}]"
        kind = ledger.choose(f"{path}.kind", w.kind, "omni", "wheels of a custom layout are omni unless told otherwise")
        at = _place(w.at, f"{path}.at", ledger)
        wheels.append(
            _One(
                str(w.name) if w.name is not None else f"wheel {i + 1}",
                kind,
                kind != "caster" if w.driven is None else w.driven,
                at,
                _heading(w, kind, at, path, ledger),
                _roller_angle(w, kind, path, ledger),
                _sizes(kind, w, path, ledger, r, "base.wheels"),
            )
        )
    return wheels


def _heading(w: WheelRecord, kind: str, at: tuple[Num, Num], path: str, ledger: Ledger) -> Num:
    if w.heading is None and kind == "omni":
        ledger.choose(f"{path}.heading", None, "along the circle", "omni wheels stand across the line to the middle")
        return np.arctan2(at[1], at[0]) + np.pi / 2
    return ledger.take(
        f"{path}.heading", units.ANGLE, w.heading, None, Default("0 deg", 0.0, "the wheel looks straight ahead")
    )


def _roller_angle(w: WheelRecord, kind: str, path: str, ledger: Ledger) -> Num:
    if kind != "mecanum":
        return 0.0
    return ledger.take(
        f"{path}.roller_angle", units.ANGLE, w.roller_angle, None, Default("45 deg", 0.0, "usual roller angle")
    )


def _place(at: Sequence[Quantity], path: str, ledger: Ledger) -> tuple[Num, Num]:
    """The pair [x, y] of a contact point."""
    if len(at) != 2:
        ledger.fault(path, "a contact point is a pair [x, y]", f"{len(at)} values", "two lengths: [200 mm, 0 mm]")
        return float("nan"), float("nan")
    x, y = (ledger.take(f"{path}[{i}]", units.LENGTH, q) for i, q in enumerate(at))
    return x, y


def _nothing() -> _One:
    """Stands in for the wheels of a machine that has none, so that the other faults can still be found."""
    return _One("no wheel", "caster", False, (np.nan, np.nan), np.nan, np.nan, dict.fromkeys(_SIZES, np.nan))


def _faults_of_places(wheels: Sequence[_One], ledger: Ledger) -> None:
    """What makes a base that cannot stand or drive. In a batch it must be wrong for every machine."""
    path = "base.wheels" if ledger.line("base.wheels") else "base.wheels.layout"
    if not wheels:
        ledger.fault(
            path, "a machine without wheels cannot drive", "no wheels", "three contacts with the floor or more"
        )
        return
    if not any(w.driven for w in wheels):
        ledger.fault(path, "none of the wheels is driven", accepted="driven: yes on at least one wheel")
    if len(wheels) < 3:
        ledger.fault(
            path, "fewer than three contacts with the floor: it would fall over", f"{len(wheels)} wheels", "3 or more"
        )
        return
    x, y = stack([w.at[0] for w in wheels]), stack([w.at[1] for w in wheels])
    x, y = x - np.mean(x, axis=-1, keepdims=True), y - np.mean(y, axis=-1, keepdims=True)
    gap = np.hypot(x[..., :, None] - x[..., None, :], y[..., :, None] - y[..., None, :])
    for i in range(len(wheels)):
        for j in range(i):
            if np.all(gap[..., i, j] < _SAME_PLACE):
                ledger.fault(path, f"{wheels[j].name} and {wheels[i].name} stand in one place")
    xx, yy, xy = (np.sum(q, axis=-1) for q in (x * x, y * y, x * y))
    if np.all(xx * yy - xy * xy <= 1e-9 * (xx + yy) ** 2):
        ledger.fault(
            path, "all wheels stand in one line: it would fall over", accepted="contacts that span an area of the floor"
        )


def _arrays(wheels: Sequence[_One], heading_error: Num) -> Wheels:
    def size(key: str) -> Array:
        return stack([w.sizes[key] for w in wheels])

    radius = size("diameter") / 2
    return Wheels(
        names=tuple(w.name for w in wheels),
        kinds=tuple(w.kind for w in wheels),
        driven=tuple(w.driven for w in wheels),
        position=np.stack(
            np.broadcast_arrays(stack([w.at[0] for w in wheels]), stack([w.at[1] for w in wheels])), axis=-1
        ),
        heading=stack([w.heading for w in wheels]),
        roller_angle=stack([w.roller_angle for w in wheels]),
        radius=radius,
        row_gap=np.nan_to_num(size("row_gap"), nan=0.0),
        roller_radius=np.where(np.isnan(size("roller_diameter")), radius, size("roller_diameter") / 2),
        roller_count=np.nan_to_num(size("rollers"), nan=0.0),
        width=size("width"),
        mass=size("mass"),
        run_out=size("run_out"),
        trail=size("trail"),
        load_rating=size("load_rating") * STANDARD_GRAVITY,
        scatter=size("diameter_scatter"),
        lim_heading_error=heading_error,
    )
