"""Where the longer calculations are published, as their results say it. Light, so that a help page may show it."""

from __future__ import annotations

TIMED_RUNS = "hydrostat and traction formulas in general use; generalised least squares with errors in every reading"
SLOPE_HOLD = "continuity; traction formulas in general use"
JOINTS = "Carvill, Mechanical Engineer's Data Handbook, §2.4.3 (joint); Engineers Edge, after SAE AE-7 §3.1.1"
RECORDING = "Welch (1967), scipy.signal; Bayes' rule over orders"
