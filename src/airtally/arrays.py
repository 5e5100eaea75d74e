"""The numeric types that all rooms share."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
"""An array of double precision numbers."""
Integers = NDArray[np.int64]
"""An array of whole numbers, often indices."""
Booleans = NDArray[np.bool_]
"""An array of facts, one a row."""
Number = float | Floats
"""A number or an array of them; a kernel takes and returns either."""

SIZE_CLASSES = ("0.3-1 um", "1-3 um", "3-10 um")
"""The three particle classes of the account, by optical diameter."""
