"""A sweep of stand-ins as a program of its own, to be stopped, limited or refused.

sweep_child.py FOLDER COUNT WORK [BYTES]: BYTES is the largest size a file may have.
The last line it prints is "done N", "stopped N" with the points stored, or "OutputError: ...".
"""

from __future__ import annotations

import sys


def main(folder: str, count: str, work: str, size: str = "") -> int:
    import sweep_points
    from point_sweeps import a_sweep

    from flowsim.batch.runner import Stopped, run_sweep
    from flowsim.errors import OutputError

    if size:
        import resource

        resource.setrlimit(resource.RLIMIT_FSIZE, (int(size), resource.RLIM_INFINITY))
    sweep = a_sweep(int(count))

    def say(progress: object) -> None:
        print(f"stored {progress.finished}", flush=True)

    try:
        run_sweep(sweep, folder, jobs=2, progress=say, work=getattr(sweep_points, work))
    except Stopped as stop:
        print(f"stopped {sum(stop.outcome.counts.values()) - stop.outcome.left}", flush=True)
        return 130
    except OutputError as error:
        print(f"OutputError: {error}", flush=True)
        return 2
    print("done", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
