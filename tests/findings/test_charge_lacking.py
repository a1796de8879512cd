"""What a battery lacks for what it has given: by hand, step by step."""

import numpy as np
import pytest

from analyzer.findings.battery import _charge_lacking
from analyzer.limits import limit_value


def test_what_is_given_is_lacking_until_more_than_that_comes_back() -> None:
    flow = np.array([3.0, -6.0, -6.0, 6.0, 12.0, 12.0, -3.6])  # into the battery [A], ten minutes each
    lacking, course = 0.0, []
    for amps in flow:
        moved = amps * 600.0 / 3600.0
        lacking = lacking - moved if moved < 0.0 else max(0.0, lacking - moved / limit_value("given_back"))
        course.append(lacking)
    assert course[2] == pytest.approx(2.0)  # 6 A for twenty minutes
    assert 0.0 < course[3] < 2.0  # some is back
    assert course[5] == 0.0  # all of it, and no surplus is kept
    found = _charge_lacking(flow, np.full(flow.size, 600.0))
    assert found == pytest.approx(course, abs=1e-12)
    assert found[-1] == pytest.approx(0.6)
