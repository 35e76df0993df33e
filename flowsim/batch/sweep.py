"""A sweep from Python in one call, as the command runs it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Literal

from flowsim.batch.plan_points import Sweep
from flowsim.batch.read_sweep import read_sweep
from flowsim.batch.runner import Outcome, Progress, run_sweep
from flowsim.batch.store import Store
from flowsim.batch.summary import table_of
from flowsim.report.write_sweep import write_sweep

__all__ = ["sweep"]


def sweep(
    plan: Sweep | Path | str,
    folder: Path | str,
    *,
    jobs: int | None = None,
    engine: Literal["local", "dask"] = "local",
    scheduler: str | None = None,
    limit: int | None = None,
    retry_failed: bool = False,
    progress: Callable[[Progress], None] | None = None,
) -> Outcome:
    """Run the points that a folder does not hold yet, and write its table and page.

    Parameters
    ----------
    plan : Sweep, Path or str
        A sweep file, or what `read_sweep` or `sweep_from_python` gives. [-]
    folder : Path or str
        Where rows, table, page and field files go; the same call goes on where it stopped. [-]
    jobs : int or None
        Worker processes; None = one per processor this process may use. [-]
    engine : {"local", "dask"}
        Processes of this machine, or a Dask cluster. [-]
    scheduler : str or None
        Address of a Dask scheduler, which means "dask"; None = this machine. [-]
    limit : int or None
        Most points to run now. [-]
    retry_failed : bool
        Whether points that failed are run again. [-]
    progress : callable or None
        Told how far it is, often. [-]

    Returns
    -------
    Outcome
        How the sweep stands; ``results.csv`` and ``sweep.html`` are in the folder. [-]

    Raises
    ------
    CaseError
        If the sweep file or its case is faulty; lists all faults.
    OutputError
        If the folder cannot be used or the disk refuses; what was stored stays.
    FlowsimError
        If no worker can be started.

    Notes
    -----
    Ctrl-C raises a `KeyboardInterrupt` after what had finished was stored. A script that calls
    this needs the line ``if __name__ == "__main__":``, as every worker process reads the script.
    """
    asked = plan if isinstance(plan, Sweep) else read_sweep(plan)
    outcome = run_sweep(
        asked,
        folder,
        jobs=jobs,
        engine="dask" if scheduler is not None else engine,
        scheduler=scheduler,
        limit=limit,
        retry_failed=retry_failed,
        progress=progress,
    )
    with Store.read(folder) as store:
        table = table_of(store)
    write_sweep(table, folder)
    return outcome
