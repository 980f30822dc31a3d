"""What every procedure promises, as tests that a plug-in's author runs too. Needs pytest.

Nothing else imports this folder; its siblings are `calibration.contracts` and `stimulus.contracts`.
"""

import pytest

pytest.register_assert_rewrite("protocols.contracts.procedure")
