"""A page of the handbook: what a calculation does in words, its inputs, a worked example, its source."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from textwrap import fill
from typing import Any

from shopboard.mechanics.results import Result


def later(module: str, name: str) -> Callable[..., Any]:
    """The function `name` of this package's `module`, loaded when first called: numpy stays away from the start."""

    def call(*given: Any) -> Any:
        return getattr(import_module(f"{__package__}.{module}"), name)(*given)

    return call


@dataclass(frozen=True)
class Option:
    """One option: flag, how its text is read, and the line of help with unit and range."""

    flag: str
    read: Callable[[str], Any]
    help: str
    metavar: str = "QUANTITY"
    needed: bool = False
    repeat: bool = False
    default: Any = None
    choices: tuple[str, ...] | None = None


@dataclass(frozen=True)
class Page:
    """`body` is the formula in words; `example` the arguments of a worked example and `answer` what it prints; `run`
    turns the parsed options into a result; `takes_model` adds --model, --shop, --gear and --set."""

    name: str
    title: str
    body: str
    options: tuple[Option, ...]
    example: str
    answer: str
    source: str
    run: Callable[[argparse.Namespace], Result]
    takes_model: bool = False
    file: bool = False

    def text(self) -> str:
        """The page as the help shows it, below the usage and above the options."""
        paragraphs = [fill(" ".join(part.split()), 100) for part in self.body.strip().split("\n\n")]
        return f"{self.title[0].upper()}{self.title[1:]}.\n\n" + "\n\n".join(paragraphs)

    def end(self) -> str:
        """The worked example and the source, as the help shows them at the end."""
        answer = "\n".join(f"    {line}".rstrip() for line in self.answer.strip().splitlines())
        return f"example:\n  shopboard calc {self.example}\n\n{answer}\n\nsource: {self.source}"
