"""`shopboard calc NAME …`: the command line of the mechanics room. Thin: parse quantities, call it, print.

- `command`: mounts every page below `calc` and prints text or JSON
- `page`: a page of the handbook, which is also the parser's help; `inputs`: what options take; `show`: results as text
- `hydrostat_pages`, `oil_pages`, `driveline_pages`, `runs_pages`, `vibration_pages`: the pages
"""

from .command import add_calc

__all__ = ["add_calc"]
