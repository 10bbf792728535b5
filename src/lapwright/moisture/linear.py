"""Linear systems of the walls: 2 x 2 blocks, one below and one above the diagonal, many systems at once.

Two ways to the same answer: elimination over the cells with all members in each array operation (wide batches), and
LAPACK's banded solver on all systems strung together (few members).
"""

from __future__ import annotations

import numpy as np
from scipy.linalg.lapack import dgbsv

from lapwright.moisture.vapor import LATENT_J_KG, Array

WIDE = 80  # members from which elimination over arrays is faster than LAPACK, measured


def solve(low: Array, main: Array, up: Array, right: Array) -> tuple[Array, Array]:
    """Return x0, x1 (N, M) of  low[i] x[i-1] + main[i] x[i] + up[i] x[i+1] = right[i].

    low, up: (N-1, 2, 2, M), low[i] belongs to row i+1; main (N, 2, 2, M); right (N, 2, M). The arguments are
    overwritten. No rows are exchanged between blocks: blocks must be those of a diffusive problem.
    """
    return _wide(low, main, up, right) if right.shape[-1] >= WIDE else _banded(low, main, up, right)


def _banded(low: Array, main: Array, up: Array, right: Array) -> tuple[Array, Array]:
    n, _, m = right.shape
    # Heat rows hold the latent heat of the water rows: brought to their size, so that pivots are chosen well.
    for block in (low, main, up):
        block[:, 1] *= 1 / LATENT_J_KG
    right[:, 1] *= 1 / LATENT_J_KG
    ab = np.zeros((10, m, n, 2))
    for r in range(2):
        for c in range(2):
            ab[6 + r - c, :, :, c] = main[:, r, c, :].T
            ab[8 + r - c, :, :-1, c] = low[:, r, c, :].T
            ab[4 + r - c, :, 1:, c] = up[:, r, c, :].T
    b = right.transpose(2, 0, 1).reshape(-1)
    _, _, x, info = dgbsv(3, 3, np.asfortranarray(ab.reshape(10, -1)), b, overwrite_ab=1, overwrite_b=1)
    if info != 0:
        x = np.full_like(b, np.nan)
    x = x.reshape(m, n, 2)
    return np.ascontiguousarray(x[:, :, 0].T), np.ascontiguousarray(x[:, :, 1].T)


def _wide(low: Array, main: Array, up: Array, right: Array) -> tuple[Array, Array]:
    n, _, m = right.shape
    # Row i holds [upper block | right side] as 2 x 3; after elimination it holds the block and side solved for x[i].
    both = np.empty((n, 2, 3, m))
    both[:-1, :, :2] = up
    both[-1, :, :2] = 0.0
    both[:, :, 2] = right
    step = np.empty((2, 3, m))
    other = np.empty((2, 3, m))
    det, prod = np.empty(m), np.empty(m)
    row = np.empty((3, m))
    tmp = np.empty((3, m))
    for i in range(n):
        b, y = main[i], both[i]
        if i:
            x, a = both[i - 1], low[i - 1]
            np.multiply(a[:, 0, None], x[0], out=step)
            np.multiply(a[:, 1, None], x[1], out=other)
            step += other
            b -= step[:, :2]
            y[:, 2] -= step[:, 2]
        np.multiply(b[0, 0], b[1, 1], out=det)
        np.multiply(b[0, 1], b[1, 0], out=prod)
        det -= prod
        np.reciprocal(det, out=det)
        b *= det
        np.multiply(b[1, 1], y[0], out=row)
        np.multiply(b[0, 1], y[1], out=tmp)
        row -= tmp
        np.multiply(b[1, 0], y[0], out=tmp)
        np.multiply(b[0, 0], y[1], out=y[1])
        y[1] -= tmp
        y[0] = row
    x0, x1 = np.empty((n, m)), np.empty((n, m))
    x0[-1], x1[-1] = both[-1, 0, 2], both[-1, 1, 2]
    pair = np.empty((2, m))
    for i in range(n - 2, -1, -1):
        y = both[i]
        np.multiply(y[:, 0], x0[i + 1], out=pair)
        np.subtract(y[:, 2], pair, out=y[:, 2])
        np.multiply(y[:, 1], x1[i + 1], out=pair)
        np.subtract(y[:, 2], pair, out=y[:, 2])
        x0[i], x1[i] = y[0, 2], y[1, 2]
    return x0, x1
