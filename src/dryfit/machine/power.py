"""The supply as numbers: packs, main line, tree of branches, regulators, signals."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from dryfit.catalogue.rows import Row, row
from dryfit.design.fields import Word
from dryfit.design.sections.power import Packs as PacksRecord
from dryfit.design.sections.power import Power as PowerRecord
from dryfit.design.sections.power import Signal as SignalRecord
from dryfit.ground import units
from dryfit.ground.axes import stack
from dryfit.ground.quantity import Array, Num, Quantity
from dryfit.ground.sources import memory, practice
from dryfit.machine.branches import Branches, index_of, resolve_branches, with_implied
from dryfit.machine.ledger import Default, Ledger, whole
from dryfit.machine.wiring import Run, resolve_run

DEFAULT_PACK = "lifepo4-12v8-12ah"


@dataclass(frozen=True)
class Packs:
    """Equal packs in parallel, N of them. SI.

    charge_at, open_cell: state of charge 0..1 and rested cell voltage, the chemistry's table.  usable: share planned
    for.  lead_resistance: both wires, contacts and fuse of every pack's lead (..., N).  end_factor: resistance near
    empty over full.  lead_fuse, lead_interrupt, lead_ampacity, lead_contact_rating: infinite where there is none.
    """

    chemistry: str
    count: int
    spare_sets: int
    cells: Num
    nominal: Num
    capacity: Num
    hour_rate: Num
    resistance: Num
    end_factor: Num
    peukert: Num
    max_current: Num
    max_charge_current: Num
    cut_off: Num
    usable: Num
    charge_at: Array
    open_cell: Array
    lead_resistance: Array
    lead_area: Num
    lead_lengths: tuple[Num, ...]
    lead_fuse: Num
    lead_interrupt: Num
    lead_ampacity: Num
    lead_contact_rating: Num
    difference_when_joined: Num


@dataclass(frozen=True)
class Signals:
    """Q signals between the ends of branches `start` and `end`; thresholds (..., Q), V."""

    names: tuple[str, ...]
    start: tuple[int, ...]
    end: tuple[int, ...]
    output_low: Array
    output_high: Array
    input_low: Array
    input_high: Array


@dataclass(frozen=True)
class Power:
    """The whole supply. main_*: the line from the packs' joint to the bus, both conductors with fuse, switch, contact.
    packs_fused, main_fused: whether there is a fuse in each pack's lead and in the main line.
    lim_*: habits of the trade, open to `power.limits`."""

    packs: Packs
    packs_fused: bool
    main: Run
    main_fused: bool
    main_resistance: Num
    switch_current: Num
    branches: Branches
    signals: Signals
    lim_regulator_share: Num
    lim_connector_share: Num
    lim_fuse_share: Num
    lim_fuse_peak: Num
    lim_load_band: Num
    lim_other_load_band: Num
    lim_pack_imbalance: Num
    lim_ground_share: Num
    lim_brown_out_reserve: Num
    lim_dip_time: Num
    lim_back_fed_rise: Num
    lim_servo_stall_share: Num
    lim_inside_rise: Num
    lim_arms_moving_share: Num


def resolve_power(
    record: PowerRecord | None, ledger: Ledger, *, strip_names: Sequence[str] = (), has_servos: bool = False
) -> Power:
    """Numbers of the supply. Loads that the machine has and no branch feeds (motors, logic, strips, servos) get an
    implied branch with listed defaults, so that a half-written file runs."""
    r = record or PowerRecord()
    limits = r.limits

    def limit(key: str, dimension: units.Dimension, text: str, reason: str) -> Num:
        default = Default(text, 0.0, reason, practice(reason))
        return ledger.take(f"power.limits.{key}", dimension, getattr(limits, key), None, default)

    main = resolve_run(r.main, "power.main", ledger, "6 mm2", "500 mm")
    if r.main.fuse is None and r.packs.lead.fuse is None:
        # A supply without any fuse named cannot be judged: the checks say "unknown" and which line is missing.
        main = replace(main, fuse=ledger.take("power.main.fuse", units.CURRENT, None))
    switch = ledger.take(
        "power.main.switch_resistance",
        units.RESISTANCE,
        r.main.switch_resistance,
        None,
        Default("2 mohm", 0.5, "a main switch of the 50 A class"),
    )
    switch_current: Num = np.inf
    if r.main.switch_current is not None:
        switch_current = ledger.take("power.main.switch_current", units.CURRENT, r.main.switch_current)
    records = with_implied(list(r.branches or []), strip_names, has_servos, ledger)
    branches = resolve_branches(records, len(r.branches or []), ledger, strip_names)
    packs = _packs(r.packs, limits.usable_share, ledger)
    _faults_of_rails(branches, packs, ledger)
    return Power(
        packs=packs,
        packs_fused=r.packs.lead.fuse is not None,
        main=main,
        main_fused=r.main.fuse is not None,
        main_resistance=2 * main.wire + 2 * main.contact + main.fuse_resistance + switch,
        switch_current=switch_current,
        branches=branches,
        signals=_signals(r.signals, branches, ledger),
        lim_regulator_share=limit("regulator_share", units.SHARE, "70 %", "plan 70 % of a regulator's headline figure"),
        lim_connector_share=limit("connector_share", units.SHARE, "70 %", "plan 70 % of a contact's rating"),
        lim_fuse_share=limit("fuse_share", units.SHARE, "80 %", "sustained load at most 80 % of the fuse"),
        lim_fuse_peak=limit("fuse_peak", units.PERCENT, "135 %", "peaks of a second at most 135 % of the fuse"),
        lim_load_band=limit("load_band", units.SHARE, "5 %", "strips want their voltage within 5 %"),
        lim_other_load_band=limit("other_load_band", units.SHARE, "10 %", "other loads want theirs within 10 %"),
        lim_pack_imbalance=limit("pack_imbalance", units.SHARE, "20 %", "no pack works a fifth harder than the mean"),
        lim_ground_share=limit("ground_share", units.SHARE, "50 %", "grounds may differ by half the logic margin"),
        lim_brown_out_reserve=limit("brown_out_reserve", units.VOLTAGE, "0.3 V", "stay 0.3 V over brown-out"),
        lim_dip_time=limit("dip_time", units.TIME, "10 ms", "a motor start dips the bus for about 10 ms"),
        lim_back_fed_rise=limit("back_fed_rise", units.SHARE, "10 %", "a rail may rise by a tenth when fed back"),
        lim_servo_stall_share=limit("servo_stall_share", units.SHARE, "100 %", "all servos may start at once"),
        lim_inside_rise=limit(
            "inside_rise", units.TEMPERATURE_RISE, "15 K", "a closed body is 15 K warmer than the room"
        ),
        lim_arms_moving_share=limit("arms_moving_share", units.SHARE, "30 %", "arms move for a third of the show"),
    )


def _packs(r: PacksRecord, usable: Quantity | None, ledger: Ledger) -> Packs:
    path = "power.packs"
    named = ledger.row(f"{path}.item", "packs", r.item)
    base = named
    if named is None and r.item is None:
        base = row("packs", DEFAULT_PACK)
    fallback = "lifepo4" if base is None else base.words["chemistry"]
    chemistry = ledger.choose(f"{path}.chemistry", r.chemistry, fallback, "the chemistry of the pack named")
    kind = ledger.row(f"{path}.chemistry", "chemistries", r.chemistry) or row("chemistries", fallback)

    # The chemistry is a word of the pack's row where the file does not name it.
    line = kind.line or (named.line if named is not None else 0)
    for key, column in (("open_cell", "ocv_100"), ("end_factor", "end_resistance_factor")):
        ledger.origins[f"{path}.{key}"] = replace(kind.quantities[column].origin, line=line)

    peukert = ledger.take(f"{path}.peukert", units.NUMBER, r.peukert, kind)
    if not np.all((np.asanyarray(peukert) >= 1) & (np.asanyarray(peukert) <= 2)):
        ledger.fault(f"{path}.peukert", "no battery has such an exponent of the rate effect", accepted="1 to 2")

    def take(key: str, dimension: units.Dimension, typed: Quantity | None, source: Row | None, text: str) -> Num:
        reason = "no pack given: a small lithium iron phosphate pack is assumed"
        return ledger.take(f"{path}.{key}", dimension, typed, source, Default(text, 0.3, reason))

    cells = take("cells_in_series", units.COUNT, r.cells_in_series, named, "4")
    table = np.array([kind.quantities[f"ocv_{n}"].si for n in range(0, 101, 10)])
    count = ledger.take(f"{path}.count", units.COUNT, r.count, None, Default("1", 0.0, "one pack"))
    number = whole(count)
    if number < 1:
        ledger.fault(f"{path}.count", "a machine needs at least one pack", read="0", accepted="1 or more")
        number = 1
    lead = resolve_run(r.lead, f"{path}.lead", ledger, "2.5 mm2", "250 mm")
    lengths = [q.si for q in r.lead_lengths] if r.lead_lengths else [lead.length] * number
    if len(lengths) != number:
        ledger.fault(f"{path}.lead_lengths", f"{len(lengths)} lengths for {number} packs", accepted="one for each pack")
        lengths = [lead.length] * number
    for n, q in enumerate(r.lead_lengths or []):
        ledger.origins[f"{path}.lead_lengths[{n}]"] = q.origin
    leads = [2 * lead.warm_per_length * x + 2 * lead.contact + lead.fuse_resistance for x in lengths]
    join = ledger.take(
        f"{path}.difference_when_joined", units.VOLTAGE, r.difference_when_joined, None, _join(kind, cells)
    )
    spare = ledger.take(f"{path}.spare_sets", units.COUNT, r.spare_sets, None, Default("0", 0.0, "no spare set"))
    planned = Default(
        f"{kind.quantities['usable_share'].si * 100:g} %", 0.0, "share of the charge that is planned for",
        practice("plan on 70 % of lithium packs, 50 % of lead ones"),
    )  # fmt: skip
    cut = Default(f"{float(kind.quantities['cut_off_per_cell'].si) * whole(cells):.6g} V", 0.03, "of the chemistry")
    return Packs(
        chemistry=chemistry,
        count=number,
        spare_sets=whole(spare),
        cells=cells,
        nominal=take("nominal_voltage", units.VOLTAGE, r.nominal_voltage, named, "12.8 V"),
        capacity=take("capacity", units.CHARGE, r.capacity, named, "12 Ah"),
        hour_rate=take("hour_rate", units.TIME, r.hour_rate, named, "1 h"),
        resistance=take("resistance", units.RESISTANCE, r.resistance, named, "32 mohm"),
        end_factor=kind.quantities["end_resistance_factor"].si,
        peukert=peukert,
        max_current=take("max_current", units.CURRENT, r.max_current, named, "20 A"),
        max_charge_current=take("max_charge_current", units.CURRENT, r.max_charge_current, named, "10 A"),
        cut_off=ledger.take(f"{path}.cut_off", units.VOLTAGE, r.cut_off, named, cut),
        usable=ledger.take("power.limits.usable_share", units.SHARE, usable, None, planned),
        charge_at=np.linspace(0.0, 1.0, 11),
        open_cell=table,
        lead_resistance=stack(leads),
        lead_area=lead.area,
        lead_lengths=tuple(lengths),
        lead_fuse=lead.fuse,
        lead_interrupt=lead.interrupt,
        lead_ampacity=lead.ampacity,
        lead_contact_rating=lead.contact_rating,
        difference_when_joined=join,
    )


def _join(kind: Row, cells: Num) -> Default:
    volts = float(kind.quantities["join_difference"].si) * whole(cells)
    reason = "packs are joined when their cells differ by no more than the habit"
    return Default(f"{volts:.6g} V", 0.0, reason, practice("join packs that differ by at most 0.1 V per lithium cell"))


def _faults_of_rails(branches: Branches, packs: Packs, ledger: Ledger) -> None:
    """A step-down or linear regulator cannot give more than the packs' nominal voltage."""
    for n, kind in enumerate(branches.types):
        if kind in ("", "step-up"):
            continue
        if not np.all(branches.output[..., n] < np.asanyarray(packs.nominal)):
            ledger.fault(
                f"{branches.paths[n]}.regulator.output",
                f"a rail above its source: a {kind} regulator cannot give more than the packs",
                read=ledger.origins[f"{branches.paths[n]}.regulator.output"].text,
                accepted="an output below the packs' nominal voltage, or `type: step-up`",
            )


def _signals(records: list[SignalRecord] | None, branches: Branches, ledger: Ledger) -> Signals:
    names = list(branches.names)
    named: list[SignalRecord] = list(records or [])
    ends = list(zip(branches.feeds, branches.names, strict=True))
    logic = next((name for feeds, name in ends if feeds == "logic"), None)
    motors = next((name for feeds, name in ends if feeds == "motors"), None)
    if records is None and logic and motors:
        named = [SignalRecord(name=Word("motor PWM"), from_=Word(logic), to=Word(motors))]  # type: ignore[call-arg]
    paths = [f"power.signals[{n}]" for n in range(len(named))]

    def level(key: str, text: str, reason: str) -> Array:
        default = Default(text, 0.2, reason, memory("data sheets of 5 V logic and of half-bridge drivers"))
        return stack(
            [ledger.take(f"{p}.{key}", units.VOLTAGE, getattr(s, key), None, default)
             for s, p in zip(named, paths, strict=True)]
        ) if named else np.zeros((0,))  # fmt: skip

    return Signals(
        names=tuple(str(s.name) for s in named),
        start=tuple(index_of(s.from_, names, f"{p}.from", ledger) for s, p in zip(named, paths, strict=True)),
        end=tuple(index_of(s.to, names, f"{p}.to", ledger) for s, p in zip(named, paths, strict=True)),
        output_low=level("output_low", "0.2 V", "a logic output that drives an input"),
        output_high=level("output_high", "4.2 V", "a 5 V logic output under load"),
        input_low=level("input_low", "1.1 V", "a half-bridge driver's input"),
        input_high=level("input_high", "2.15 V", "a half-bridge driver's input"),
    )
