"""A linear program that grows by rows and columns, over HiGHS, and looks up between steps whether to go on."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int32]


@dataclass(frozen=True, slots=True, eq=False)
class Solved:
    """An optimum.

    Attributes
    ----------
    value
        The objective.
    x
        One value a column.
    price
        The dual value of each row; of no meaning after integer columns were asked for.
    """

    value: float
    x: FloatArray
    price: FloatArray


class Program:
    """Minimise a linear cost; rows and columns may be added after a solution, which then starts from it.

    Parameters
    ----------
    over
        Asked now and then while HiGHS works; True ends the solution without an answer.
    seed
        Of HiGHS's own choices.
    """

    def __init__(self, over: Callable[[], bool], seed: int = 0) -> None:
        import highspy

        class Quiet(highspy.Highs):
            def enableCallbacks(self) -> None:  # noqa: N802 - the library's name
                # Called while being made: without this the library prints its banner.
                self.silent()
                super().enableCallbacks()  # type: ignore[no-untyped-call]

        self.infeasible = False
        """Whether the last solution was none because there can be none."""
        self._highs = Quiet()  # type: ignore[no-untyped-call]
        for option, value in (
            ("threads", 1),
            ("random_seed", seed % 2**31),
            ("mip_rel_gap", 0.0),
            ("mip_abs_gap", 1e-9),
        ):
            self._highs.setOptionValue(option, value)

        def look_up(event: highspy.HighsCallbackEvent) -> None:
            if over():
                event.interrupt()

        self._highs.cbSimplexInterrupt += look_up
        self._highs.cbMipInterrupt += look_up

    def add_rows(self, lower: FloatArray, upper: FloatArray, entries: FloatArray) -> None:
        """Add rows with bounds of shape (r,) and dense coefficients of shape (r, columns)."""
        at, index, value = _sparse(entries)
        self._highs.addRows(len(lower), lower, upper, len(index), at, index, value)

    def add_columns(self, cost: FloatArray, upper: float, entries: FloatArray) -> None:
        """Add columns from 0 to `upper` with costs of shape (c,) and dense coefficients of shape (rows, c)."""
        at, index, value = _sparse(entries.T)
        count = len(cost)
        self._highs.addCols(count, cost, np.zeros(count), np.full(count, upper), len(index), at, index, value)

    def solve(self, *, most_nodes: int = 0) -> Solved | None:
        """Return the optimum, or None if it was interrupted, gave up or there is none.

        Parameters
        ----------
        most_nodes
            Ask for whole numbers and give up after so many nodes; 0 asks for the linear optimum.
        """
        import highspy

        highs = self._highs
        columns = np.arange(highs.getNumCol(), dtype=np.int32)
        kind = highspy.HighsVarType.kInteger if most_nodes else highspy.HighsVarType.kContinuous
        highs.changeColsIntegrality(len(columns), columns, np.full(len(columns), kind))
        if most_nodes:
            highs.setOptionValue("mip_max_nodes", most_nodes)
        highs.run()
        status = highs.getModelStatus()
        self.infeasible = status == highspy.HighsModelStatus.kInfeasible
        if status != highspy.HighsModelStatus.kOptimal:
            return None
        answer = highs.getSolution()
        return Solved(highs.getObjectiveValue(), np.array(answer.col_value), np.array(answer.row_dual))


def _sparse(entries: FloatArray) -> tuple[IntArray, IntArray, FloatArray]:
    """Return where each row's entries begin, their columns and their values."""
    row, index = np.nonzero(entries)
    at = np.searchsorted(row, np.arange(len(entries))).astype(np.int32)
    return at, index.astype(np.int32), entries[row, index]
