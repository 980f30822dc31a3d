"""What every button and every export promises, as tests that a plug-in's author runs too.

`exams.py` makes invented exams to export. Needs pytest; nothing else imports this folder.
"""

import pytest

pytest.register_assert_rewrite("stimulus.contracts.button", "stimulus.contracts.export")
