"""What holds for every test."""

from __future__ import annotations

import gc

from autoplan.cli import COLLECT_EVERY

# As the console script does: it saves a tenth of the suite's time.
gc.set_threshold(COLLECT_EVERY)
