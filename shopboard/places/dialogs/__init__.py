"""Dialogs: choose one, fill in a few lines, read a page. Each returns a typed result, None when left by Esc."""

from typing import TYPE_CHECKING

from shopboard.lazily import lazily

from .base import Dialog
from .choose import ChooseDialog
from .page import LatePageDialog, PageDialog

if TYPE_CHECKING:
    from .ask import FormDialog

__all__ = ["ChooseDialog", "Dialog", "FormDialog", "LatePageDialog", "PageDialog"]

__getattr__ = lazily(__name__, {"ask": ("FormDialog",)})
