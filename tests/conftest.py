"""Settings for all tests.

`python -m pytest` puts the folder it is started in first on the import path; the tests are to find
the installed package, not the folder beside them, so that folder is taken off again. In an
editable install the same folder stands on the path a second time, and stays.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS"):
    os.environ.setdefault(name, "1")

TESTS = Path(__file__).parent.resolve()
for place in [entry for entry in sys.path[:2] if Path(entry).resolve() == TESTS.parent][:1]:
    sys.path.remove(place)
sys.path.insert(0, str(TESTS))
