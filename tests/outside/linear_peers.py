"""The solver of linear networks beside general-purpose sparse solvers, on the same networks.

Usage: in a virtual environment with `pip install scipy kvxopt`:
    python tests/outside/linear_peers.py
It runs `cargo bench --no-default-features --bench linear`, which writes the nodal matrices and says how long a whole solution
takes here: looking at the structure, factoring, solving, checking. There: factoring and one solution by SciPy's `splu` (SuperLU)
and, where kvxopt has it for complex numbers, KLU, without building the matrix. Least of several runs each.
"""

import os
import subprocess
import tempfile
import time

import numpy
import scipy.io
import scipy.sparse.linalg


def fastest(work, times=9):
    best = float("inf")
    for _ in range(times):
        start = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - start)
    return best


def klu(matrix):
    """A function that factors and solves by KLU, or None."""
    try:
        from kvxopt import klu as peer, matrix as dense, spmatrix
    except ImportError:
        return None
    matrix = matrix.tocoo()
    sparse = spmatrix([complex(v) for v in matrix.data], matrix.row.tolist(), matrix.col.tolist(), matrix.shape)
    right = dense(0j, (matrix.shape[0], 1))
    right[0] = 1 + 0j

    def work():
        x = +right
        peer.linsolve(sparse, x)
        return x

    return work


def main():
    with tempfile.TemporaryDirectory() as folder:
        command = ["cargo", "bench", "--no-default-features", "--bench", "linear"]
        out = subprocess.run(
            command, env={**os.environ, "MATRIX_FOLDER": folder}, check=True, capture_output=True, text=True
        )
        for line in out.stdout.splitlines():
            fields = line.split()
            if len(fields) != 2 or not fields[0].isdigit():
                continue
            elements, own = fields[0], float(fields[1])
            matrix = scipy.io.mmread(os.path.join(folder, f"{elements}.mtx")).tocsc()
            right = numpy.zeros(matrix.shape[0], complex)
            right[0] = 1
            peers = {
                "splu": lambda: scipy.sparse.linalg.splu(matrix).solve(right),
                "splu, symmetric": lambda: scipy.sparse.linalg.splu(
                    matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.001, options={"SymmetricMode": True}
                ).solve(right),
                "klu": klu(matrix),
            }
            print(f"{elements} elements, {matrix.shape[0]} unknowns: whole solution here {1e3 * own:.3f} ms")
            for name, work in peers.items():
                if work is None:
                    print(f"  {name}: not there")
                    continue
                seconds = fastest(work)
                print(f"  {name}: {1e3 * seconds:.3f} ms; here {own / seconds:.2f} times that")


if __name__ == "__main__":
    main()
