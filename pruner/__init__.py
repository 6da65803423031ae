"""Contact-database pruner and fitter for digital-voice radio.

The library is usable without the command line and prints nothing. `pruner.job` runs the whole job;
every other module does one step of it.
"""

__version__ = "0.1.0"
