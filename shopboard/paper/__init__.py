"""Paper: tag, work order, estimate, parts list, receipt, trouble chart. One description each, printed as text or PDF.

A paper is a list of blocks (`blocks`), which `text` prints for a terminal and `pdf` on sheets or a label. People's text
is made visible before it reaches either, and never acts.
"""

from .blocks import Label, Sheet

__all__ = ["Label", "Sheet"]
