"""The same bytes on every processor. OpenBLAS, which numpy brings, has a kernel for each kind of them, and each sums in
an order or with a rounding of its own. OPENBLAS_CORETYPE chooses one (OpenBLAS' documentation), as if on that kind."""

import json
import os
import subprocess
import sys

import pytest
from repo_paths import DEMOS

JOB = DEMOS / "bow_tank.toml"

KIT = """
import hashlib, json, sys
import numpy as np
from tackwright.core.files.kit_folder import kit_files
from tackwright.core.files.read_mesh import read_mesh
from tackwright.core.files.job import read_job
from tackwright.core.make_kit import make_kit

def digest(data):
    return hashlib.sha256(data).hexdigest()

some = np.random.default_rng(0).normal(size=(64, 64))
job = read_job(sys.argv[1])
kit = make_kit(read_mesh(job.mesh_path, unit=job.unit), job.choices)
files = {name: digest(data) for name, data in kit_files(kit)}
print(json.dumps([digest((some @ some).tobytes()), files]))
"""


def test_a_kit_is_the_same_to_the_byte_under_two_kernels():
    runs = [
        subprocess.Popen([sys.executable, "-c", KIT, str(JOB)], stdout=subprocess.PIPE, text=True,
                         env={**os.environ, "OPENBLAS_CORETYPE": kernel})
        for kernel in ("Sandybridge", "Haswell")
    ]
    (sums, one), (others, two) = (json.loads(run.communicate()[0]) for run in runs)
    if sums == others:
        pytest.skip("numpy's BLAS has no two of these kernels here")
    assert len(one) > 10 and one == two
