"""What the bar does under its travel: the geometrically exact beam, and the swept solid."""

import numpy as np

# glibc gives freed arrays of a megabyte back to the system at once and asks for them again, page by page, in the next
# line: a sixth of a check's time. It stops doing so once it has seen a block just below its own limit of 32 MiB come
# and go. No byte of it is touched, so that no memory is taken; other allocators don't care.
np.empty(31 << 20, np.uint8)
