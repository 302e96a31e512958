"""Configuration factors between rectangles of an empty box, in closed form.

For two rectangles in parallel planes (sides along the same axes) and in planes at right angles the factor is
a sum of one function over the sixteen pairs of corners: J. R. Howell, A Catalog of Radiation Heat Transfer
Configuration Factors, C-11 and C-14 for aligned rectangles; the general positions after E. M. Sparrow and
R. D. Cess, and J. R. Ehlert and T. F. Smith, J. Thermophys. Heat Transfer 7 (1993) 173. Both papers are
quoted from memory; the functions are checked against numeric integration and the catalogue's aligned cases.
"""

from __future__ import annotations

from itertools import product

import numpy as np

from onecrew.colour.arrays import FloatArray


def parallel(one: FloatArray, other: FloatArray, apart: float) -> FloatArray:
    """A₁F₁₂, m², of rectangles (n, 4) and (m, 4) as x₁, x₂, y₁, y₂, in planes ``apart`` metres; (n, m)."""

    def corner(x: FloatArray, y: FloatArray) -> FloatArray:
        beside, along = np.hypot(x, apart), np.hypot(y, apart)
        return np.asarray(
            y * beside * np.arctan(y / beside)
            + x * along * np.arctan(x / along)
            - apart**2 / 2 * np.log(x**2 + y**2 + apart**2)
        )

    total = np.zeros((len(one), len(other)))
    for i, j, k, m in product((0, 1), repeat=4):
        x = one[:, None, i] - other[None, :, k]
        y = one[:, None, 2 + j] - other[None, :, 2 + m]
        total += (-1) ** (i + j + k + m) * corner(x, y)
    return total / (2 * np.pi)


def square(one: FloatArray, other: FloatArray) -> FloatArray:
    """A₁F₁₂, m², of rectangles in planes at right angles; (n, m).

    ``one`` (n, 4) and ``other`` (m, 4) hold the distance from the common edge, near and far, then the two
    ends along that edge.
    """

    def corner(near: FloatArray, along: FloatArray) -> FloatArray:
        """``near`` is the sum of squares of both distances from the edge."""
        safe = np.maximum(near, 1e-30)
        ratio = along / np.sqrt(safe)
        return np.asarray(
            along * np.sqrt(near) * np.arctan(ratio)
            - 0.25 * (near - along**2) * np.log(np.maximum(near + along**2, 1e-30))
        )

    total = np.zeros((len(one), len(other)))
    for i, j, k, m in product((0, 1), repeat=4):
        near = one[:, None, i] ** 2 + other[None, :, k] ** 2
        along = one[:, None, 2 + j] - other[None, :, 2 + m]
        total += (-1) ** (i + j + k + m) * corner(near, along)
    return total / (2 * np.pi)
