"""Arrays and bytes only: read, colour, resample, sharpen, encode, measure.

Nothing here knows the config, writes a log line or asks for the time.
"""

import cv2

# One thread for each worker: more gain next to nothing, and the same bytes come out whatever else runs.
cv2.setNumThreads(1)
