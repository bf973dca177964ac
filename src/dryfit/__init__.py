"""dryfit: try a one-off, floor-driving show robot together on paper before anything is printed, cut, bought or wired.

    from dryfit import check, finding

    checked = check(Path("my-robot"))
    finding(checked, "tips-when-braking").margin

The names below are what others may build on; everything else may move. They are loaded when first asked for, so that
a part of dryfit can be imported without the whole.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from dryfit.ground.errors import DesignError, UnknownNameError
    from dryfit.jobs.check import Checked, all_hold, check, example, example_names, finding, new
    from dryfit.jobs.fix import fix
    from dryfit.jobs.make import make
    from dryfit.jobs.readings import readings
    from dryfit.jobs.spread import spread
    from dryfit.jobs.sweep import sweep

__all__ = [
    "Checked",
    "DesignError",
    "UnknownNameError",
    "all_hold",
    "check",
    "example",
    "example_names",
    "finding",
    "fix",
    "make",
    "new",
    "readings",
    "spread",
    "sweep",
]

_HOMES = {
    "DesignError": "dryfit.ground.errors",
    "UnknownNameError": "dryfit.ground.errors",
    "fix": "dryfit.jobs.fix",
    "make": "dryfit.jobs.make",
    "readings": "dryfit.jobs.readings",
    "spread": "dryfit.jobs.spread",
    "sweep": "dryfit.jobs.sweep",
}


def __getattr__(name: str) -> object:
    if name in __all__:
        return getattr(import_module(_HOMES.get(name, "dryfit.jobs.check")), name)
    raise AttributeError(f"module 'dryfit' has no attribute {name!r}")
