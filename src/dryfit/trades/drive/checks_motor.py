"""Findings about the motor and its bridge: speed, torque, heat, current, switching, and the sheet's own consistency."""

from __future__ import annotations

import numpy as np

from dryfit.ground.axes import stack
from dryfit.ground.findings import Finding, Late, Term, calculated, finding
from dryfit.ground.sources import memory, practice
from dryfit.trades.drive import formulas_motor as m
from dryfit.trades.drive.checks_terms import CIRCUIT, MECHANICS, SHEET, Drive

_HOT = "Hot motors burn fingers and soften prints; leave covers on and let a measured temperature decide."
_TEN_KELVIN = practice("some 10 K in hand, 3 % of the absolute temperature")


def reaches_speed(d: Drive) -> Finding:
    """`reaches-show-speed`: at the loaded point on the sagged bus, in the direction that asks most of one wheel."""
    reserve = d.read("base.motor.limits.speed_reserve", "k_v", "speed to have in hand", d.motor.lim_speed_reserve, "1")
    top = _top(d, "cruise", "v_top", "top speed on the level")
    return finding(
        check="reaches-show-speed", trade="drive", topic="speed",
        title="Reaches its show speed on the level at the end of the battery", unit="m/s",
        demand=d.brief.speed * d.motor.lim_speed_reserve, capacity=d.speeds["cruise"],
        demand_name="show speed with something in hand", capacity_name="top speed on the sagged bus",
        reserve=(0.05, practice("a twentieth for motors that differ")), late=Late.PART_ORDER,
        formula="k_v·v <= v_top", terms=(reserve, d.speed, top), sources=(MECHANICS, CIRCUIT),
        remedy="Gear it faster than {i}, take a faster motor, or plan a show below {v_top}",
    )  # fmt: skip


def _top(d: Drive, way: str, symbol: str, name: str) -> Term:
    return calculated(
        symbol, name, d.speeds[way], "m/s",
        "V = I·R_m + k_e·ω with V² - E·V + R_s·ΣP = 0, solved for v",
        (d.pull(way), d.share_of_force, d.radius, d.gear, d.efficiency, d.k_t, d.k_e, d.path_resistance, d.emf(True),
         d.source(True)), CIRCUIT,
    )  # fmt: skip


def climbs(d: Drive) -> Finding:
    """`climbs-the-slope`: steady speed on the slope at full duty at the end of the battery."""
    share = d.read(
        "base.motor.limits.slope_speed_share", "k_c", "share of show speed wanted on the slope",
        d.motor.lim_slope_speed, "%",
    )  # fmt: skip
    top = _top(d, "climb", "v_slope", "top speed on the slope")
    return finding(
        check="climbs-the-slope", trade="drive", topic="speed",
        title="Climbs the slope at a fair speed at the end of the battery", unit="m/s",
        demand=d.brief.speed * d.motor.lim_slope_speed, capacity=d.speeds["climb"],
        demand_name="speed wanted on the slope", capacity_name="top speed on the slope",
        reserve=(0.1, practice("a tenth in hand")), late=Late.PART_ORDER, formula="k_c·v <= v_slope",
        terms=(share, d.speed, top), sources=(MECHANICS, CIRCUIT),
        remedy="Take a stronger motor or a slower gear than {i}, or plan {v_slope} on the slope",
    )  # fmt: skip


def starts(d: Drive) -> Finding:
    """`starts-from-rest`: on the slope, all motors at once, at the end of the battery."""
    way = d.loads["breakaway"]
    torque = way.worst(way.felt_torque)
    break_away = d.read("base.motor.breakaway", "k_b", "breaking away over rolling", d.motor.breakaway, "1")
    want = calculated(
        "T_start", "torque at the shaft to start on the slope", torque, "N*m", "as for slope, c_r multiplied by k_b",
        (d.pull("slope"), break_away, d.share_of_force, d.radius, d.gear, d.efficiency), MECHANICS,
    )  # fmt: skip
    return finding(
        check="starts-from-rest", trade="drive", topic="motor torque",
        title="Starts from rest on the slope at the end of the battery", unit="N*m", demand=torque,
        capacity=d.torque_at_rest, demand_name="torque to start", capacity_name="torque at rest",
        reserve=(0.2, practice("a fifth in hand: rolling resistance is known no better")), late=Late.PART_ORDER,
        formula="T_start <= T_rest", terms=(want, d.rest_torque), sources=(MECHANICS, CIRCUIT),
        remedy="Gear it slower than {i}, or take a motor of more than {T_start} at rest on this battery",
    )  # fmt: skip


def stays_below_stall(d: Drive) -> Finding:
    """`runs-below-stall-share`: lasting torque on the level, brief torque when it accelerates on the slope."""
    cruise = d.torque("cruise", "T_cruise", "torque on the level")
    slope = d.torque("slope", "T_slope", "torque on the slope with acceleration")
    lasting = d.read(
        "base.motor.limits.running_share_of_stall", "k_run", "share of stall torque for running",
        d.motor.lim_running_share, "%",
    )  # fmt: skip
    short = d.read(
        "base.motor.limits.brief_share_of_stall", "k_brief", "share of stall torque for seconds",
        d.motor.lim_brief_share, "%",
    )  # fmt: skip
    least = calculated(
        "i_least", "gear ratio that would just do", d.gear.value * _worst_share(d), "1",
        "i·max(T_cruise/(k_run·T_s), T_slope/(k_brief·T_s))", (d.gear, cruise, slope, d.stall_torque), MECHANICS,
    )  # fmt: skip
    return finding(
        check="runs-below-stall-share", trade="drive", topic="motor torque",
        title="Works its motors well below stall", unit="N*m", cases=("on the level", "on the slope, accelerating"),
        demand=stack([cruise.value, slope.value]),
        capacity=stack([k * d.motor.stall_torque for k in (d.motor.lim_running_share, d.motor.lim_brief_share)]),
        demand_name="torque of the hardest-working motor", capacity_name="share of stall torque that may be asked",
        reserve=(0.2, practice("a fifth in hand: rolling resistance is known no better")), late=Late.PART_ORDER,
        formula="T <= k·T_s", terms=(cruise, slope, lasting, short, d.stall_torque,
                                     d.current("slope", "I_slope", "current on the slope with acceleration"), least),
        sources=(MECHANICS, practice("a brushed gearmotor runs at no more than 25 to 30 % of its stall torque")),
        remedy="Gear it to about {i_least} or slower, take a stronger motor, or accelerate more gently on the slope",
    )  # fmt: skip


def _worst_share(d: Drive) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    cruise, slope = (d.loads[way].worst(d.loads[way].felt_torque) for way in ("cruise", "slope"))
    shares = np.maximum(cruise / d.motor.lim_running_share, slope / d.motor.lim_brief_share)
    return np.asarray(shares / d.motor.stall_torque)[()]


def winding_cool(d: Drive) -> Finding:
    """`motor-stays-cool`: winding of the hardest-working motor, two heat stores, over one show and over the day."""
    most = d.read(
        "base.motor.highest_winding_temperature", "T_max", "highest winding temperature",
        d.motor.highest_winding_temperature, "K",
    )  # fmt: skip
    return finding(
        check="motor-stays-cool", trade="drive", topic="motor heat", title="Keeps its windings below what they bear",
        unit="K", cases=("one show", "the whole day"), demand=d.thermal.winding,
        capacity=np.asarray(d.motor.highest_winding_temperature)[..., None], demand_name="winding",
        capacity_name="highest winding temperature", reserve=(0.03, _TEN_KELVIN), late=Late.PART_ORDER,
        formula="two heat stores in a row, loss rising with copper's resistance, solved in closed form",
        terms=(d.rms_current, *d.heat_path, most), sources=(MECHANICS, memory("IEC 60228", "temperature of copper")),
        remedy="Drive less of the day, gear it slower than {i}, or take a larger motor", caution=_HOT,
    )  # fmt: skip


def mount_cool(d: Drive) -> Finding:
    """`motor-housing-and-its-mount`: the can against what its mount bears under load."""
    most = d.read(
        "base.motor.limits.mount_temperature", "T_mount", f"lasting limit of a {d.motor.mount_material} mount",
        d.motor.lim_mount_temperature, "K",
    )  # fmt: skip
    return finding(
        check="motor-housing-and-its-mount", trade="drive", topic="motor heat",
        title="Keeps the motors' cans cool enough for what holds them", unit="K", cases=("one show", "the whole day"),
        demand=d.thermal.housing, capacity=np.asarray(d.motor.lim_mount_temperature)[..., None],
        demand_name="housing", capacity_name=f"mount of {d.motor.mount_material}", reserve=(0.03, _TEN_KELVIN),
        late=Late.REPRINT, formula="as for the winding, the second heat store",
        terms=(d.rms_current, *d.heat_path, most), sources=(MECHANICS,),
        remedy="Make the mount of a material that bears more than {T_mount}, or screw it to metal that sheds heat",
        caution=_HOT,
    )  # fmt: skip


def survives_stall(d: Drive) -> Finding:
    """`driver-survives-stall`: one motor held fast on a full battery against the lowest trip level."""
    stall = calculated(
        "I_stall", "current of a motor held fast, cold, full battery", d.stall_current, "A",
        "min(E/(R_w + R_on + R_l + R_s), limit the bridge holds)",
        (d.emf(False), d.source(False), d.winding), CIRCUIT,
    )  # fmt: skip
    trip = d.read("base.driver.limit_current", "I_trip", "lowest trip level", d.driver.limit_current, "A")
    return finding(
        check="driver-survives-stall", trade="drive", topic="motor driver",
        title="Bridge survives a motor that is held fast", unit="A", demand=d.stall_current,
        capacity=d.driver.limit_current, demand_name="stall current", capacity_name="lowest trip level",
        reserve=(0.1, practice("a tenth in hand")), late=Late.PART_ORDER, formula="I_stall <= I_trip",
        terms=(stall, trip), sources=(CIRCUIT,),
        remedy="Take a bridge whose lowest trip level is above {I_stall}, or one that holds a current limit",
    )  # fmt: skip


def driver_carries(d: Drive) -> Finding:
    """`driver-carries-the-current`: lasting current against the board's continuous rating."""
    rated = d.read("base.driver.continuous_current", "I_c", "continuous current", d.driver.continuous_current, "A")
    climb = d.loads["climb"].worst(d.loads["climb"].current)
    return finding(
        check="driver-carries-the-current", trade="drive", topic="motor driver",
        title="Bridge carries the lasting current", unit="A", cases=("over the day", "on the slope"),
        demand=stack([d.thermal.current, climb]), capacity=np.asarray(d.driver.continuous_current)[..., None],
        demand_name="current", capacity_name="continuous rating of the board",
        reserve=(0.3, practice("use no more than 70 % of a board's rating")), late=Late.PART_ORDER,
        formula="I <= I_c", terms=(d.rms_current, d.current("climb", "I_climb", "current on the slope"), rated),
        sources=(CIRCUIT, practice("the chip's trip level is not what the board carries")),
        remedy="Take a board rated above {I_climb}, with its heat sink",
    )  # fmt: skip


def driver_cool(d: Drive) -> Finding:
    """`driver-stays-cool`: conduction in the hot switches and switching loss against the chip's limit."""
    climb = d.loads["climb"].worst(d.loads["climb"].current)
    current = stack([d.thermal.current, climb])
    v = d.driver

    def wide(x: object) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
        return np.asarray(x, dtype=float)[..., None]

    loss = m.bridge_loss(
        current, wide(v.resistance_hot), wide(d.full.emf), wide(v.switching_time), wide(v.pwm_frequency)
    )
    chip = wide(d.brief.ambient) + loss * wide(v.thermal_resistance)
    numbers = (
        d.read("base.driver.resistance_hot", "R_on", "resistance of the bridge, hot", v.resistance_hot, "ohm"),
        d.read("base.driver.switching_time", "t_sw", "rise and fall together", v.switching_time, "s"),
        d.read("base.driver.pwm_frequency", "f", "switching frequency", v.pwm_frequency, "Hz"),
        d.read("base.driver.thermal_resistance", "R_th", "chip to air", v.thermal_resistance, "K/W"),
        d.read("brief.ambient", "T_a", "air around the board", d.brief.ambient, "K"),
        d.read("base.driver.limits.chip_temperature", "T_max", "highest chip temperature", v.lim_chip_temperature, "K"),
    )
    heat = calculated(
        "P", "heat in the bridge", np.max(loss, axis=-1)[()], "W", "I²·R_on + ½·E·I·t_sw·f",
        (d.rms_current, d.emf(False), *numbers[:3]), CIRCUIT,
    )  # fmt: skip
    return finding(
        check="driver-stays-cool", trade="drive", topic="motor driver", title="Bridge stays cool", unit="K",
        cases=("over the day", "on the slope"), demand=chip, capacity=wide(v.lim_chip_temperature),
        demand_name="chip", capacity_name="highest chip temperature", reserve=(0.03, _TEN_KELVIN),
        late=Late.PART_ORDER, formula="T_a + R_th·(I²·R_on + ½·E·I·t_sw·f)", terms=(heat, *numbers[3:]),
        sources=(CIRCUIT,), remedy="Give the bridge a heat sink or a fan: {P} must go below {T_max}",
    )  # fmt: skip


def bus_suits(d: Drive) -> Finding:
    """`bus-suits-the-driver`: full battery below the highest, bus while all motors start above the lowest."""
    v = d.driver
    low = d.read("base.driver.supply_low", "V_low", "lowest supply of the bridge", v.supply_low, "V")
    high = d.read("base.driver.supply_high", "V_high", "highest supply of the bridge", v.supply_high, "V")
    way = d.loads["start"]
    power = np.sum(way.current * (way.current * np.asarray(d.end.resistance)[..., None]
                                  + np.asarray(d.line.k_e)[..., None] * way.shaft_speed), axis=-1)  # fmt: skip
    bus = m.source_voltage(d.end.emf, d.end.source, power + d.end.standby)
    sagged = calculated(
        "V_bus", "bus while all motors accelerate, end of the show day", bus, "V", "V² - E·V + R_s·ΣP = 0",
        (d.emf(True), d.source(True), d.path_resistance), CIRCUIT,
    )  # fmt: skip
    return finding(
        check="bus-suits-the-driver", trade="drive", topic="motor driver",
        title="Bus stays within what the bridge takes", unit="V",
        cases=("battery full", "all motors accelerating, end of day"),
        demand=stack([d.full.emf, v.supply_low]), capacity=stack([v.supply_high, bus]),
        demand_name="voltage that must be borne, or had", capacity_name="highest supply, or bus",
        reserve=(0.1, practice("a tenth in hand")), late=Late.PART_ORDER, formula="E <= V_high; V_low <= V_bus",
        terms=(d.emf(False), high, low, sagged), sources=(CIRCUIT,),
        remedy="Take a bridge for {V_bus} to {E_full}, or a battery that suits this one",
    )  # fmt: skip


def pwm_suits(d: Drive) -> Finding:
    """`pwm-suits-motor-and-driver`: fast enough for a smooth current and deaf ears, slow enough for the bridge."""
    v, motor = d.driver, d.motor
    way = d.loads["cruise"]
    volts = way.worst(np.asarray(m.motor_voltage(way.current, np.asarray(d.end.resistance)[..., None],
                                      np.asarray(d.line.k_e)[..., None], way.shaft_speed)))  # fmt: skip
    duty = np.clip(volts / d.full.emf, 0.0, 1.0)
    bearable = motor.lim_ripple * d.loads["slope"].worst(d.loads["slope"].current)
    smooth = m.ripple(d.full.emf, duty, 1.0, motor.inductance) / bearable
    frequency = d.read("base.driver.pwm_frequency", "f", "switching frequency", v.pwm_frequency, "Hz")
    inductance = d.read("base.motor.inductance", "L", "inductance of the winding", motor.inductance, "H")
    ripple = d.read("base.motor.limits.ripple_share", "k_r", "ripple over current on the slope", motor.lim_ripple, "%")
    calm = calculated(
        "f_smooth", "frequency from which the current is smooth", smooth, "Hz", "E·D·(1 - D)/(L·k_r·I_slope)",
        (d.emf(False), inductance, ripple, d.current("slope", "I_slope", "current on the slope")), CIRCUIT,
    )  # fmt: skip
    most = d.read(
        "base.driver.highest_pwm_frequency", "f_max", "fastest the bridge switches", v.highest_pwm_frequency, "Hz"
    )
    heard = d.read("base.motor.limits.audible", "f_heard", "frequency few people hear", motor.lim_audible, "Hz")
    return finding(
        check="pwm-suits-motor-and-driver", trade="drive", topic="switching frequency",
        title="Switches fast enough for the motor and the public, slowly enough for the bridge", unit="Hz",
        cases=("bridge can switch it", "current is smooth", "nobody hears it"),
        demand=stack([v.pwm_frequency, smooth, motor.lim_audible]),
        capacity=stack([v.highest_pwm_frequency, v.pwm_frequency, v.pwm_frequency]),
        demand_name="frequency, or least frequency", capacity_name="highest frequency, or frequency",
        reserve=(0.05, practice("a twentieth in hand")), late=Late.MINUTES,
        formula="max(f_smooth, f_heard) <= f <= f_max", terms=(frequency, most, calm, heard), sources=(CIRCUIT,),
        remedy="Set the timer to between {f_heard} and {f_max}",
    )  # fmt: skip


def sheet_agrees(d: Drive) -> Finding:
    """`motor-sheet-agrees-with-itself`: efficiency that free speed, stall torque and currents imply together."""
    motor = d.motor
    implied = m.implied_efficiency(
        motor.voltage, motor.free_speed, motor.stall_torque, motor.stall_current, motor.free_current
    )
    low = d.read(
        "base.motor.limits.implied_efficiency_low", "η_low", "lowest to believe", motor.lim_efficiency_low, "%"
    )
    high = d.read(
        "base.motor.limits.implied_efficiency_high", "η_high", "highest to believe", motor.lim_efficiency_high, "%"
    )
    eta = calculated(
        "η_sheet", "efficiency the sheet implies", implied, "%", "T_s·ω_0/(V_n·(I_s - I_0))",
        (d.stall_torque, d.free_speed, d.sheet_voltage, d.stall_current_sheet, d.free_current), SHEET,
    )  # fmt: skip
    return finding(
        check="motor-sheet-agrees-with-itself", trade="drive", topic="motor sheet",
        title="Motor's sheet does not contradict itself", unit="%", cases=("not too low", "not too high"),
        demand=stack([motor.lim_efficiency_low, implied]), capacity=stack([implied, motor.lim_efficiency_high]),
        demand_name="lowest, or implied efficiency", capacity_name="implied, or highest efficiency",
        reserve=(0.05, practice("a twentieth in hand")), late=Late.PART_ORDER, formula="η_low <= η_sheet <= η_high",
        terms=(eta, low, high), sources=(SHEET,),
        remedy="Measure winding resistance, free speed and free current; the sheet implies {η_sheet}",
    )  # fmt: skip


def motor_findings(d: Drive) -> tuple[Finding, ...]:
    """All findings of this file."""
    return tuple(
        check(d)
        for check in (
            reaches_speed, climbs, starts, stays_below_stall, winding_cool, mount_cool, survives_stall, driver_carries,
            driver_cool, bus_suits, pwm_suits, sheet_agrees,
        )
    )  # fmt: skip
