"""The mesh of every stage: ratio, efficiency and the checks of its geometry."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from dryfit.ground.findings import Finding, Term, by_rule, calculated
from dryfit.ground.quantity import Array, Origin
from dryfit.ground.sources import derived, memory
from dryfit.machine.gears import Gears
from dryfit.machine.workshop import Workshop
from dryfit.trades.gears import checks_shape as shape
from dryfit.trades.gears import formulas_pairs as pair
from dryfit.trades.gears.checks_backlash import centre_distance, shims_cover
from dryfit.trades.gears.checks_layout import ADDENDA, ALL_TEETH, GEOMETRY, Layout, Typed, lay_out
from dryfit.trades.gears.checks_ring import goes_together, tips_off_roots

LOSS = memory("Machine-element texts", "mesh loss factor of spur gears")


@dataclass(frozen=True)
class MeshResult:
    """What the mesh hands on.

    ratio: motor turns for one turn of the wheel, (...,).  efficiency: of all stages together, (...,).
    stage_ratio, stage_efficiency, loss_factor (times the friction: share of the power lost on the flanks),
    contact_ratio: by stage, (..., G).
    layout: every circle and angle, for the strength checks and for drawing.
    """

    ratio: Term
    efficiency: Term
    stage_ratio: Array
    stage_efficiency: Array
    loss_factor: Array
    contact_ratio: Array
    layout: Layout
    findings: tuple[Finding, ...]


@np.errstate(divide="ignore", invalid="ignore", over="ignore")
def assess_mesh(origins: Mapping[str, Origin], gears: Gears, workshop: Workshop) -> MeshResult:
    """Geometry of all stages; with none (direct drive) ratio and efficiency are 1 and there is nothing to find.

    Teeth that cannot be come out as NaN, which fails; numpy need not warn of them.
    A typed centre distance beyond what the backlash allows is named by `centre-distance-is-right`; all other checks
    then judge the teeth at the distance at which they run.
    """
    lay = lay_out(gears, workshop)
    ratios = gears.gear_teeth / gears.pinion_teeth
    contact = lay.recess + lay.approach
    loss = np.asanyarray(pair.loss_factor(gears.pinion_teeth, gears.gear_teeth, lay.recess, lay.approach, gears.sign))
    efficiencies = np.asanyarray(pair.efficiency(gears.friction, loss, gears.other_losses))
    typed = Typed(origins, gears)
    ratio, efficiency = _totals(gears, typed, ratios, efficiencies, loss)
    findings: list[Finding] = []
    if gears.paths:
        findings += [
            shape.contact_ratio(gears, lay, typed),
            shape.tips_clear_roots(origins, gears, workshop, lay, typed),
            shims_cover(origins, gears, workshop, lay, typed),
        ]
        if any(gears.typed_centre):
            findings.append(centre_distance(gears, lay, typed))
        if any((*gears.pinion_printed, *gears.gear_printed)):
            findings.append(shape.tips_print(origins, gears, workshop, lay, typed))
        if any(gears.internal):
            findings.append(goes_together(origins, gears, workshop, lay, typed))
        if any(i and r for i, r in zip(gears.internal, gears.generated, strict=True)):
            findings.append(tips_off_roots(origins, gears, workshop, lay, typed))
        if any(gears.generated):
            findings.append(shape.no_undercut(gears, typed))
        if any(not (i or r) for i, r in zip(gears.internal, gears.generated, strict=True)):
            findings.append(shape.tips_on_flanks(gears, lay, typed))
    return MeshResult(
        ratio=ratio,
        efficiency=efficiency,
        stage_ratio=ratios,
        stage_efficiency=efficiencies,
        loss_factor=loss,
        contact_ratio=np.asanyarray(contact),
        layout=lay,
        findings=tuple(findings),
    )


def _totals(g: Gears, typed: Typed, ratios: Array, efficiencies: Array, loss: Array) -> tuple[Term, Term]:
    """Total ratio and efficiency as plain terms: they go into other trades' findings, so nothing here is per case."""
    if not g.paths:
        direct = derived("no gear stage: the motor turns the wheel itself")
        return by_rule("i", "gear ratio", 1.0, "1", direct), by_rule("η_g", "efficiency of the gears", 1.0, "1", direct)
    ratio = calculated(
        "i", "gear ratio", np.prod(ratios, axis=-1)[()], "1", "product of z2/z1",
        typed("pinion_teeth", "gear_teeth"), GEOMETRY,
    )  # fmt: skip
    stage = [
        calculated(
            "H_V" if len(g.paths) == 1 else f"H_V ({i + 1})", f"mesh loss factor {name}".strip(), loss[..., i], "1",
            "π (u ± 1)/(z1 u) · (1 - ε + ε1² + ε2²)", typed(*ALL_TEETH, *ADDENDA), LOSS,
        )
        for i, name in enumerate(g.names)
    ]  # fmt: skip
    efficiency = calculated(
        "η_g", "efficiency of the gears", np.prod(efficiencies, axis=-1)[()], "1", "product of (1 - µ H_V)(1 - v)",
        [*stage, *typed("friction", "other_losses")], LOSS,
    )  # fmt: skip
    return ratio, efficiency
