"""Data of the strips: frames in time, levels and edges that are read right."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from dryfit.ground.axes import column
from dryfit.ground.findings import Finding, Late, Term, by_rule, calculated, finding
from dryfit.ground.quantity import Origin
from dryfit.ground.sources import derived, practice
from dryfit.machine.light import Light
from dryfit.trades.light import formulas
from dryfit.trades.light.checks_terms import NO_RESERVE, TENTH, each_set, limit_of, number_of_leds

LEAD_CAPACITANCE = 100e-12
"""Farad per metre of a data wire beside its return (common practice)."""
SERIAL = derived("serial data: one bit after the other")
TOPIC = "light data"


def frames(origins: Mapping[str, Origin], light: Light) -> Finding:
    clocked = np.array([p == "clocked" for p in light.protocols])
    of_strip = np.where(
        clocked,
        formulas.clocked_frame_time(light.leds, light.bits, light.bit_time),
        formulas.unclocked_frame_time(light.leds, light.bits, light.bit_time, 0.0),
    )
    reset = np.max(np.where(clocked, 0.0, light.reset_time), axis=-1)
    seconds = np.asanyarray(formulas.fullest_line(of_strip, light.counts, light.lines) + reset)
    time = calculated(
        "t_frame",
        "time to send one frame",
        seconds,
        "s",
        "t_frame = Σ n bits t_bit over the strips of the fullest line + t_reset",
        (
            number_of_leds(origins, light),
            each_set(origins, light, "bits_per_led", "bits", "bits for each LED", light.bits, "1"),
            each_set(origins, light, "bit_time", "t_bit", "time of one bit", light.bit_time, "s"),
            each_set(origins, light, "reset_time", "t_reset", "pause that ends a frame", light.reset_time, "s"),
            Term("lines", "data lines", float(light.lines), "1", origins["light.data.lines"]),
        ),
        SERIAL,
    )
    rate = Term("f", "frames a second wanted", light.frame_rate, "Hz", origins["light.data.frame_rate"])
    most = np.where(seconds == 0, np.inf, 1 / np.where(seconds == 0, 1.0, seconds))
    slower = calculated("f_max", "frames a second that leave a reserve", (1 - TENTH[0]) * most, "Hz",
                        f"f_max = {1 - TENTH[0]:g}/t_frame", (time,))  # fmt: skip
    return finding(
        demand=light.frame_rate,
        capacity=most,
        reserve=TENTH,
        check="frames-keep-up",
        trade="light",
        topic=TOPIC,
        title="A frame is sent before the next one is due",
        unit="Hz",
        demand_name="frames wanted",
        capacity_name="frames that can be sent",
        late=Late.PART_ORDER,
        formula="f ≤ 1/t_frame",
        terms=(rate, time, slower),
        sources=(SERIAL,),
        remedy="Ask for {f_max} or fewer, or divide the strips among more data lines than {lines}.",
    )


def logic(origins: Mapping[str, Origin], light: Light) -> Finding:
    high, sent = _threshold(origins, light), _sent(origins, light)
    spare = limit_of(origins, "logic_margin", "U_margin", "margin above the threshold", light.lim_logic_margin, "V")
    needed = np.asanyarray(high.value) + column(light.lim_logic_margin)
    need = calculated("U_need", "level needed with its margin", needed, "V", "U_need = U_IH + U_margin", (high, spare),
                      per_case=True)  # fmt: skip
    return finding(
        demand=needed,
        capacity=column(light.logic_volts),
        cases=light.strips,
        reserve=NO_RESERVE,
        check="data-is-read-right",
        trade="light",
        topic=TOPIC,
        title="The strips read the data level as high",
        unit="V",
        demand_name="level needed with its margin",
        capacity_name="level sent",
        late=Late.PART_ORDER,
        formula="U_need ≤ U_OH",
        terms=(sent, need),
        sources=(practice("0.7 of the supply, and a margin for noise on the ground"),),
        remedy="Put a level shifter at the board that sends {U_need} or more, as one from 3.3 to 5 V does.",
    )


def _threshold(origins: Mapping[str, Origin], light: Light) -> Term:
    # strips of more than 5 V run their logic from an inner 5 V
    return calculated(
        "U_IH",
        "voltage that the data input takes for high",
        light.input_share * np.minimum(light.voltage, 5.0),
        "V",
        "U_IH = share × min(U_strip, 5 V)",
        (
            each_set(origins, light, "input_share", "share", "share of its supply", light.input_share, "%"),
            each_set(origins, light, "voltage", "U_strip", "supply of the strip", light.voltage, "V"),
        ),
        derived("CMOS input"),
        per_case=True,
    )


def _sent(origins: Mapping[str, Origin], light: Light) -> Term:
    key = "light.data.level_shifter" if light.shifted else "light.data.logic_volts"
    return Term("U_OH", "high level that is sent", light.logic_volts, "V", origins[key])


def edges(origins: Mapping[str, Origin], light: Light) -> Finding:
    lead = Term("l", "length of the data lead", light.lead_length, "m", origins["light.data.lead_length"])
    resistor = Term(
        "R", "series resistor at the board", light.series_resistor, "ohm", origins["light.data.series_resistor"]
    )
    per_metre = by_rule(
        "C_l", "capacitance of a metre of lead", LEAD_CAPACITANCE, "F", practice("100 pF a metre of wire pair")
    )
    within = each_set(
        origins, light, "input_capacitance", "C_in", "capacitance of the input", light.input_capacitance, "F"
    )
    threshold, sent = _threshold(origins, light), _sent(origins, light)
    capacitance = column(light.lead_length) * LEAD_CAPACITANCE + light.input_capacitance
    for_each_ohm = formulas.edge_time(1.0, capacitance, column(light.logic_volts), np.asanyarray(threshold.value))
    time = column(light.series_resistor) * np.where(column(light.series_resistor) == 0, 0.0, for_each_ohm)
    limit = limit_of(origins, "edge_time", "t_lim", "error of a bit's width", light.lim_edge_time, "s")
    slow = for_each_ohm > 0
    most = np.where(slow, column(light.lim_edge_time) / np.where(slow, for_each_ohm, 1.0), np.inf)
    largest = calculated(
        "R_max", "largest resistor that leaves the edge sharp", most, "ohm",
        "R_max = t_lim/((l C_l + C_in) ln(U_OH/(U_OH − U_IH)))", (limit, lead, per_metre, within, sent, threshold),
        per_case=True,
    )  # fmt: skip
    return finding(
        demand=time,
        capacity=column(light.lim_edge_time),
        cases=light.strips,
        reserve=NO_RESERVE,
        check="data-edges-are-sharp",
        trade="light",
        topic=TOPIC,
        title="The data edge rises fast enough at the end of its lead",
        unit="s",
        demand_name="time to pass the threshold",
        capacity_name="error of width that is still read",
        late=Late.MINUTES,
        formula="R (l C_l + C_in) ln(U_OH/(U_OH − U_IH)) ≤ t_lim",
        terms=(lead, resistor, per_metre, within, sent, threshold, limit, largest),
        sources=(derived("step into a resistor and a capacitor"),),
        remedy="Take a series resistor of {R_max} or less, or shorten the data lead; see first that the level is read.",
    )
