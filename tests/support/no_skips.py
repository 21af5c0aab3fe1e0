"""Where everything that the tests need was installed (``CI`` is set), a skipped test is a failure.

A plugin of pytest, so that no test has to think of it.
"""

import os
from collections.abc import Generator

import pytest


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport() -> Generator[None, pytest.TestReport, pytest.TestReport]:
    report = yield
    if report.skipped and not hasattr(report, "wasxfail") and "CI" in os.environ:
        why = report.longrepr[2] if isinstance(report.longrepr, tuple) else str(report.longrepr)
        report.outcome = "failed"
        report.longrepr = f"nothing is skipped where CI is set: {why}"
    return report
