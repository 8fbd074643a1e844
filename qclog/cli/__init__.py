"""The command line. It owns nothing.

Looking for garbage among the many objects that are loaded and stay took a tenth of the time of a short command: it is
looked for once half a million have been made.
"""

import gc

gc.set_threshold(500_000)
