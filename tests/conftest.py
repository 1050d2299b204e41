"""For all tests: a property may take its time, for the machine may be busy; nothing here is a timed test."""

from hypothesis import settings

settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")
