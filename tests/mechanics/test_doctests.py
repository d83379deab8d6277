"""Every example in a docstring of the room is true, and every public function has one, a source or a sentence."""

from __future__ import annotations

import doctest
import importlib
import inspect
import pkgutil

import pytest

import shopboard.mechanics as room

MODULES = sorted(f"{room.__name__}.{found.name}" for found in pkgutil.iter_modules(room.__path__))


@pytest.mark.parametrize("name", MODULES)
def test_examples_are_true(name: str) -> None:
    assert doctest.testmod(importlib.import_module(name)).failed == 0


@pytest.mark.parametrize("name", MODULES)
def test_everything_public_is_described(name: str) -> None:
    module = importlib.import_module(name)
    assert module.__doc__
    for public, thing in vars(module).items():
        if not public.startswith("_") and getattr(thing, "__module__", "") == name and callable(thing):
            assert inspect.getdoc(thing), f"{name}.{public}"


@pytest.mark.parametrize("name", MODULES)
def test_units_of_what_is_computed_are_named(name: str) -> None:
    """A function of plain numbers that returns one names a unit or says it is a ratio, share, number or count."""
    words = ("[", "mm²/s", "ω", "share", "ratio", "swing", "number", "times", "SI", "code", "index", "°C", "order")
    module = importlib.import_module(name)
    for public, thing in vars(module).items():
        if public.startswith("_") or not inspect.isfunction(thing) or thing.__module__ != name:
            continue
        if inspect.signature(thing).return_annotation == "float":
            text = (inspect.getdoc(thing) or "") + (module.__doc__ or "")
            assert any(word in text for word in words), f"{name}.{public}"
