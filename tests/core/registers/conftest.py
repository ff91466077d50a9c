"""Property tests here are judged by what they find, not by the clock of a shared machine, and leave no files behind."""

from hypothesis import settings

settings.register_profile("registers", deadline=None, database=None)
settings.load_profile("registers")
