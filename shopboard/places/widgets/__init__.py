"""Widgets of the board."""
