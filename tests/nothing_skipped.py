"""A pytest plugin for machines where everything is installed: a test that was skipped fails the run.

pytest -p tests.nothing_skipped
"""

from __future__ import annotations

import pytest

_skipped: dict[str, str] = {}


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    if report.skipped and not hasattr(report, "wasxfail"):
        _skipped[report.nodeid] = _reason(report)


def pytest_collectreport(report: pytest.CollectReport) -> None:
    if report.skipped:
        _skipped[report.nodeid] = _reason(report)


def _reason(report: pytest.TestReport | pytest.CollectReport) -> str:
    return report.longrepr[2] if isinstance(report.longrepr, tuple) else report.longreprtext


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    if _skipped and session.exitstatus == pytest.ExitCode.OK:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    for test, reason in _skipped.items():
        terminalreporter.write_line(f"FAILED {test}: skipped here, where nothing may be: {reason}", red=True)
