"""The texts of a new shop's files, as the person who fills them in reads them."""

from __future__ import annotations

SHOP_TOML = """\
# Your shop. Change what is here, save, and open the board again.
# A line that starts with # is a remark; take the # away to use it.

name = "Our shop"

# The clock on your wall ("Europe/Vienna", "America/Denver" …) and your country's letters.
zone = "UTC"
# country = "AT"          # its public holidays are not worked …
# region = "9"            # … nor are those of the region
# closed_days = [2026-12-24, 2026-12-31]   # and these, by your own choice

# "metric" (mm, L/min, bar, °C) or "us" (in, gpm, psi, °F). Typed numbers may carry either.
units = "metric"

# Money. decimals: how many places behind the point your currency has.
currency = "EUR"
decimals = 2
tax_percent = 0
labour_rate = 60          # for one hour of work
diagnostic_fee = 0        # agreed at the counter before anybody opens anything
overrun_percent = 0       # how far a repair may pass the approved sum without a new yes: check your local law
# prices_with_tax = true  # rate and prices hold the tax already
# fee_credited = false    # the diagnostic fee is charged also when the work is done here
# supplies_percent = 4    # rags, cleaner and the like, as a share of the labour …
# supplies_most = 15      # … up to this sum
# deposit_percent = 30    # of an estimate, asked for ahead

# Paper: "A4" or "Letter" (left out: by your country), a tag's width x height in millimetres, and your own terms above
# the signature.
# paper = "A4"
# label = "100x62"
# terms = "Old parts are kept for two weeks."

# A machine that is back within so many days is asked about as a comeback.
comeback_days = 90

# How sure a promised date must be: 0.8 means four of five are kept.
promise_probability = 0.8

# A terminal left alone for so many minutes locks itself; 0 is never. Ctrl+L locks at once.
# lock_minutes = 10

# What can be measured here; checks that need anything else are not proposed.
# instruments = ["pressure gauge", "flow meter", "dial indicator", "inclinometer", "infrared thermometer"]

# When the shop is open; a day left out is closed.
[hours]
mon = "08:00-17:00"
tue = "08:00-17:00"
wed = "08:00-17:00"
thu = "08:00-17:00"
fri = "08:00-15:00"

# Where a machine can stand. One table for each bay; `can` is what it offers, in your own words.
[[bay]]
id = "1"
name = "lift"
can = ["lift", "exhaust"]

[[bay]]
id = "2"
name = "yard"
can = ["yard"]

# Who works here. `id` signs every change, so keep it short and never give it to somebody else later.
# roles: "counter", "technician", "owner"; one person may have several.
[[person]]
id = "me"
name = "Me"
roles = ["owner", "counter", "technician"]
skills = ["hydrostat", "driveline"]
# hours = { mon = "08:00-12:00" }   # only if they differ from the shop's

# Who sends parts. usual_days: working days until they come, as you know it today; the board learns better.
# [[supplier]]
# id = "first"
# name = "First parts house"
# phone = ""
# usual_days = 5
"""

MODELS_TOML = """\
# The models you look after. One table for each; copy the example, take the # away, and fill in what you know.
# layout: "in-line" (engine, shaft, hydrostat, range gearbox), "split" (pumps at the engine, hoses to wheel motors),
#         "transaxle" (belt to a sealed unit) or "gear" (no hydrostat).
# A number that is missing is never guessed: what needs it says so.

# [[model]]
# id = "example-20"
# name = "Example 20"
# layout = "in-line"
# kind = "compact tractor"
# lacks = ["case drain"]                      # what its units do not have
# data = { pump_displacement = "21 cm3/rev", relief_pressure = "210 bar" }
#
# [[model.service_points]]                    # from the machine's own manual
# id = "front-joint"
# name = "front U-joint"
# normal_hours = 50
# severe_hours = 25
# covers = ["floor-plate"]
"""

PARTS_TOML = """\
# Your parts. One table for each number; copy the example, take the # away, and fill in what you know. What is written
# here is filled in when somebody types the number, or asks for the parts of a correction at once.

# [[part]]
# number = "SK-210"
# name = "seal kit"
# known_as = ["pump seal kit"]     # other names, such as the trouble book's, under which a correction asks for it
# supplier = "first"               # an id of shop.toml
# price = "64.00"                  # of one, without tax
# lead_class = "seals"             # parts that take about as long to come
# core_charge = "40.00"            # paid on top until the old part is back …
# core_days = 30                   # … within so many days after it was fitted
# return_days = 60                 # so long unused ones are taken back
# models = ["example-20"]          # ids of models.toml; left out: fits all
# serials_from = "E20-0001"        # where a number changed within a model: the first and the last serial it fits
# serials_to = "E20-0499"
# replaced_by = "SK-211"           # sent instead
# bin = "A-3"                      # where it lies here
"""

BOOK_NOTE = """\
Files ending in .toml in this folder add to the trouble book: your own symptoms, causes, checks and corrections.
A new id adds an entry; an id that the book has already changes only the fields named here. `shopboard verify` tells
what does not fit.
"""

#: What stands in a new shop, by the file's name.
NEW_TEXTS = {
    "shop.toml": SHOP_TOML,
    "models.toml": MODELS_TOML,
    "parts.toml": PARTS_TOML,
    "book/README.txt": BOOK_NOTE,
}
