"""The modules of this folder import each other by name, as they do when run as a script."""

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))


@pytest.fixture(scope="session", autouse=True)
def _leave_nothing():
    yield
    import reader_targets

    reader_targets.forget_folder()
