"""The main fit: settings in, files and a summary out. The only room that knows all steps."""

from pruner.job.run import Loaded, RunResult, load, run

__all__ = ["Loaded", "RunResult", "load", "run"]
