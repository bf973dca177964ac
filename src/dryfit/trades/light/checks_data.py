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
from dryfit.trades.light.checks_terms import NO_RESERVE, TENTH, each_set, limit_of

LEAD_CAPACITANCE = 100e-12
"""Farad per metre of a data wire beside its return (common practice)."""


def frames(origins: Mapping[str, Origin], light: Light) -> Finding:
    counts = np.array(light.counts, dtype=float)
    clocked = np.array([p == "clocked" for p in light.protocols])
    number = light.leds * counts / light.lines
    each = np.where(
        clocked,
        formulas.clocked_frame_time(number, light.bits, light.bit_time),
        formulas.unclocked_frame_time(number, light.bits, light.bit_time, 0.0),
    )
    reset = np.max(np.where(clocked, 0.0, light.reset_time), axis=-1)
    time = calculated(
        "t_frame",
        "time to send one frame",
        np.sum(each, axis=-1) + reset,
        "s",
        "t_frame = Σ n × bits × t_bit / lines + t_reset",
        (
            each_set(origins, light, "count", "n_s", "strips in the set", counts, "1"),
            each_set(origins, light, "length", "L", "length of strip", light.length, "m"),
            each_set(origins, light, "bit_time", "t_bit", "time of one bit", light.bit_time, "s"),
            each_set(origins, light, "reset_time", "t_reset", "pause that ends a frame", light.reset_time, "s"),
            Term("lines", "data lines", float(light.lines), "1", origins["light.data.lines"]),
        ),
        derived("serial data: one bit after the other"),
    )
    seconds = np.asarray(time.value)
    rate = Term("f", "frames a second wanted", light.frame_rate, "Hz", origins["light.data.frame_rate"])
    return finding(
        demand=light.frame_rate,
        capacity=np.where(seconds == 0, np.inf, 1 / np.where(seconds == 0, 1.0, seconds)),
        reserve=TENTH,
        check="frames-keep-up",
        trade="light",
        topic="light data",
        title="A frame is sent before the next one is due",
        unit="Hz",
        demand_name="frames wanted",
        capacity_name="frames that can be sent",
        late=Late.PART_ORDER,
        formula="f ≤ 1/t_frame",
        terms=(rate, time),
        sources=(derived("serial data: one bit after the other"),),
        remedy="Divide the strips among more data lines, or ask for fewer frames than {f}.",
    )


def logic(origins: Mapping[str, Origin], light: Light) -> Finding:
    # strips of more than 5 V run their logic from an inner 5 V
    inner = np.minimum(light.voltage, 5.0)
    high = calculated(
        "U_IH",
        "voltage that the data input takes for high",
        light.input_share * inner,
        "V",
        "U_IH = share × min(U_strip, 5 V)",
        (
            each_set(origins, light, "input_share", "share", "share of its supply", light.input_share, "%"),
            each_set(origins, light, "voltage", "U_strip", "supply of the strip", light.voltage, "V"),
        ),
        derived("CMOS input"),
        per_case=True,
    )
    key = "light.data.level_shifter" if light.shifted else "light.data.logic_volts"
    sent = Term("U_OH", "high level that is sent", light.logic_volts, "V", origins[key])
    spare = limit_of(origins, "logic_margin", "U_margin", "margin above the threshold", light.lim_logic_margin, "V")
    return finding(
        demand=np.asarray(high.value) + column(light.lim_logic_margin),
        capacity=column(light.logic_volts),
        cases=light.strips,
        reserve=NO_RESERVE,
        check="data-is-read-right",
        trade="light",
        topic="light data",
        title="The strips read the data level as high",
        unit="V",
        demand_name="level needed with its margin",
        capacity_name="level sent",
        late=Late.PART_ORDER,
        formula="U_OH ≥ U_IH + U_margin",
        terms=(sent, high, spare),
        sources=(practice("0.7 of the supply, and a margin for noise on the ground"),),
        remedy="Put a level shifter to {U_strip} at the board, or run the first strip on a lower voltage.",
    )


def edges(origins: Mapping[str, Origin], light: Light) -> Finding:
    lead = Term("l", "length of the data lead", light.lead_length, "m", origins["light.data.lead_length"])
    resistor = Term(
        "R", "series resistor at the board", light.series_resistor, "ohm", origins["light.data.series_resistor"]
    )
    per_metre = by_rule(
        "C_l", "capacitance of a metre of lead", LEAD_CAPACITANCE, "F", practice("100 pF a metre of wire pair")
    )
    threshold = light.input_share * np.minimum(light.voltage, 5.0)
    time = formulas.edge_time(
        column(light.series_resistor),
        column(light.lead_length) * LEAD_CAPACITANCE + light.input_capacitance,
        column(light.logic_volts),
        threshold,
    )
    limit = limit_of(origins, "edge_time", "t_lim", "error of a bit's width", light.lim_edge_time, "s")
    return finding(
        demand=time,
        capacity=column(light.lim_edge_time),
        cases=light.strips,
        reserve=NO_RESERVE,
        check="data-edges-are-sharp",
        trade="light",
        topic="light data",
        title="The data edge rises fast enough at the end of its lead",
        unit="s",
        demand_name="time to pass the threshold",
        capacity_name="error of width that is still read",
        late=Late.MINUTES,
        formula="t = R (l C_l + C_in) ln(U_OH/(U_OH − U_IH)) ≤ t_lim",
        terms=(lead, resistor, per_metre, limit),
        sources=(derived("step into a resistor and a capacitor"),),
        remedy="Shorten the data lead, or take a smaller series resistor than {R}.",
    )
