"""Ranks do not hang on the number of threads of the algebra below the optimizer."""

from __future__ import annotations

import os
import subprocess
import sys

import numpy as np
import pytest

from pruner.calls.steady import steady

FIT = """
import numpy as np
from pruner.calls.blend import blend_weights
from pruner.calls.buy_till_you_die import Histories, fit_bg_nbd
for seed in range(4):
    random = np.random.default_rng(seed)
    count = 400
    age = random.integers(20, 60, count).astype(float)
    repeats = random.negative_binomial(0.6, 0.15, count).astype(float)
    recency = np.where(repeats > 0, np.floor(age * random.random(count)), 0.0)
    print(fit_bg_nbd(Histories(repeats, recency, age, np.ones(count))))
    print(blend_weights(random.gamma(0.5, 2.0, (count, 5)), random.poisson(1.5, count).astype(float)).tolist())
"""


def test_six_digits_stay_and_next_to_nothing_is_nothing() -> None:
    assert steady(np.array([0.58203201995, 7e-18, 123456789.0, 0.0])).tolist() == [0.582032, 0.0, 123457000.0, 0.0]


@pytest.mark.long
@pytest.mark.skipif((os.cpu_count() or 1) < 2, reason="one processor")
def test_the_same_parameters_with_one_thread_and_with_two() -> None:
    told = {
        subprocess.run(
            [sys.executable, "-c", FIT],
            env=os.environ | {"OPENBLAS_NUM_THREADS": threads},
            check=True,
            stdout=subprocess.PIPE,
            text=True,
        ).stdout
        for threads in ("1", "2")
    }
    assert len(told) == 1
    assert told.pop().count("\n") == 8
