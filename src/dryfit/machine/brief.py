"""The brief as numbers: floor, motion, venue, duty."""

from __future__ import annotations

from dataclasses import dataclass

from dryfit.design.sections.brief import Brief as BriefRecord
from dryfit.ground import units
from dryfit.ground.quantity import Num
from dryfit.ground.sources import practice
from dryfit.machine.ledger import Default, Ledger

_HABIT = "usual for a show robot among people"


@dataclass(frozen=True)
class Brief:
    """SI throughout; angles in rad, temperatures in K, times in s.

    friction: sliding friction between wheel and floor, nominal; friction_low, friction_high bound it.
    rolling_resistance: force over load.  step: highest edge to cross.  joint_width: widest gap to cross.
    push: horizontal push by a visitor at push_height.  driving_share, climbing_share: parts of the show day spent
    driving on the level and on the slope.  lim_*: habits of the trade, open to `brief.limits`.
    """

    slope: Num
    step: Num
    joint_width: Num
    friction: Num
    friction_low: Num
    friction_high: Num
    rolling_resistance: Num
    door_width: Num
    door_height: Num
    speed: Num
    acceleration: Num
    braking: Num
    turn_rate: Num
    push: Num
    push_height: Num
    public_distance: Num
    children_present: bool
    show_length: Num
    day_length: Num
    days: Num
    driving_share: Num
    climbing_share: Num
    ambient: Num
    vehicle_temperature: Num
    budget: Num
    lim_tilt: Num
    lim_share_of_tipping: Num
    lim_obstacle_share: Num
    lim_lift_mass: Num
    lim_posture_share: Num
    lim_sway: Num


def resolve_brief(r: BriefRecord, ledger: Ledger) -> Brief:
    """Numbers of the brief, defaults filled in. The floor row (catalogue kind `floors`) gives friction and rolling."""
    floor = ledger.row("brief.floor", "floors", r.floor)

    def take(key: str, dimension: units.Dimension, text: str, spread: float, reason: str) -> Num:
        default = Default(text, spread, reason)
        return ledger.take(f"brief.{key}", dimension, getattr(r, key), floor, default)

    def limit(key: str, dimension: units.Dimension, text: str, reason: str) -> Num:
        default = Default(text, 0.0, reason, practice(reason))
        return ledger.take(f"brief.limits.{key}", dimension, getattr(r.limits, key), None, default)

    friction = take("friction", units.NUMBER, "0.5", 0.3, "hard rubber or plastic rollers on a smooth dry floor")

    def bound(key: str, otherwise: Num) -> Num:
        if r.friction is None and floor is not None and key in floor.quantities:
            return floor.quantities[key].si
        spread = ledger.spreads.get("brief.friction")
        return otherwise if spread is None else friction * (1 + (-1 if key.endswith("low") else 1) * spread.fraction)

    acceleration = take("acceleration", units.ACCELERATION, "0.4 m/s2", 0.0, _HABIT)
    return Brief(
        slope=take("slope", units.ANGLE, "2 deg", 0.5, "a floor laid to drain; ask for the ramps"),
        step=take("step", units.LENGTH, "3 mm", 0.5, "edge of a cable cover or a floor plate"),
        joint_width=take("joint_width", units.LENGTH, "8 mm", 0.5, "joints between paving slabs"),
        friction=friction,
        friction_low=bound("friction_low", friction * 0.7),
        friction_high=bound("friction_high", friction * 1.3),
        rolling_resistance=take("rolling_resistance", units.NUMBER, "0.025", 0.5, "small hard rollers on a hard floor"),
        door_width=take("door_width", units.LENGTH, "800 mm", 0.0, "a narrow single door"),
        door_height=take("door_height", units.LENGTH, "2.0 m", 0.0, "a usual door"),
        speed=take("speed", units.SPEED, "0.5 m/s", 0.0, _HABIT),
        acceleration=acceleration,
        braking=ledger.take(
            "brief.braking",
            units.ACCELERATION,
            r.braking or r.acceleration,
            None,
            Default("0.4 m/s2", 0.0, "brakes as hard as it accelerates"),
        ),
        turn_rate=take("turn_rate", units.TURN_RATE, "30 deg/s", 0.0, _HABIT),
        push=take("push", units.FORCE, "50 N", 0.5, "a hand laid on the machine, a child leaning"),
        push_height=take("push_height", units.LENGTH, "1.0 m", 0.2, "height of an adult's hand"),
        public_distance=take("public_distance", units.LENGTH, "1.0 m", 0.0, "visitors at arm's length and a half"),
        children_present=True if r.children_present is None else r.children_present,
        show_length=take("show_length", units.TIME, "20 min", 0.2, "one round of the show"),
        day_length=ledger.take(
            "brief.hours_per_day", units.TIME, r.hours_per_day, None, Default("3 h", 0.2, "an evening's show")
        ),
        days=take("days", units.COUNT, "3", 0.0, "a weekend"),
        driving_share=take("driving_share", units.SHARE, "40 %", 0.3, "stands and acts more than it drives"),
        climbing_share=take("climbing_share", units.SHARE, "5 %", 0.5, "ramps are short"),
        ambient=take("ambient", units.TEMPERATURE, "25 degC", 0.02, "a warm room"),
        vehicle_temperature=take("vehicle_temperature", units.TEMPERATURE, "60 degC", 0.02, "a closed van in the sun"),
        budget=ledger.take("brief.budget", units.MONEY, r.budget, None, Default("5000 EUR", 0.0, "no figure given")),
        lim_tilt=limit("tilt", units.ANGLE, "10 deg", "must stand on a board tilted by 10 deg whichever way it faces"),
        lim_share_of_tipping=limit("share_of_tipping", units.SHARE, "50 %", "plan for half the tipping acceleration"),
        lim_obstacle_share=limit(
            "obstacle_share", units.SHARE, "25 %", "an edge of a quarter of the radius that meets it can be driven over"
        ),
        lim_lift_mass=limit("lift_mass", units.MASS, "25 kg", "one person lifts 25 kg"),
        lim_posture_share=limit(
            "posture_share", units.SHARE, "60 %", "raised arms leave 60 % of the parked tipping distance"
        ),
        lim_sway=limit("sway", units.LENGTH, "10 mm", "sway of 10 mm at the top is seen from the front row"),
    )
