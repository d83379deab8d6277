"""What the shop's own closed jobs teach: failure ages, early failures, service due, lead times, words that held.

Pure: records or plain rows come in, figures with their bands and the sentence that says them go out. Nothing here loads
numpy or scipy before it is asked something.

- `histories(machines, closed)`: what failed on which machine at which age; `.lives(component)` for the fits
- `ageing(lives, rng)`: share still good, shape, B10 life and a plain verdict, as far as the failures carry them
- `replacement(lives, rng, planned, failed)`: the age to replace at; `repeats`: repairs of one place again and again
- `record(histories)`: every component on every model judged; `.flagged()`, `.of_model(model)`
- `intake_warnings(record, model, looks)`: what to say at the counter; `weights(record, model, age)`: for the triage
- `service_due(machines, points, done, today)`, `calls`, `marginal`: what falls due, whom to ring, what comes cheap
- `lead_times(orders, now)`, `slower`: when parts come, and who takes longer of late
- `first_right`, `minutes_held`, `comebacks`, `reliability`: how well the shop's words held
"""

from .age_weights import AgeWeight, age_shapes, age_weights, band_of, component_ages, weights
from .ageing import Ageing, ageing
from .done import Done, age_in, done_in, last_done, when_done
from .early import Early, Record, Word
from .figures import Figure
from .histories import Histories, Past, histories, past_of, together
from .intake_warning import IntakeWarning, Look, intake_warnings
from .lead_times import LeadTimes, Order, Slower, Wait, Waits, lead_times, orders_of, slower
from .lives import Life
from .outcomes import (
    CameBack,
    Judged,
    Reliability,
    comebacks,
    first_right,
    judged,
    minutes_held,
    reliability,
)
from .repeats import repaired, repeats
from .replacement import replacement
from .service_due import (
    Call,
    Marginal,
    NeverNoted,
    OfMachine,
    Service,
    ServiceDue,
    calls,
    due_on,
    marginal,
    points_of,
    service_due,
    service_of,
)
from .standing import Standing, record
from .use import Fleet, Use, fleet, use_of

__all__ = [
    "AgeWeight",
    "Ageing",
    "Call",
    "CameBack",
    "Done",
    "Early",
    "Figure",
    "Fleet",
    "Histories",
    "IntakeWarning",
    "Judged",
    "LeadTimes",
    "Life",
    "Look",
    "Marginal",
    "NeverNoted",
    "OfMachine",
    "Order",
    "Past",
    "Record",
    "Reliability",
    "Service",
    "ServiceDue",
    "Slower",
    "Standing",
    "Use",
    "Wait",
    "Waits",
    "Word",
    "age_in",
    "age_shapes",
    "age_weights",
    "ageing",
    "band_of",
    "calls",
    "comebacks",
    "component_ages",
    "done_in",
    "due_on",
    "first_right",
    "fleet",
    "histories",
    "intake_warnings",
    "judged",
    "last_done",
    "lead_times",
    "marginal",
    "minutes_held",
    "orders_of",
    "past_of",
    "points_of",
    "record",
    "reliability",
    "repaired",
    "repeats",
    "replacement",
    "service_due",
    "service_of",
    "slower",
    "together",
    "use_of",
    "weights",
    "when_done",
]
