"""The whole job: settings in, files and a summary out. The only place that knows all stages."""

from pruner.pipeline.job import Loaded, RunResult, load, run

__all__ = ["Loaded", "RunResult", "load", "run"]
