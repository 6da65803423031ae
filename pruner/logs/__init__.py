"""Heard logs: files -> judged rows -> the store of calls; learning the pattern of a log."""
