"""Every example in a docstring of the installed package does what it says."""

from __future__ import annotations

import doctest
import importlib
import pkgutil
from collections.abc import Iterator
from types import ModuleType

import pytest

import sample_shop
import shopboard


def _failed(name: str) -> None:
    raise AssertionError(f"{name} cannot be imported")


def _modules() -> Iterator[str]:
    for package in (shopboard, sample_shop):
        yield package.__name__
        found = pkgutil.walk_packages(package.__path__, f"{package.__name__}.", onerror=_failed)
        yield from sorted(module.name for module in found)


MODULES = tuple(_modules())


def _examples(module: ModuleType) -> list[doctest.DocTest]:
    return [test for test in doctest.DocTestFinder(exclude_empty=True).find(module) if test.examples]


@pytest.mark.parametrize("name", MODULES)
def test_examples_of(name: str) -> None:
    said: list[str] = []
    for test in _examples(importlib.import_module(name)):
        doctest.DocTestRunner(optionflags=doctest.FAIL_FAST).run(test, out=said.append)
    assert not said, "".join(said)


def test_there_are_examples_to_run() -> None:
    found = {test.name for name in MODULES for test in _examples(importlib.import_module(name))}
    assert len(found) >= 20, sorted(found)


def test_a_wrong_example_is_noticed() -> None:
    wrong = ModuleType("wrong")
    wrong.__doc__ = ">>> 1 + 1\n3\n"
    said: list[str] = []
    for test in _examples(wrong):
        doctest.DocTestRunner().run(test, out=said.append)
    assert "Expected:\n    3\nGot:\n    2" in "".join(said)
