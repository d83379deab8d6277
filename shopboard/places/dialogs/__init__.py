"""Dialogs: choose one, fill in a few lines, read a page. Each returns a typed result, None when left by Esc."""

from .ask import FormDialog
from .base import Dialog
from .choose import ChooseDialog
from .page import LatePageDialog, PageDialog

__all__ = ["ChooseDialog", "Dialog", "FormDialog", "LatePageDialog", "PageDialog"]
