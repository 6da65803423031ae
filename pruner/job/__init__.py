"""The whole job: settings in, files and a summary out. The only place that knows all stages."""

import gc

# Modules are made of hundreds of thousands of objects, and all of them stay: the collector need not walk over them, neither
# while they are imported nor later.
_was_enabled = gc.isenabled()
gc.disable()
try:
    from pruner.job.run import Loaded, RunResult, load, run

    gc.freeze()
finally:
    if _was_enabled:
        gc.enable()

__all__ = ["Loaded", "RunResult", "load", "run"]
