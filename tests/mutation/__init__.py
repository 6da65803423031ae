"""Do the tests notice? Small changes of the code (mutants) that they must not let pass."""
