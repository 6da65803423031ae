"""The settings: one TOML file as frozen models, with all mistakes reported at once.

Receives a path (or the options of the short form), hands on `models.Settings`. Nothing is imported here, so
that pydantic is loaded only by those who load settings.
"""
