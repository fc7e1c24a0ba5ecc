"""Hypothesis profiles: ``dev`` looks at new examples each time, ``ci`` at more, always the same.

``tests/run --long`` looks at the most."""

import os

import pytest
from hypothesis import HealthCheck, settings

settings.register_profile("dev", max_examples=60, deadline=None)
settings.register_profile(
    "ci",
    max_examples=100,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.register_profile(
    "long", max_examples=1_000, deadline=None, suppress_health_check=list(HealthCheck)
)


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--long", action="store_true", help="look at 1,000 examples each")


def pytest_configure(config: pytest.Config) -> None:
    usual = "ci" if os.environ.get("CI") else "dev"
    settings.load_profile("long" if config.getoption("long") else usual)


LONGEST = "test_the_commands_of_the_readme_run_as_they_stand"


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with the longest test, so that no worker is left alone with it at the end."""
    items.sort(key=lambda item: item.name != LONGEST)
