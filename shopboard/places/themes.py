"""Two looks: a bright shop and a night one. Colours only repeat what words and weight already say."""

from __future__ import annotations

from textual.theme import Theme

NIGHT = Theme(
    name="shop-night",
    primary="#7fb2a8",
    secondary="#6f93b8",
    accent="#d9b36c",
    foreground="#e4e2da",
    background="#15191b",
    surface="#1d2325",
    panel="#272f31",
    success="#8fbf7f",
    warning="#e0b050",
    error="#ee8a72",
    dark=True,
    variables={"text-muted": "#a3aaa4"},  # Textual's own is a share of an automatic colour, which lines cannot take
)

BRIGHT = Theme(
    name="shop-bright",
    primary="#22655a",
    secondary="#2f5e8c",
    accent="#7a5200",
    foreground="#1d2022",
    background="#f6f4ee",
    surface="#ebe8df",
    panel="#dedacd",
    success="#28621c",
    warning="#755000",
    error="#9c2710",
    dark=False,
    variables={"text-muted": "#545a58"},
)
