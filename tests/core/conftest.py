"""Settings of the property tests: examples have no deadline, since the machine is shared."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("stripewright", deadline=None)
settings.load_profile("stripewright")
