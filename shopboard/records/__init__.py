"""What a shop knows: frozen records, the state that holds them, and the steps that change them.

The lowest room: it imports no other. Records are plain data with types; rules live in `shopboard.shop`.
"""

from .base import FORMAT, FieldError, Moment, Record, Table, decode, encode, to_record
from .change import Change, Op, Put, Remove
from .jobs import (
    Answer,
    Approval,
    Comeback,
    Finding,
    Job,
    Likely,
    Note,
    NotThis,
    Operation,
    Payer,
    Pin,
    Reading,
    RoadTest,
    Settlement,
    Spell,
    Stage,
    tag,
    tag_number,
)
from .machines import Duty, HourReading, Layout, Machine, Model, ServicePoint
from .parts import PartLine, PartState
from .people import Customer, Person, Role
from .settings import Bay, Closure, Hours, Settings, Supplier
from .shop_state import ClosedJob, ShopState
from .step import Refused, Step
from .stock import CataloguePart, Return, ReturnKind, Stock
from .wording import visible

__all__ = [
    "FORMAT",
    "Answer",
    "Approval",
    "Bay",
    "CataloguePart",
    "Change",
    "ClosedJob",
    "Closure",
    "Comeback",
    "Customer",
    "Duty",
    "FieldError",
    "Finding",
    "HourReading",
    "Hours",
    "Job",
    "Layout",
    "Likely",
    "Machine",
    "Model",
    "Moment",
    "NotThis",
    "Note",
    "Op",
    "Operation",
    "PartLine",
    "PartState",
    "Payer",
    "Person",
    "Pin",
    "Put",
    "Reading",
    "Record",
    "Refused",
    "Remove",
    "Return",
    "ReturnKind",
    "RoadTest",
    "Role",
    "ServicePoint",
    "Settings",
    "Settlement",
    "ShopState",
    "Spell",
    "Stage",
    "Step",
    "Stock",
    "Supplier",
    "Table",
    "decode",
    "encode",
    "tag",
    "tag_number",
    "to_record",
    "visible",
]
