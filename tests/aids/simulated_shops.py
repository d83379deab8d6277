"""Simulated shops for the early-failure rule: models of very unequal numbers, components that wear in or out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shopboard.memory.cells import BANDS, Cell

MODELS, COMPONENTS = 20, 12
YEARS = 4.0


@dataclass(frozen=True)
class Shop:
    """When each component of each machine failed (up to four lives), machines by model, all in years and hours."""

    model: np.ndarray  # machine -> model
    use: np.ndarray  # machine -> hours a year
    joined: np.ndarray  # machine -> year first seen
    since: np.ndarray  # machine -> age then [h]
    spans: np.ndarray  # component, machine, life -> hours from fitted to failed
    truth: np.ndarray  # component, model -> how many times the usual rate


def simulated_shop(
    rng: np.random.Generator, *, spread: float = 0.0, worse: dict[tuple[int, int], float] | None = None
) -> Shop:
    """A shop of 20 models and 12 components, 240 cells. `spread` is the standard deviation of ln(rate) between cells,
    whose mean is 1; `worse` are cells (component, model) with the rate they have instead."""
    many = np.maximum(2, (90 / np.arange(1, MODELS + 1) ** 0.8)).astype(int)
    model = np.repeat(np.arange(MODELS), many)
    n = len(model)
    use = rng.lognormal(np.log(160), 0.5, n)
    joined = rng.random(n) * YEARS * 0.6
    since = np.where(rng.random(n) < 0.5, 0.0, rng.gamma(2.0, 300.0, n))
    truth = np.exp(spread * rng.standard_normal((COMPONENTS, MODELS)) - spread**2 / 2)
    for cell, times in (worse or {}).items():
        truth[cell] = times
    shape = np.linspace(0.7, 2.8, COMPONENTS)
    scale = np.geomspace(1500, 9000, COMPONENTS)[rng.permutation(COMPONENTS)]
    fresh = rng.exponential(size=(COMPONENTS, n, 4)) / truth[:, model][:, :, None]
    # The first component is watched from the machine's age when first seen
    before = np.zeros_like(fresh)
    before[:, :, 0] = (since[None, :] / scale[:, None]) ** shape[:, None]
    spans = scale[:, None, None] * (before + fresh) ** (1 / shape[:, None, None])
    return Shop(model, use, joined, since, spans, truth)


def cells(shop: Shop, year: float) -> list[Cell]:
    """The cells as they stand `year` years after the shop began."""
    edges = np.array([*BANDS, np.inf])
    to = shop.since + shop.use * np.maximum(year - shop.joined, 0.0)
    here = year > shop.joined
    watched = np.zeros((COMPONENTS, MODELS, len(BANDS)))
    failed = np.zeros((COMPONENTS, MODELS, len(BANDS)), dtype=int)
    struck = np.zeros((COMPONENTS, len(to)))
    of_model = (shop.model[None, :] == np.arange(MODELS)[:, None]).astype(float)
    for component in range(COMPONENTS):
        fitted = np.zeros(len(to))
        start = shop.since.copy()
        alive = here.copy()
        for life in range(shop.spans.shape[2]):
            end = fitted + shop.spans[component, :, life]
            fell = alive & (end <= to)
            age_from, age_to = start - fitted, np.where(fell, end, to) - fitted
            inside = np.minimum(age_to[:, None], edges[1:]) - np.maximum(age_from[:, None], edges[:-1])
            watched[component] += of_model @ (np.clip(inside, 0, None) * alive[:, None])
            band = np.searchsorted(edges, age_to[fell], side="left") - 1
            np.add.at(failed[component], (shop.model[fell], band), 1)
            struck[component, fell] = 1
            fitted, start, alive = end, end, fell
            if not fell.any():
                break
    everywhere, all_failed, hit = watched.sum(axis=1), failed.sum(axis=1), struck @ of_model.T
    return [
        Cell(
            f"c{c}", f"m{m}",
            tuple(watched[c, m]), tuple(everywhere[c] - watched[c, m]),
            tuple(int(f) for f in failed[c, m]), tuple(int(f) for f in all_failed[c] - failed[c, m]),
            int(hit[c, m]),
        )
        for c in range(COMPONENTS) for m in range(MODELS)
    ]  # fmt: skip
