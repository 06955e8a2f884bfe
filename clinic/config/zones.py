"""Makes every process use the pinned tzdata package and never the system's time zone files.

The system's copy may be older than the pinned one, and two machines would then disagree about a
future appointment. Import this before anything imports zoneinfo.
"""

import os
import sys

os.environ["PYTHONTZPATH"] = ""
if "zoneinfo" in sys.modules:
    # Something (a test runner's plugin, say) was faster: the search path can still be emptied.
    sys.modules["zoneinfo"].reset_tzpath(to=[])
