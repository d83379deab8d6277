"""What a shop can measure, turned into what it means.

Pure computation: quantities come in as floats in SI, results go out with a band, what they assume and their source.

- `units`, `unit_table`: quantities as people type them; `bands`: error bands; `results`: the one shape of a result
- `model_data`: the numbers of a model that the calculations know by name
- `hydrostat`, `oil`, `viscosity_index`, `cleanliness`: the drive and its oil
- `joints`, `driveline`, `shims`, `whirl`: the shaft between engine and hydrostat
- `runs`, `timed_runs`, `run_advice`: timed runs turned into lost stroke and leakage
- `neutral_creep`, `slope_hold`: creep turned into a plate offset and leakage
- `orders`, `recording`, `spectrum`, `matching`, `run_up`, `plots`: the source of a vibration
- `outcomes`: which check of the trouble book a measurement answers, and how
- `greasing`: when a greased joint is due
"""
