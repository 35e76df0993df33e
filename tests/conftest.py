"""Settings for all tests."""

from __future__ import annotations

import os
import sys
from pathlib import Path

for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS"):
    os.environ.setdefault(name, "1")

sys.path.insert(0, str(Path(__file__).parent))
