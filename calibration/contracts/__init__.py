"""What every photometer promises, as tests that a plug-in's author runs too. Needs pytest.

Nothing else imports this folder.
"""

import pytest

pytest.register_assert_rewrite("calibration.contracts.photometer")
