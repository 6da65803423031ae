"""The words of the project: columns, outcomes, errors, numbers, files and processes; nothing of any step."""
