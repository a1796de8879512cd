"""How much is read at most, each bound with its reason. They are counted while reading, not after.

Ten hours of 130 columns four times a second are 100 MB in 144,000 rows: every bound lies far above what recorders
write, and low enough that no file takes the machine with it.
"""

from __future__ import annotations

#: One log, unpacked: five times the largest that is known; its table and its text fit into a small machine's memory.
MAX_LOG_BYTES = 512 * 1024 * 1024
#: Rows of one log: over a month of recording four times a second.
MAX_ROWS = 12_000_000
#: Cells of one row: eight times as many as the widest recorders write.
MAX_COLUMNS = 1_000
#: One line: a thousand cells of a thousand letters. Longer is no row of readings.
MAX_LINE_BYTES = 1024 * 1024
#: A log whose rows are not alike is gone through line by line, at some five times its size in memory.
MAX_IRREGULAR_BYTES = 128 * 1024 * 1024
MAX_IRREGULAR_ROWS = 2_000_000
#: Files in one archive: ten years of a busy aircraft's flights.
MAX_MEMBERS = 5_000
#: All logs in the archives of one call, unpacked.
MAX_UNPACKED_BYTES = 8_000_000_000
#: One file sent to the pages, as it is and unpacked.
MAX_UPLOAD_BYTES = 500_000_000
#: All files sent to the pages and not kept yet.
MAX_STAGED_BYTES = 8_000_000_000
#: Those of one person.
MAX_OWNED_BYTES = 4_000_000_000
