"""The controller: pins and timers that clash, pins that cannot, pin currents, and driver inputs at power-up."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from dryfit.ground.axes import column, stack
from dryfit.ground.findings import Finding, Late, Term, calculated, finding
from dryfit.ground.quantity import Num, Origin
from dryfit.ground.sources import Source, derived, memory, practice
from dryfit.machine.control import Control
from dryfit.machine.light import Light
from dryfit.trades.power.checks_rails import typed
from dryfit.trades.power.checks_terms import each, given

_NOISE = 0.5
_SHEET = memory("data sheets of 8-bit boards", "20 mA a pin at 5 V, 150 mA for a group of pins")


def assess_control(origins: Mapping[str, Origin], control: Control, light: Light) -> list[Finding]:
    """Findings about the functions and driver inputs that the design names; nothing where it names none."""
    found: list[Finding] = []
    if control.functions_given and control.names:
        found += [_used_once(origins, control), _able(origins, control), _timers(origins, control)]
        found += [_pin_currents(origins, control), *_blocked(origins, control, light)]
    if control.inputs_given and control.input_names:
        found += _power_up(origins, control)
    return found


def _count(
    origins: Mapping[str, Origin],
    control: Control,
    conflicts: Sequence[Num],
    cases: Sequence[str],
    involved: Sequence[Sequence[int]],
    *,
    check: str,
    topic: str,
    title: str,
    what: str,
    remedy: str,
    source: Source,
    caution: str = "",
) -> Finding:
    """A finding that counts conflicts: none may be left. involved: the functions of each case."""
    numbers = stack(conflicts)
    lines = tuple(
        given("", f"{control.names[n]} on pin {control.pins[n]}: {control.needs[n]}", np.asanyarray(1.0), "1", origins,
              f"{control.paths[n]}.pin", case)
        for case, at in enumerate(involved)
        for n in at
    )  # fmt: skip
    term = calculated("n", what, numbers, "1", "counted", lines, per_case=True)
    return finding(
        check=check,
        trade="power",
        topic=topic,
        title=title,
        unit="1",
        cases=cases,
        demand=numbers,
        capacity=np.zeros_like(numbers),
        demand_name=what,
        capacity_name="allowed",
        reserve=(0.0, practice("none may be left")),
        late=Late.MINUTES,
        formula="n = 0",
        terms=(term,),
        sources=(source,),
        remedy=remedy,
        caution=caution,
    )


def _used_once(origins: Mapping[str, Origin], control: Control) -> Finding:
    pins = list(dict.fromkeys(p for p in control.pins if p))
    users = [[n for n, p in enumerate(control.pins) if p == pin] for pin in pins]
    twice = [len(at) - 1 for at in users]
    free = max(len([p for p in control.pins if not p]) - (len(control.board.pins) - len(pins)), 0)
    return _count(
        origins,
        control,
        [*twice, free],
        [*(f"pin {p}" for p in pins), "pins left"],
        [*users, []],
        check="pins-are-enough",
        topic="pins and timers",
        title="Every function has a pin of its own",
        what="functions without a pin of their own",
        remedy="Move one function to a free pin",
        source=derived("one pin serves one function"),
    )


def _able(origins: Mapping[str, Origin], control: Control) -> Finding:
    board = control.board
    able = {
        "pwm": tuple(board.timers),
        "interrupt": board.interrupts,
        "receiver": board.interrupts,
        "analogue": board.analogue,
        "serial": board.serial,
    }
    bad = [
        int(bool(pin) and need in able and pin not in able[need])
        for pin, need in zip(control.pins, control.needs, strict=True)
    ]
    return _count(
        origins,
        control,
        bad,
        control.names,
        [[n] for n in range(len(bad))],
        check="pins-can-do-their-job",
        topic="pins and timers",
        title="Every pin can do what it is asked to",
        what="pins that cannot",
        remedy="Move the function to a pin that has the ability",
        source=Source("pin table of the board", control.board.name),
    )


def _timers(origins: Mapping[str, Origin], control: Control) -> Finding:
    """A timer gives one frequency; servo pulses take theirs whole."""
    board = control.board
    servo = [n for n, need in enumerate(control.needs) if need == "servo pulses"]
    names = list(dict.fromkeys(board.timers.values()))
    counts: list[Num] = []
    involved: list[list[int]] = []
    for timer in names:
        users = [
            n
            for n, (pin, need) in enumerate(zip(control.pins, control.needs, strict=True))
            if need == "pwm" and board.timers.get(pin) == timer
        ]
        taken = bool(servo) and timer == board.servo_timer
        counts.append(len(users) if taken else _other_frequencies(control, users))
        involved.append([*users, *servo] if taken else users)
    return _count(
        origins,
        control,
        counts or [0],
        [f"timer {t}" for t in names] or ["timers"],
        involved or [[]],
        check="timers-do-not-clash",
        topic="pins and timers",
        title="No function takes the timer of another",
        what="PWM functions whose timer is taken",
        remedy="Move the PWM to pins of another timer, or give the servo pulses to a board or chip of their own",
        source=Source("pin and timer table of the board", control.board.name),
        caution="A motor PWM that loses its timer runs at a wrong duty: wheels off the ground for the first test.",
    )


def _other_frequencies(control: Control, users: Sequence[int]) -> Num:
    """PWM functions that want another frequency than the first on their timer, (...,)."""
    wanted = [control.frequency[..., n] for n in users if typed(control.frequency[..., n])]
    return sum((~(v == wanted[0]) * 1.0 for v in wanted[1:]), np.zeros(()))[()]


def _pin_currents(origins: Mapping[str, Origin], control: Control) -> Finding:
    load = control.pin_load
    total = np.sum(load, axis=-1, keepdims=True)
    demand = np.concatenate((load, total), axis=-1)
    limit = (
        np.stack(np.broadcast_arrays(*([control.pin_current] * len(control.names)), control.total_current), axis=-1)
        * np.asanyarray(control.lim_pin_share)[..., None]
    )
    cases = [*control.names, "all pins together"]
    pins = [(name, f"{path}.current") for name, path in zip(control.names, control.paths, strict=True)]
    drawn = each("I", "current from the pin", load, "A", pins, origins)
    summed = tuple(replace(t, case=None) for (_, path), t in zip(pins, drawn, strict=True) if path in origins)
    together = calculated("I", "current of all pins", total[..., 0], "A", "Σ I", summed)
    drawn = (*drawn, replace(together, case=len(drawn)))
    one = given("I_pin", "what one pin may give", control.pin_current, "A", origins, "control.pin_current")
    group = given("I_sum", "what all pins may give", control.total_current, "A", origins, "control.total_current")
    share = given("s", "share that is planned", control.lim_pin_share, "%", origins, "control.limits.pin_share")
    return finding(
        check="pins-carry-their-current",
        trade="power",
        topic="pins and timers",
        title="No pin gives more than it may",
        unit="A",
        cases=cases,
        demand=demand,
        capacity=limit,
        demand_name="current",
        capacity_name="planned share of the limit",
        reserve=(0.0, practice("the share is the reserve")),
        late=Late.MINUTES,
        formula="I ≤ s I_pin; sum I ≤ s I_sum",
        terms=(*drawn, one, group, share),
        sources=(_SHEET,),
        remedy="Drive the load over a transistor and leave the pin its signal: {I} is asked of it",
    )


def _blocked(origins: Mapping[str, Origin], control: Control, light: Light) -> list[Finding]:
    """Writing an unclocked strip blocks interrupts on boards without hardware for it; a receiver then misses edges."""
    needs = set(control.needs)
    unclocked = [k for k, protocol in enumerate(light.protocols) if protocol == "unclocked"]
    if not (control.board.blocks_interrupts and "strip data" in needs and needs & {"receiver", "interrupt"}) or (
        not unclocked
    ):
        return []
    time: Num = 0.0
    inner: list[Term] = []
    for k in unclocked:
        strip, name, count = f"light.strips[{k}]", light.strips[k], light.counts[k]
        time = time + light.leds[..., k] * count * light.bits[..., k] * light.bit_time[..., k]
        inner += [
            given("n_LED", f"LEDs of one strip of {name}", light.leds[..., k], "1", origins, f"{strip}.length"),
            given("n_s", f"strips of {name}", np.asanyarray(float(count)), "1", origins, f"{strip}.count"),
            given("bits", "bits of a LED", light.bits[..., k], "1", origins, f"{strip}.bits_per_led"),
            given("t_bit", "time of a bit", light.bit_time[..., k], "s", origins, f"{strip}.bit_time"),
        ]
    blocked = calculated(
        "t_b",
        "interrupts blocked while a frame is written",
        time,
        "s",
        "Σ n_LED n_s bits t_bit",
        inner,
        derived("bits one after the other"),
    )
    limit = given(
        "t_max", "longest wait of a receiver", control.lim_blocked_time, "s", origins, "control.limits.blocked_time"
    )
    return [
        finding(
            check="strip-leaves-time-for-receiver",
            trade="power",
            topic="pins and timers",
            title="Writing the strips does not keep the receiver waiting",
            unit="s",
            demand=time,
            capacity=control.lim_blocked_time,
            demand_name="interrupts blocked",
            capacity_name="longest wait",
            reserve=(0.0, practice("the limit is the habit")),
            late=Late.SHOW,
            formula="t_b ≤ t_max",
            terms=(blocked, limit),
            sources=(practice("unclocked strips are written with interrupts off"),),
            remedy="Give the strips to a second board or one with hardware output, or read the receiver in hardware",
            caution="A controller that misses its receiver may not see the stop command.",
        )
    ]


def _power_up(origins: Mapping[str, Origin], control: Control) -> list[Finding]:
    held = [not bool(np.all(np.isposinf(control.pull_down[..., n]))) for n in range(len(control.input_names))]
    floating = np.array(
        [
            float(state == "high" or (state == "floating" and not firm))
            for state, firm in zip(control.reset_states, held, strict=True)
        ]
    )
    lines = tuple(
        given("", f"{name}: {state}, {'pulled down' if firm else 'no pull-down'}", np.asanyarray(1.0), "1", origins,
              f"{path}.name", case)
        for case, (name, state, path, firm) in enumerate(
            zip(control.input_names, control.reset_states, control.input_paths, held, strict=True)
        )
    )  # fmt: skip
    term = calculated("n", "driver inputs not held low", floating, "1", "counted", lines, per_case=True)
    found = [
        finding(
            check="drivers-off-at-power-up",
            trade="power",
            topic="driver inputs",
            title="Every driver input is held off while the controller starts",
            unit="1",
            cases=control.input_names,
            demand=floating,
            capacity=np.zeros_like(floating),
            demand_name="inputs not held low",
            capacity_name="allowed",
            reserve=(0.0, practice("none may float")),
            late=Late.MINUTES,
            formula="n = 0",
            terms=(term,),
            sources=(practice("pull-downs of 2.2 to 10 kohm on every driver input"),),
            remedy="Solder a pull-down of 2.2 to 10 kohm to every driver input",
            caution="Motors can jump when the controller starts: first power-up with the wheels off the ground.",
        )
    ]
    at = [n for n, firm in enumerate(held) if firm]
    if not at:
        return found
    drop = np.asanyarray(control.leakage)[..., None] * control.pull_down[..., at]
    lines_at = [(control.input_names[n], f"{control.input_paths[n]}.pull_down") for n in at]
    resistor = each("R", "pull-down", control.pull_down[..., at], "ohm", lines_at, origins)
    leak = given("I_L", "leakage of the pin", control.leakage, "A", origins, "control.leakage")
    low = given("V_IL", "input reads low up to", control.lim_floating_low, "V", origins, "control.limits.floating_low")
    volts = calculated(
        "U", "voltage at the input", drop, "V", "I_L R", (leak, *resistor), derived("Ohm's law"), per_case=True
    )
    with np.errstate(divide="ignore"):
        # A pin that leaks nothing is held by any pull-down.
        largest = column((1 - _NOISE) * np.asanyarray(low.value) / np.asanyarray(leak.value)) + np.zeros(len(at))
    most = calculated("R_max", "pull-down that would do", largest, "ohm", f"(1 − {_NOISE:g}) V_IL/I_L", (),
                      per_case=True)  # fmt: skip
    return [
        *found,
        finding(
            check="pull-downs-are-firm",
            trade="power",
            topic="driver inputs",
            title="The pull-downs hold the inputs low against leakage",
            unit="V",
            cases=[control.input_names[n] for n in at],
            demand=drop,
            capacity=np.asanyarray(control.lim_floating_low)[..., None] + np.zeros(len(at)),
            demand_name="voltage at the input",
            capacity_name="reads low up to",
            reserve=(_NOISE, practice("half, for noise of the motors")),
            late=Late.MINUTES,
            formula="I_L R ≤ V_IL",
            terms=(volts, low, most),
            sources=(derived("Ohm's law"),),
            remedy="Take a pull-down of {R_max} or less",
        ),
    ]
