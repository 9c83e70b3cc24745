"""The workshop's habits as numbers: times around a firing and room around a load.

Every number here is common practice, without a source, and appears nowhere else.
"""

MINUTE_S = 60.0

# Before the controller is started: shelf cleaned, layers laid out, or the stack dammed.
LOAD_SHEETS_S = 30 * MINUTE_S
LOAD_STACK_S = 60 * MINUTE_S
# After the kiln may be opened: the shelf is emptied, so that the next one can load.
UNLOAD_S = 30 * MINUTE_S

# Between two sheets on a shelf.
SHEET_GAP_MM = 12.0
# On each side of a stack: dam wall and the wedge that holds it.
DAM_WIDTH_MM = 50.0
# On each side of a slab or stack without dams.
BARE_MARGIN_MM = 15.0
# Above the kiln's floor: posts and shelf under a stack, and free air over it.
BELOW_STACK_MM = 50.0
ABOVE_STACK_MM = 40.0
# Glasses whose programmes differ by less than this share an enamel firing.
SAME_PROGRAMME_K = 5.0
# Bookings are proposed at full quarters of an hour.
PROPOSAL_STEP_S = 15 * MINUTE_S
# A proposal looks this far ahead.
PROPOSAL_HORIZON_S = 180 * 86400.0
# Room temperature from which every programme starts.
ROOM_C = 20.0

# A promised date with fewer days in hand than this is at risk.
DAYS_IN_HAND = 2
# A firing that waits this long to be started is late.
START_LATE_S = 60 * MINUTE_S
