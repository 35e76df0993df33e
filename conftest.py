"""Let the tests find the installed package, not the folder beside them.

`python -m pytest` puts the folder it is started in first on the import path. In an
editable install the same folder stands on the path a second time, and stays.
"""

from __future__ import annotations

import sys
from pathlib import Path

if sys.path and Path(sys.path[0]).resolve() == Path(__file__).parent.resolve():
    del sys.path[0]
