"""A run: made ready (:mod:`stagecall.run.prepare`), scripted (:mod:`.session`), and turned (:mod:`.loop`)."""
