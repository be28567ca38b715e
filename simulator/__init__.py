"""buildgap: where a bike build loses time on a real course, why, and how sure that is.

Importing this package loads nothing heavy: neither numba nor matplotlib nor scipy. The jobs of
the command line stand here as functions, told in docs/python.md::

    from simulator import compare_builds, example_path, make_build

    mine = make_build(name="Mine", mass_kg=8.6, cda_m2=0.315, crr=0.0045)
    dream = make_build(name="Dream", mass_kg=7.0, cda_m2=0.300, crr=0.0035)
    gap = compare_builds(example_path("courses/three-hills"), dream, mine)
    print(gap)
"""

import importlib
from typing import Any

__version__ = "0.1.0"


def __getattr__(name: str) -> Any:
    # Names of the API are looked up when first used; ``__init__.pyi`` tells them to type checkers.
    if name == "__all__" or not name.startswith("_"):
        api = importlib.import_module("simulator.api")
        if name == "__all__":
            return list(api.__all__)
        if name in api.__all__:
            return getattr(api, name)
    msg = f"module {__name__!r} has no attribute {name!r}"
    raise AttributeError(msg)


def __dir__() -> list[str]:
    api = importlib.import_module("simulator.api")
    return sorted([*globals(), *api.__all__])
