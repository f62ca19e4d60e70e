"""Shared by all tests."""

from pathlib import Path

import pytest

_SHARED = Path(__file__).resolve().parents[2] / "shared" / "data"


@pytest.fixture(scope="session")
def shared_data() -> Path:
    """Return the folder of real open weather beside the checkout, or skip."""
    if not _SHARED.is_dir():
        pytest.skip("the folder of real open weather (../shared/data) is not beside this checkout")
    return _SHARED
