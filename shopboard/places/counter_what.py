"""The Counter's questions on what the machine does: symptoms to tick, what to ask now, the first likely causes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cached_property

from shopboard import trouble
from shopboard.records import Machine
from shopboard.trouble import Book, Check, suggest_symptoms

from .counter_who import WhoComes
from .fields import Field, Option, Values, many_of, needed, text_of
from .lines import Line, share, wrapped

_QUESTIONS = 3


#: The book to rank by for a known machine, or for a layout and model.
BookFor = Callable[[Machine | None, str, str], Book]


class WhatItDoes(WhoComes):
    """Questions on the complaint. `book_for` gives the book to rank by (None: the shop's own)."""

    book_for: BookFor | None = None

    def reckoned(self, values: Values) -> Book:
        """The book for the machine chosen: the same as long as this form is open, so that no question changes under
        its answer when more is learned meanwhile."""
        machine, layout, model = self.machine(values), self.layout(values), self.model_id(values)
        if self.book_for is None or layout is None:
            return self.book
        key = (machine.id if machine else 0, layout, model or "")
        if key not in self._reckoned:
            self._reckoned[key] = self.book_for(machine, layout, model or "")
        return self._reckoned[key]

    @cached_property
    def _reckoned(self) -> dict[tuple[int, str, str], Book]:
        return {}

    def trouble_fields(self) -> list[Field]:
        """What it does, the symptoms, and the questions worth asking now."""
        return [
            Field(
                "complaint",
                "what it does",
                hint="in the customer's own words",
                check=needed("what does it do? write what the customer says"),
            ),
            Field(
                "symptoms",
                "symptoms",
                "many",
                hint="down, Enter ticks; Enter alone goes on",
                options=self._symptoms,
                tells=self.likely_lines,
            ),
            *(self._ask(n) for n in range(_QUESTIONS)),
        ]

    def _ask(self, n: int) -> Field:
        def question(values: Values) -> str:
            asked = self.questions(values, n + 1)
            return asked[n].name if len(asked) > n else ""

        return Field(
            f"ask{n}", "and" if n else "ask", "choice", hint=question,
            options=lambda values, typed: self._outcomes(values, typed, n),
            asked=lambda values: len(self.questions(values, n + 1)) > n,
            tells=self.likely_lines,
            eager=False,  # an answer is never taken by Enter alone: it was not asked
        )  # fmt: skip

    def _symptoms(self, values: Values, typed: str) -> Sequence[Option]:
        layout = self.layout(values)
        known = {k: s for k, s in self.book.symptoms.items() if layout is None or layout in s.layouts}
        ticked = [k for k in many_of(values, "symptoms") if k in self.book.symptoms]
        suggested = [k for k, _ in suggest_symptoms(self.book, text_of(values, "complaint")) if k in known]
        if typed.strip():
            words = typed.lower().split()
            order = [k for k, s in known.items() if all(w in s.name.lower() for w in words)]
            order += [k for k, _ in suggest_symptoms(self.book, typed) if k in known]
        else:
            order = [*ticked, *suggested, *known]
        return [
            Option(k, self.book.symptoms[k].name, "from what was said" if k in suggested else "")
            for k in dict.fromkeys(order)
        ]

    def questions(self, values: Values, most: int = _QUESTIONS) -> list[Check]:
        """The questions worth asking now, each the best given the answers to those before."""
        layout, symptoms = self.layout(values), many_of(values, "symptoms")
        asked: list[Check] = []
        if layout is None or not symptoms:
            return asked
        for n in range(most):
            found = self._best_question(layout, symptoms, values, asked)
            if found is None or (n and not text_of(values, f"ask{n - 1}")):
                break
            asked.append(found)
        return asked

    def _best_question(
        self, layout: str, symptoms: tuple[str, ...], values: Values, asked: list[Check]
    ) -> Check | None:
        answers = tuple(self._answers(values, asked))
        skip = {check.id for check in asked}
        ids = [*self._worth_asking(self.reckoned(values), layout, symptoms, answers)]
        ids += [c for s in symptoms if s in self.book.symptoms for c in self.book.symptoms[s].ask]
        for id in ids:
            check = self.book.checks.get(id)
            if check is not None and id not in skip and layout in check.layouts and check.where == "counter":
                return check
        return None

    def _worth_asking(
        self, book: Book, layout: str, symptoms: tuple[str, ...], answers: tuple[tuple[str, str], ...]
    ) -> tuple[str, ...]:
        """The checks to make at the counter, best first; kept, as the form asks again at every key typed."""
        key = (id(book), layout, symptoms, answers)  # the book is kept as well, so its id is its own
        if key not in self._asked_before:
            seen = trouble.Evidence(symptoms, answers)
            best = trouble.next_checks(book, layout, seen, limit=60, at="counter")
            self._asked_before[key] = tuple(check.check for check in best if check.where == "counter")
        return self._asked_before[key]

    @cached_property
    def _asked_before(self) -> dict[tuple[int, str, tuple[str, ...], tuple[tuple[str, str], ...]], tuple[str, ...]]:
        return {}

    def _outcomes(self, values: Values, typed: str, n: int) -> Sequence[Option]:
        asked = self.questions(values, n + 1)
        if len(asked) <= n:
            return ()
        names = [outcome.name for outcome in asked[n].outcomes.values()]
        options = [Option(name, name) for name in names] + [
            Option("unsure", "unsure"),
            Option("not asked", "not asked"),
        ]
        wanted = typed.strip().lower()
        narrowed = [o for o in options if wanted in o.label.lower()]
        return narrowed or options

    def _answers(self, values: Values, asked: Sequence[Check]) -> list[tuple[str, str]]:
        pairs = []
        for n, check in enumerate(asked):
            said = text_of(values, f"ask{n}")
            outcome = next((o.id for o in check.outcomes.values() if o.name == said), None)
            if outcome or said == "unsure":
                pairs.append((check.id, outcome or "unsure"))
        return pairs

    def answers(self, values: Values) -> tuple[tuple[str, str], ...]:
        """The answers given, as pairs of check and outcome."""
        return tuple(self._answers(values, self.questions(values)))

    def likely_lines(self, values: Values, width: int) -> Sequence[Line]:
        """The first likely causes, as far as anything was said."""
        layout, symptoms = self.layout(values), many_of(values, "symptoms")
        if layout is None or not symptoms:
            return ()
        ranking = trouble.rank(self.reckoned(values), layout, trouble.Evidence(symptoms, self.answers(values)))
        first = ",  ".join(f"{c.name} {share(c.probability)}" for c in ranking.causes[:3])
        rows = wrapped(f"likely: {first},  none of these {share(ranking.none_of_these)}", width, "mark", indent="    ")
        for text in ranking.contradictions:
            rows += wrapped(text, width, "wait", indent="    ")
        return rows
