"""What a repair costs: labour with covers counted once, what else is worth doing while it is open, and money.

Pure, and below the trouble book: covers, corrections and ranked causes come in as arguments.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from shopboard.lazily import lazily

if TYPE_CHECKING:
    from .covers import Cover, Graph, Route, graph_of, routes
    from .money import Bill, MoneyLine, MoneyRules, bills
    from .of_job import job_estimate, job_plan, job_range
    from .open_covers import Extra, Offer, WhileOpen, used_up, while_open
    from .sheet import Charges, Estimate, PartWanted, if_declined, make_estimate
    from .steps import Plan, RoadTest, Work, lay_out, marginal
    from .uncertain import CostRange, Possible, cost_range
    from .worth import WayOut, Weighed, side_by_side

__all__ = [
    "Bill",
    "Charges",
    "CostRange",
    "Cover",
    "Estimate",
    "Extra",
    "Graph",
    "MoneyLine",
    "MoneyRules",
    "Offer",
    "PartWanted",
    "Plan",
    "Possible",
    "RoadTest",
    "Route",
    "WayOut",
    "Weighed",
    "WhileOpen",
    "Work",
    "bills",
    "cost_range",
    "graph_of",
    "if_declined",
    "job_estimate",
    "job_plan",
    "job_range",
    "lay_out",
    "make_estimate",
    "marginal",
    "routes",
    "side_by_side",
    "used_up",
    "while_open",
]

__getattr__ = lazily(
    __name__,
    {
        "covers": (
            "Cover",
            "Graph",
            "Route",
            "graph_of",
            "routes",
        ),
        "money": (
            "Bill",
            "MoneyLine",
            "MoneyRules",
            "bills",
        ),
        "of_job": (
            "job_estimate",
            "job_plan",
            "job_range",
        ),
        "open_covers": (
            "Extra",
            "Offer",
            "WhileOpen",
            "used_up",
            "while_open",
        ),
        "sheet": (
            "Charges",
            "Estimate",
            "PartWanted",
            "if_declined",
            "make_estimate",
        ),
        "steps": (
            "Plan",
            "RoadTest",
            "Work",
            "lay_out",
            "marginal",
        ),
        "uncertain": (
            "CostRange",
            "Possible",
            "cost_range",
        ),
        "worth": (
            "WayOut",
            "Weighed",
            "side_by_side",
        ),
    },
)
