"""The pack model (rested voltage by charge, less current times resistance) against a battery library, run live.

Bibliography
- PyBaMM, single-particle models with the published parameter sets of a 5 Ah mixed-oxide cell (Chen 2020) and a
  2.3 Ah iron phosphate cell (Prada 2013). Run live; reference figures of the same runs: 3.5119 V after 1800 s at 1C,
  4.9388 Ah to 2.5 V, 1712.5 s to 2.5 V at 2C; 3.2061 V after 900 s at 1C.
- Cell resistances for the pack model: 28 mohm (5 Ah) and 32 mohm (2.3 Ah), from memory of such cells' sheets.
The bands are what a straight-line table and one resistance can be expected to hold in the middle of a discharge.
"""

from __future__ import annotations

import warnings
from functools import cache

import numpy as np
import pytest

from dryfit.catalogue.rows import row
from dryfit.trades.power import formulas as f

GRID = np.linspace(0, 1, 11)


def sagged(kind: str, charge: float, current: float, resistance: float) -> float:
    q = row("chemistries", kind).quantities
    table = np.array([q[f"ocv_{n}"].si for n in range(0, 101, 10)])
    return float(f.open_voltage(charge, GRID, table, 1.0)) - current * resistance


@cache
def discharge(model: str, cell: str, rate: float, seconds: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Time (s), voltage (V) and charge drawn (Ah) of a constant-current discharge."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import pybamm

        models = {"SPM": pybamm.lithium_ion.SPM, "SPMe": pybamm.lithium_ion.SPMe}
        run = pybamm.Simulation(models[model](), parameter_values=pybamm.ParameterValues(cell), C_rate=rate)
        solution = run.solve(np.linspace(0, seconds, 400))
        return (
            solution["Time [s]"].entries,
            solution["Terminal voltage [V]"].entries,
            solution["Discharge capacity [A.h]"].entries,
        )


def test_mixed_oxide_after_half_an_hour_at_1c() -> None:
    time, volts, _ = discharge("SPMe", "Chen2020", 1.0, 3600.0)
    library = float(np.interp(1800.0, time, volts))
    assert library == pytest.approx(3.5119, abs=0.02)
    assert sagged("li-ion-nmc", 0.5, 5.0, 0.028) == pytest.approx(library, abs=0.05)


@pytest.mark.parametrize("charge", [0.8, 0.7, 0.6, 0.5, 0.4, 0.3])
def test_mixed_oxide_over_the_middle_of_a_discharge(charge: float) -> None:
    time, volts, _ = discharge("SPMe", "Chen2020", 1.0, 3600.0)
    library = float(np.interp((1 - charge) * 3600.0, time, volts))
    assert sagged("li-ion-nmc", charge, 5.0, 0.028) == pytest.approx(library, abs=0.10)


def test_mixed_oxide_sag_grows_with_current() -> None:
    one, two = discharge("SPMe", "Chen2020", 1.0, 3600.0), discharge("SPMe", "Chen2020", 2.0, 1700.0)
    library = float(np.interp(1800.0, one[0], one[1]) - np.interp(900.0, two[0], two[1]))
    model = sagged("li-ion-nmc", 0.5, 5.0, 0.028) - sagged("li-ion-nmc", 0.5, 10.0, 0.028)
    assert model == pytest.approx(library, abs=0.08)


def test_capacity_of_the_published_cell_at_1c() -> None:
    _, volts, drawn = discharge("SPMe", "Chen2020", 1.0, 3700.0)
    assert volts[-1] == pytest.approx(2.5, abs=0.05)
    assert drawn[-1] == pytest.approx(4.9388, rel=0.01)


def test_iron_phosphate_after_a_quarter_hour_at_1c() -> None:
    time, volts, _ = discharge("SPM", "Prada2013", 1.0, 1800.0)
    library = float(np.interp(900.0, time, volts))
    assert library == pytest.approx(3.2061, abs=0.02)
    assert sagged("lifepo4", 0.75, 2.3, 0.032) == pytest.approx(library, abs=0.05)
