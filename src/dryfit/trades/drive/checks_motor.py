"""Findings about the motor and its bridge: speed, torque, heat, current, switching, and the sheet's own consistency."""

from __future__ import annotations

import numpy as np

from dryfit.ground.axes import column, stack
from dryfit.ground.findings import Finding, Late, Term, calculated, finding
from dryfit.ground.quantity import Num
from dryfit.ground.rounding import downwards, upwards
from dryfit.ground.sources import memory, practice
from dryfit.trades.drive import formulas_motor as m
from dryfit.trades.drive.checks_terms import CIRCUIT, MECHANICS, SHEET, Drive

_HOT = "Hot motors burn fingers and soften prints; leave covers on and let a measured temperature decide."
_TENTH_OF_RISE = practice(
    "a tenth of the rise over the air in hand: still air in a closed body is warmer than the room"
)


def reaches_speed(d: Drive) -> Finding:
    """`reaches-show-speed`: at the loaded point on the sagged bus, in the direction that asks most of one wheel."""
    reserve = d.read("base.motor.limits.speed_reserve", "k_v", "speed to have in hand", d.motor.lim_speed_reserve, "%")
    top = _top(d, "cruise", "v_top", "top speed on the level")
    kept = 0.05
    plan = calculated("v_ok", "show speed that keeps the reserve", downwards((1 - kept) * top.value / reserve.value),
                      "m/s", "0.95·v_top/k_v", (top, reserve))  # fmt: skip
    return finding(
        check="reaches-show-speed", trade="drive", topic="motor and gears",
        title="Reaches its show speed on the level at the end of the battery", unit="m/s",
        demand=d.brief.speed * d.motor.lim_speed_reserve, capacity=d.speeds["cruise"],
        demand_name="show speed with something in hand", capacity_name="top speed on the sagged bus",
        reserve=(kept, practice("a twentieth for motors that differ")), late=Late.PART_ORDER,
        formula="k_v·v ≤ v_top", terms=(reserve, d.speed, top, plan), sources=(MECHANICS, CIRCUIT),
        remedy="Plan a show at {v_ok}, gear it faster than the {i} it has, or take a faster motor",
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
    kept = 0.1
    plan = calculated("v_ok", "show speed that keeps the reserve", downwards((1 - kept) * top.value / share.value),
                      "m/s", "0.9·v_slope/k_c", (top, share))  # fmt: skip
    return finding(
        check="climbs-the-slope", trade="drive", topic="motor and gears",
        title="Climbs the slope at a fair speed at the end of the battery", unit="m/s",
        demand=d.brief.speed * d.motor.lim_slope_speed, capacity=d.speeds["climb"],
        demand_name="speed wanted on the slope", capacity_name="top speed on the slope",
        reserve=(kept, practice("a tenth in hand")), late=Late.PART_ORDER, formula="k_c·v ≤ v_slope",
        terms=(share, d.speed, top, plan), sources=(MECHANICS, CIRCUIT),
        remedy="Plan a show at {v_ok}, ask for less of it on the slope, or take a stronger motor",
    )  # fmt: skip


def starts(d: Drive) -> Finding:
    """`starts-from-rest`: on the slope, all motors at once, at the end of the battery."""
    way = d.loads["breakaway"]
    torque = way.worst(way.felt_torque)
    break_away = d.read("base.motor.breakaway", "k_b", "breaking away over rolling", d.motor.breakaway, "1")
    want = calculated(
        "T_start", "torque at the shaft to start on the slope", torque, "N*m", "as for slope, c_r multiplied by k_b",
        (d.pull("slope"), break_away, d.share_of_force, d.radius, d.gear, d.efficiency, *d.turning), MECHANICS,
    )  # fmt: skip
    kept = 0.2
    gear = calculated(
        "i_just", "gear ratio that keeps the reserve", upwards(_ratio(d, "breakaway", (1 - kept) * d.torque_at_rest)),
        "1", "A/i + B·i = 0.8·T_rest, A at the wheel, B the rotor's", (want, d.rest_torque, d.gear), MECHANICS,
    )  # fmt: skip
    motor = calculated("T_just", "torque at rest that keeps the reserve", upwards(torque / (1 - kept)), "N*m",
                       "T_start/0.8", (want,))  # fmt: skip
    return finding(
        check="starts-from-rest", trade="drive", topic="motor and gears",
        title="Starts from rest on the slope at the end of the battery", unit="N*m", demand=torque,
        capacity=d.torque_at_rest, demand_name="torque to start", capacity_name="torque at rest",
        reserve=(kept, practice("a fifth in hand: rolling resistance is known no better")), late=Late.PART_ORDER,
        formula="T_start ≤ T_rest", terms=(want, d.rest_torque, gear, motor), sources=(MECHANICS, CIRCUIT),
        remedy="Gear it {i_just} to 1 or slower, or take a motor of {T_just} at rest on this battery",
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
    kept = 0.2
    shares = {"cruise": d.motor.lim_running_share, "slope": d.motor.lim_brief_share}
    ratios = stack([_ratio(d, way, (1 - kept) * k * d.motor.stall_torque) for way, k in shares.items()])
    least = calculated(
        "i_just", "gear ratio that keeps the reserve", upwards(np.max(ratios, axis=-1)), "1",
        "A/i + B·i = 0.8·k·T_s, A at the wheel, B the rotor's", (d.gear, cruise, slope, d.stall_torque), MECHANICS,
    )  # fmt: skip
    stronger = np.max(stack([_stall_torque(d, way, (1 - kept) * k) for way, k in shares.items()]), axis=-1)
    motor = calculated(
        "T_just", "stall torque that keeps the reserve", upwards(stronger), "N*m",
        "max(T_cruise/k_run, T_slope/k_brief)/0.8, the rotor growing with the torque", (cruise, slope, lasting, short),
        MECHANICS,
    )  # fmt: skip
    return finding(
        check="runs-below-stall-share", trade="drive", topic="motor and gears",
        title="Works its motors well below stall", unit="N*m", cases=("on the level", "on the slope, accelerating"),
        demand=stack([cruise.value, slope.value]), capacity=stack([k * d.motor.stall_torque for k in shares.values()]),
        demand_name="torque of the hardest-working motor", capacity_name="share of stall torque that may be asked",
        reserve=(kept, practice("a fifth in hand: rolling resistance is known no better")), late=Late.PART_ORDER,
        formula="T ≤ k·T_s", terms=(cruise, slope, lasting, short, d.stall_torque,
                                    d.current("slope", "I_slope", "current on the slope with acceleration"), least,
                                    motor),
        sources=(MECHANICS, practice("a brushed gearmotor runs at no more than 25 to 30 % of its stall torque")),
        remedy="Gear it {i_just} to 1 or slower, take a motor of {T_just} stall torque, or accelerate more gently",
    )  # fmt: skip


def _ratio(d: Drive, way: str, torque: Num) -> Num:
    """Least gear ratio at which the hardest-working motor feels no more than a torque."""
    found, i = d.loads[way], d.line.gear
    shaft = found.worst(found.shaft_torque)
    return m.ratio_for(torque, shaft * i, (found.worst(found.felt_torque) - shaft) / i)


def _stall_torque(d: Drive, way: str, share: Num) -> Num:
    """Stall torque of which the hardest-working motor feels a share, its rotor being the heavier the stronger it is."""
    found = d.loads[way]
    shaft, felt = found.worst(found.shaft_torque), found.worst(found.felt_torque)
    left = np.asanyarray(share - (felt - shaft) / d.motor.stall_torque)
    fine = ~(left <= 0)
    return np.where(fine, shaft / np.where(fine, left, 1.0), np.inf)[()]


def winding_cool(d: Drive) -> Finding:
    """`motor-stays-cool`: winding of the hardest-working motor, two heat stores, over one show and over the day."""
    most = d.read(
        "base.motor.highest_winding_temperature", "T_max", "highest winding temperature",
        d.motor.highest_winding_temperature, "K",
    )  # fmt: skip
    return finding(
        check="motor-stays-cool", trade="drive", topic="motor heat", title="Keeps its windings below what they bear",
        unit="dK", cases=("one show", "the whole day"), demand=d.thermal.winding - column(d.brief.ambient),
        capacity=column(d.motor.highest_winding_temperature - d.brief.ambient),
        demand_name="rise of the winding over the air", capacity_name="rise that it bears",
        reserve=(0.1, _TENTH_OF_RISE), late=Late.PART_ORDER, formula="T_w - T_a ≤ T_max - T_a",
        terms=(_heated(d, "T_w", "winding at the end", d.thermal.winding), most),
        sources=(MECHANICS, memory("IEC 60228", "temperature of copper")),
        remedy="Drive less of the day, gear it slower than the {i} it has, or take a larger motor", caution=_HOT,
    )  # fmt: skip


def mount_cool(d: Drive) -> Finding:
    """`motor-housing-and-its-mount`: the can against what its mount bears under load."""
    most = d.read(
        "base.motor.limits.mount_temperature", "T_mount", f"lasting limit of a {d.motor.mount_material} mount",
        d.motor.lim_mount_temperature, "K",
    )  # fmt: skip
    kept, rise = 0.1, d.thermal.housing - column(d.brief.ambient)
    housing = _heated(d, "T_h", "housing at the end", d.thermal.housing)
    bears = d.brief.ambient + upwards(np.max(rise, axis=-1) / (1 - kept))
    need = calculated("T_just", "limit of a mount that keeps the reserve", bears, "K",
                      "T_a + (T_h - T_a)/0.9", (housing,))  # fmt: skip
    return finding(
        check="motor-housing-and-its-mount", trade="drive", topic="motor heat",
        title="Keeps the motors' cans cool enough for what holds them", unit="dK", cases=("one show", "the whole day"),
        demand=rise, capacity=column(d.motor.lim_mount_temperature - d.brief.ambient),
        demand_name="rise of the housing over the air",
        capacity_name=f"rise that a mount of {d.motor.mount_material} bears",
        reserve=(kept, _TENTH_OF_RISE), late=Late.REPRINT, formula="T_h - T_a ≤ T_mount - T_a",
        terms=(housing, most, need), sources=(MECHANICS,),
        remedy="Make the mount of a material that bears {T_just}, or screw it to metal that sheds heat",
        caution=_HOT,
    )  # fmt: skip


def _heated(d: Drive, symbol: str, name: str, value: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> Term:
    return calculated(
        symbol, name, value, "K", "two heat stores in a row, loss rising with copper's resistance, in closed form",
        (d.rms_current, *d.heat_path), MECHANICS, per_case=True,
    )  # fmt: skip


def survives_stall(d: Drive) -> Finding:
    """`driver-survives-stall`: one motor held fast on a full battery against the lowest trip level."""
    stall = calculated(
        "I_stall", "current of a motor held fast, cold, full battery", d.stall_current, "A",
        "min(E/(R_w + R_on + R_l + R_s), limit the bridge holds)",
        (d.emf(False), d.source(False), d.winding), CIRCUIT,
    )  # fmt: skip
    trip = d.read("base.driver.limit_current", "I_trip", "lowest trip level", d.driver.limit_current, "A")
    kept = 0.1
    need = calculated("I_just", "trip level that keeps the reserve", upwards(d.stall_current / (1 - kept)), "A",
                      "I_stall/0.9", (stall,))  # fmt: skip
    return finding(
        check="driver-survives-stall", trade="drive", topic="motor driver",
        title="Bridge survives a motor that is held fast", unit="A", demand=d.stall_current,
        capacity=d.driver.limit_current, demand_name="stall current", capacity_name="lowest trip level",
        reserve=(kept, practice("a tenth in hand")), late=Late.PART_ORDER, formula="I_stall ≤ I_trip",
        terms=(stall, trip, need), sources=(CIRCUIT,),
        remedy="Take a bridge whose lowest trip level is {I_just}, or one that holds a current limit",
    )  # fmt: skip


def driver_carries(d: Drive) -> Finding:
    """`driver-carries-the-current`: lasting current against the board's continuous rating."""
    rated = d.read("base.driver.continuous_current", "I_c", "continuous current", d.driver.continuous_current, "A")
    climb = d.loads["climb"].worst(d.loads["climb"].current)
    kept, on_slope = 0.3, d.current("climb", "I_climb", "current on the slope")
    need = calculated("I_just", "rating that keeps the reserve",
                      upwards(np.maximum(d.thermal.current, climb) / (1 - kept)), "A", "max(I_rms, I_climb)/0.7",
                      (d.rms_current, on_slope))  # fmt: skip
    return finding(
        check="driver-carries-the-current", trade="drive", topic="motor driver",
        title="Bridge carries the lasting current", unit="A", cases=("over the day", "on the slope"),
        demand=stack([d.thermal.current, climb]), capacity=column(d.driver.continuous_current),
        demand_name="current", capacity_name="continuous rating of the board",
        reserve=(kept, practice("use no more than 70 % of a board's rating")), late=Late.PART_ORDER,
        formula="I ≤ I_c", terms=(d.rms_current, on_slope, rated, need),
        sources=(CIRCUIT, practice("the chip's trip level is not what the board carries")),
        remedy="Take a board rated {I_just} for lasting current, with its heat sink",
    )  # fmt: skip


def driver_cool(d: Drive) -> Finding:
    """`driver-stays-cool`: conduction in the hot switches and switching loss against the chip's limit."""
    climb = d.loads["climb"].worst(d.loads["climb"].current)
    current = stack([d.thermal.current, climb])
    v = d.driver

    loss = m.bridge_loss(
        current, column(v.resistance_hot), column(d.full.emf), column(v.switching_time), column(v.pwm_frequency)
    )
    rise = loss * column(v.thermal_resistance)
    numbers = (
        d.read("base.driver.resistance_hot", "R_on", "resistance of the bridge, hot", v.resistance_hot, "ohm"),
        d.read("base.driver.switching_time", "t_sw", "rise and fall together", v.switching_time, "s"),
        d.read("base.driver.pwm_frequency", "f", "switching frequency", v.pwm_frequency, "Hz"),
        d.read("base.driver.thermal_resistance", "R_th", "chip to air", v.thermal_resistance, "K/W"),
        d.read("brief.ambient", "T_a", "air around the board", d.brief.ambient, "K"),
        d.read("base.driver.limits.chip_temperature", "T_max", "highest chip temperature", v.lim_chip_temperature, "K"),
    )
    heat = calculated(
        "P", "heat in the bridge", loss, "W", "I²·R_on + ½·E·I·t_sw·f",
        (d.rms_current, d.current("climb", "I_climb", "current on the slope"), d.emf(False), *numbers[:3]), CIRCUIT,
        per_case=True,
    )  # fmt: skip
    kept, room = 0.1, v.lim_chip_temperature - d.brief.ambient
    hottest = np.max(loss, axis=-1)
    warms = ~(hottest == 0)
    just = np.where(warms, (1 - kept) * room / np.where(warms, hottest, 1.0), np.inf)
    sink = calculated("R_just", "thermal resistance that keeps the reserve", downwards(just), "K/W",
                      "0.9·(T_max - T_a)/P", (numbers[5], numbers[4], heat))  # fmt: skip
    return finding(
        check="driver-stays-cool", trade="drive", topic="motor driver", title="Bridge stays cool", unit="dK",
        cases=("over the day", "on the slope"), demand=rise, capacity=column(room),
        demand_name="rise of the chip over the air", capacity_name="rise that it bears",
        reserve=(kept, _TENTH_OF_RISE), late=Late.PART_ORDER, formula="R_th·P ≤ T_max - T_a",
        terms=(heat, *numbers[3:], sink), sources=(CIRCUIT,),
        remedy="Give the bridge a heat sink or a fan, so that chip to air is no more than {R_just}",
    )  # fmt: skip


def bus_suits(d: Drive) -> Finding:
    """`bus-suits-the-driver`: full battery below the highest, bus while all motors start above the lowest."""
    v = d.driver
    low = d.read("base.driver.supply_low", "V_low", "lowest supply of the bridge", v.supply_low, "V")
    high = d.read("base.driver.supply_high", "V_high", "highest supply of the bridge", v.supply_high, "V")
    way = d.loads["start"]
    power = np.sum(
        way.current * (way.current * column(d.end.resistance) + column(d.line.k_e) * way.shaft_speed), axis=-1
    )
    bus = m.source_voltage(d.end.emf, d.end.source, power + d.end.standby)
    sagged = calculated(
        "V_bus", "bus while all motors accelerate, end of the show day", bus, "V", "V² - E·V + R_s·ΣP = 0",
        (d.emf(True), d.source(True), d.path_resistance, d.k_e, d.acceleration, d.mass, d.radius, d.gear), CIRCUIT,
    )  # fmt: skip
    kept = 0.1
    bottom = calculated("V_low_just", "lowest supply that keeps the reserve", downwards((1 - kept) * bus), "V",
                        "0.9·V_bus", (sagged,))  # fmt: skip
    top = calculated("V_high_just", "highest supply that keeps the reserve", upwards(d.full.emf / (1 - kept)), "V",
                     "E_full/0.9", (d.emf(False),))  # fmt: skip
    return finding(
        check="bus-suits-the-driver", trade="drive", topic="motor driver",
        title="Bus stays within what the bridge takes", unit="V",
        cases=("battery full", "all motors accelerating, end of day"),
        demand=stack([d.full.emf, v.supply_low]), capacity=stack([v.supply_high, bus]),
        demand_name="what must be lower", capacity_name="what must be higher",
        reserve=(kept, practice("a tenth in hand")), late=Late.PART_ORDER, formula="E ≤ V_high; V_low ≤ V_bus",
        terms=(d.emf(False), high, low, sagged, bottom, top), sources=(CIRCUIT,),
        remedy="Take a bridge for {V_low_just} to {V_high_just}, or a battery that suits this one",
    )  # fmt: skip


def pwm_suits(d: Drive) -> Finding:
    """`pwm-suits-motor-and-driver`: fast enough for a smooth current and deaf ears, slow enough for the bridge."""
    v, motor = d.driver, d.motor
    way = d.loads["cruise"]
    volts = way.worst(
        np.asanyarray(m.motor_voltage(way.current, column(d.end.resistance), column(d.line.k_e), way.shaft_speed))
    )
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
    kept = 0.05
    bottom = calculated("f_least", "least frequency that keeps the reserve",
                        upwards(np.maximum(smooth, motor.lim_audible) / (1 - kept)), "Hz",
                        "max(f_smooth, f_heard)/0.95", (calm, heard))  # fmt: skip
    top = calculated("f_most", "highest frequency that keeps the reserve",
                     downwards((1 - kept) * v.highest_pwm_frequency), "Hz", "0.95·f_max", (most,))  # fmt: skip
    return finding(
        check="pwm-suits-motor-and-driver", trade="drive", topic="motor driver",
        title="Switches fast enough for the motor and the public, slowly enough for the bridge", unit="Hz",
        cases=("bridge can switch it", "current is smooth", "nobody hears it"),
        demand=stack([v.pwm_frequency, smooth, motor.lim_audible]),
        capacity=stack([v.highest_pwm_frequency, v.pwm_frequency, v.pwm_frequency]),
        demand_name="what must be lower", capacity_name="what must be higher",
        reserve=(kept, practice("a twentieth in hand")), late=Late.MINUTES,
        formula="max(f_smooth, f_heard) ≤ f ≤ f_max", terms=(frequency, most, calm, heard, bottom, top),
        sources=(CIRCUIT,), remedy="Set the timer to between {f_least} and {f_most}",
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
        check="motor-sheet-agrees-with-itself", trade="drive", topic="motor and gears",
        title="Motor's sheet does not contradict itself", unit="%", cases=("not too low", "not too high"),
        demand=stack([motor.lim_efficiency_low, implied]), capacity=stack([implied, motor.lim_efficiency_high]),
        demand_name="what must be lower", capacity_name="what must be higher",
        reserve=(0.05, practice("a twentieth in hand")), late=Late.PART_ORDER, formula="η_low ≤ η_sheet ≤ η_high",
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
