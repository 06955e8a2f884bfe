"""The chair by itself: parts above it join in through registries, and their own tests cover what they add."""

import pytest


@pytest.fixture(autouse=True)
def _nobody_joins_in(monkeypatch: pytest.MonkeyPatch) -> None:
    # By name: this file is read before Django is set up.
    monkeypatch.setattr("whitening.chairside.registries._gate_checks", [])
    monkeypatch.setattr("whitening.chairside.registries._care_checks", [])
    monkeypatch.setattr("whitening.chairside.registries._on_closed", [])
    monkeypatch.setattr("whitening.chairside.registries._on_late", [])
