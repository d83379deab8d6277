"""Universal joints: the exact motion of one, and of any chain of them.

A joint's driven angle follows tan θ₂ = tan θ₁ / cos β, with θ₁ counted from where the driven side turns fastest. On
the direction (cos θ, sin θ) that is the matrix diag(cos β, 1), so a chain of joints is a product of such matrices
and of turns between them, and its singular values give the exact swing of the whole chain: every chain moves as one
joint does whose cos β is the smaller over the larger. Angles in rad.
Source: Carvill, Mechanical Engineer's Data Handbook, §2.4.3, p. 72, for one joint; the chain is algebra on it.
"""

from __future__ import annotations

import math

Matrix = tuple[tuple[float, float], tuple[float, float]]


def speed_ratio(angle: float, turn: float) -> float:
    """ω₂/ω₁ = cos β/(1 − sin²β·cos²θ) at joint angle β and turn θ, 0 ≤ β < 90°.

    Between cos β and 1/cos β, twice a turn. Source: Carvill p. 72.

    >>> round(speed_ratio(math.radians(20), 0.0), 6)
    1.064178
    """
    return math.cos(angle) / (1 - math.sin(angle) ** 2 * math.cos(turn) ** 2)


def driven_turn(angle: float, turn: float) -> float:
    """The driven side's turn θ₂ for the driving side's θ₁, counted from where the driven side turns fastest; exact,
    and continuous over many turns."""
    within = math.remainder(turn, math.pi)
    return turn - within + math.atan2(math.sin(within), math.cos(angle) * math.cos(within))


def greatest_lag(angle: float) -> float:
    """Greatest difference between driven and driving turn [rad] = asin((1 − cos β)/(1 + cos β)).

    >>> round(math.degrees(greatest_lag(math.radians(10))), 5)
    0.43856
    """
    return math.asin((1 - math.cos(angle)) / (1 + math.cos(angle)))


def greatest_acceleration(angle: float) -> float:
    """Greatest |α₂|/ω₁² of a joint at angle β, exact; about β² for small angles. Multiply by ω₁² [rad²/s²].

    Source: derivative of `speed_ratio`, its extreme in closed form.

    >>> round(greatest_acceleration(math.radians(30)), 6)
    0.294571
    """
    squared = math.sin(angle) ** 2
    if squared == 0:
        return 0.0
    a, b = 1 - squared / 2, squared / 2
    cosine = 4 * b / (a + math.sqrt(a * a + 8 * b * b))
    return math.cos(angle) * squared * math.sqrt(1 - cosine**2) / (a - b * cosine) ** 2


def swing(angle: float) -> float:
    """Swing of the speed ratio, greatest less least = sin β·tan β.

    >>> round(swing(math.radians(8)), 5)
    0.01956
    """
    return math.sin(angle) * math.tan(angle)


def chain_angle(first: float, second: float, phase: float = 0.0) -> float:
    """The angle of the one joint that turns as unevenly as two joints in a row do, exact.

    `phase` is 0 when the yokes are placed so that equal angles cancel, a right angle when they add; any angle between
    works, the one between the two joint planes added to it. Source: singular values of the chain's matrix, see the
    module.

    >>> round(math.degrees(chain_angle(math.radians(10), math.radians(6))), 3)
    8.015
    """
    return _one_joint(_product(_joint(second, undoes=True), _product(_turn(phase), _joint(first))))


def small_angle_chain(first: float, second: float, phase: float = 0.0) -> float:
    """The same by the workshop formula β⁴ = β₁⁴ + β₂⁴ − 2·β₁²·β₂²·cos 2φ; within 0.6 % below about 10°.

    At φ = 0 it is √|β₁² − β₂²|, at a right angle √(β₁² + β₂²). Source: √|β₁² ∓ β₂²| in general use.

    >>> round(math.degrees(small_angle_chain(math.radians(10), math.radians(6), math.pi / 2)), 3)
    11.662
    """
    a, b = first**2, second**2
    if abs(math.sin(phase)) < 1e-12:
        return math.sqrt(abs(a - b))
    return math.sqrt(math.sqrt(max(0.0, a * a + b * b - 2 * a * b * math.cos(2 * phase))))


def chain_turn(first: float, second: float, phase: float, turn: float) -> float:
    """The gearbox side's turn [rad] for the engine side's `turn`, through two joints; exact and continuous."""
    shaft = driven_turn(first, turn) + phase
    within = math.remainder(shaft, math.pi)
    return shaft - within + math.atan2(math.cos(second) * math.sin(within), math.cos(within))


def allowable_second_angle(first: float, speed: float, limit: float = 400.0) -> float:
    """The angle β₂ [rad] of a second joint that brings the torsional acceleration to `limit` [rad/s²] with β₁ and
    shaft speed [rev/s]: β₂ = √(limit/ω² + β₁²), small angles, yokes in phase.

    Source: Engineers Edge, universal-joint driveline page, after SAE AE-7 §3.1.1; 400 is inferred from its table.

    >>> round(math.degrees(allowable_second_angle(0.0, 25.0)), 1)
    7.3
    """
    return math.sqrt(limit / (2 * math.pi * speed) ** 2 + first**2)


def _joint(angle: float, undoes: bool = False) -> Matrix:
    return ((1.0, 0.0), (0.0, math.cos(angle))) if undoes else ((math.cos(angle), 0.0), (0.0, 1.0))


def _turn(phase: float) -> Matrix:
    return ((math.cos(phase), -math.sin(phase)), (math.sin(phase), math.cos(phase)))


def _product(left: Matrix, right: Matrix) -> Matrix:
    (a, b), (c, d) = left
    (e, f), (g, h) = right
    return ((a * e + b * g, a * f + b * h), (c * e + d * g, c * f + d * h))


def _one_joint(chain: Matrix) -> float:
    """The joint angle whose cosine is the ratio of the chain's singular values."""
    (a, b), (c, d) = chain
    apart = math.hypot(a - d, b + c)  # σ₁ − σ₂ and σ₁ + σ₂, without the loss of a square root of a difference
    together = math.hypot(a + d, c - b)
    return math.acos(1.0) if apart == 0 else 2 * math.atan(math.sqrt(apart / together))
