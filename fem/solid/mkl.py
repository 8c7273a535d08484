"""Sparse Cholesky of Intel MKL, through pypardiso: analysis, factor and solves, or all but a dense Schur complement.

MKL has returned wrong answers without an error on its default parameters (pypardiso, issue 87), so its parameters are
set here by hand, and whoever calls it checks the answer. ICECONE_NO_MKL=1: as if there were no MKL.
"""

from __future__ import annotations

import os
import sys
from contextlib import suppress
from functools import cache
from importlib.metadata import PackageNotFoundError, files
from pathlib import Path

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

Array = NDArray[np.float64]


@cache
def has_mkl() -> bool:
    """Whether MKL can be had. pypardiso would search the whole environment for its library, twice: seconds."""
    if os.environ.get("ICECONE_NO_MKL", "0") not in ("", "0"):
        return False
    if (library := _library()) is not None:
        os.environ.setdefault("PYPARDISO_MKL_RT", library)
    try:
        from pypardiso import PyPardisoSolver
    except ImportError:
        return False
    os.environ.setdefault("PYPARDISO_MKL_RT", PyPardisoSolver().libmkl._name)
    return True


def _library() -> str | None:
    """Where the package mkl has put its library, if it is installed."""
    with suppress(PackageNotFoundError):
        for file in files("mkl") or ():
            if "mkl_rt" in file.name and (library := Path(str(file.locate()))).exists():
                return str(library)
    return None


class MKL:
    """Its phases on the upper triangle of A; `kept` unknowns are left as a dense Schur complement, `schur`."""

    def __init__(self, upper: sp.csr_matrix, kept: NDArray[np.bool_] | None = None) -> None:
        from pypardiso import PyPardisoSolver

        has_mkl()
        self._upper = upper
        self._upper.sort_indices()
        self._solver = PyPardisoSolver(mtype=2, size_limit_storage=0)
        iparm = self._solver.iparm
        iparm[:] = 0
        iparm[0] = 1  # the values below, not MKL's defaults
        iparm[1] = 2  # nested dissection
        room = 1
        n = upper.shape[0]
        if kept is not None:
            iparm[35] = 2  # dense Schur complement with the factors kept for phases 331 and 333
            self._solver.perm = kept.astype(np.int32)
            room = -(-(int(kept.sum()) ** 2) // n)
        self._room = (n, room)
        self.schur = self.phase(12, np.zeros(self._room))

    def renew(self, upper: sp.csr_matrix) -> None:
        """Factorise another matrix of the same pattern."""
        self._upper = upper
        self.schur = self.phase(22, np.zeros(self._room))

    def phase(self, number: int, b: Array) -> Array:
        """Run one phase of MKL on b (n, k). Raises ArithmeticError with MKL's number if it fails."""
        from pypardiso.pardiso_wrapper import PyPardisoError

        self._solver.set_phase(number)
        try:
            return self._solver._call_pardiso(self._upper, np.asfortranarray(b, dtype=float))
        except PyPardisoError as error:
            raise ArithmeticError(f"phase {number} failed: {error}") from None

    def __del__(self) -> None:
        solver = getattr(self, "_solver", None)
        if solver is not None and not sys.is_finalizing():
            solver.free_memory(everything=True)
