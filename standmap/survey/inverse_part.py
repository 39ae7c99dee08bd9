"""Entries of the inverse of a sparse symmetric matrix, and only those that are asked for.

The rest of the inverse is dense: it is never made. Takahashi's recurrence (1973; from memory) works the entries
out on the pattern of the factor, from its last column back to its first.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from standmap.stand.walks import FloatArray

if TYPE_CHECKING:
    from scipy.sparse import csc_matrix, csr_matrix

IntArray = NDArray[np.int64]


def inverse_part(matrix: csc_matrix, asked: csc_matrix) -> csr_matrix:
    """Return the entries of the inverse that stand where `asked` has some, as a sparse matrix of its pattern.

    Parameters
    ----------
    matrix
        Symmetric, positive definite, shape (n, n).
    asked
        Its pattern is symmetric, holds the diagonal and all entries of `matrix`; shape (n, n).
    """
    from scipy.sparse import csc_matrix, tril
    from scipy.sparse.linalg import splu

    n = matrix.shape[0]
    options = {"SymmetricMode": True}
    order = np.argsort(splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options=options).perm_c)
    here = matrix[order][:, order].tocsc()
    # In this order as it stands, and on the diagonal: the factor is then that of Cholesky, scaled.
    solver = splu(here, permc_spec="NATURAL", diag_pivot_thresh=0.0, options=options)
    pattern = asked[order][:, order].tocsc()
    start, rows = _filled(csc_matrix(tril(pattern, -1)), n)
    column = np.repeat(np.arange(n, dtype=np.int64), np.diff(start))
    keys = column * n + rows  # ascending: by column, then by row
    values = _spread_out(keys, csc_matrix(tril(solver.L, -1)), n)
    inverse, diagonal = _recurred(start, rows, values, np.asarray(solver.U.diagonal()), keys)

    place = np.argsort(order)
    wanted_column = np.repeat(np.arange(n), np.diff(asked.indptr))
    one, other = place[asked.indices], place[wanted_column]
    low, high = np.minimum(one, other).astype(np.int64), np.maximum(one, other).astype(np.int64)
    own = low == high
    found = np.empty(len(one))
    found[own] = diagonal[low[own]]
    found[~own] = inverse[np.searchsorted(keys, low[~own] * n + high[~own])]
    return csc_matrix((found, asked.indices, asked.indptr), shape=asked.shape).tocsr()


def _filled(below: csc_matrix, n: int) -> tuple[IntArray, IntArray]:
    """Return starts and rows of the columns of the factor, below its diagonal.

    A column has the entries of the matrix and those of each column whose first entry is in its row.
    """
    columns: list[IntArray] = []
    children: list[list[int]] = [[] for _ in range(n)]
    for j in range(n):
        rows = below.indices[below.indptr[j] : below.indptr[j + 1]].astype(np.int64)
        parts = [rows, *(columns[child][1:] for child in children[j])]
        rows = np.unique(np.concatenate(parts)) if len(parts) > 1 else np.sort(rows)
        columns.append(rows)
        if len(rows):
            children[int(rows[0])].append(j)
    start = np.concatenate([[0], np.cumsum([len(rows) for rows in columns])]).astype(np.int64)
    return start, np.concatenate(columns) if columns else np.zeros(0, dtype=np.int64)


def _spread_out(keys: IntArray, factor: csc_matrix, n: int) -> FloatArray:
    """Return the values of the factor on the whole pattern; entries that happen to be 0 may be missing in it."""
    column = np.repeat(np.arange(n, dtype=np.int64), np.diff(factor.indptr))
    values = np.zeros(len(keys))
    at = np.searchsorted(keys, column * n + factor.indices)
    known = (at < len(keys)) & (factor.data != 0.0)
    values[at[known]] = factor.data[known]
    return values


def _recurred(
    start: IntArray, rows: IntArray, values: FloatArray, pivots: FloatArray, keys: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Return the inverse on the pattern below the diagonal, and on the diagonal."""
    n = len(pivots)
    inverse = np.zeros(len(rows))
    diagonal = np.zeros(n)
    for j in range(n - 1, -1, -1):
        lo, hi = start[j], start[j + 1]
        near, weight = rows[lo:hi], values[lo:hi]
        count = hi - lo
        if count == 0:
            diagonal[j] = 1 / pivots[j]
            continue
        # The block of the inverse over the rows of this column: all of it has been worked out already.
        block = np.empty((count, count))
        left, right = np.tril_indices(count, -1)
        part = inverse[np.searchsorted(keys, near[right] * n + near[left])]
        block[left, right] = part
        block[right, left] = part
        block[np.arange(count), np.arange(count)] = diagonal[near]
        beside = -block @ weight
        inverse[lo:hi] = beside
        diagonal[j] = 1 / pivots[j] - weight @ beside
    return inverse, diagonal
