"""Severities have an order, and a finding's numbers their units."""

from __future__ import annotations

import pytest

from analyzer import quantity
from analyzer.findings.finding import Finding, FindingName, Severity


def test_severities_rank_from_advisory_to_warning():
    assert sorted(Severity, key=lambda one: one.rank) == [Severity.ADVISORY, Severity.CAUTION, Severity.WARNING]
    assert max(["warning", "advisory"], key=lambda one: Severity(one).rank) == "warning"


@pytest.mark.parametrize("evidence", [{}, {"depth": 0.5}])
def test_a_number_without_a_unit_is_no_evidence(evidence: dict[str, float]):
    with pytest.raises(ValueError, match="evidence"):
        Finding(FindingName.UNSTEADY_CONNECTION, Severity.CAUTION, 0.0, 1.0, evidence, "It dropped.")  # type: ignore[arg-type]


def test_a_number_with_its_unit_is():
    evidence = {"depth": quantity.volts(0.5)}
    found = Finding(FindingName.UNSTEADY_CONNECTION, Severity.CAUTION, 0.0, 1.0, evidence, "It dropped.")
    assert (found.name, found.severity) == ("unsteady_connection", "caution")
