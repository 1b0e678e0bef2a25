"""Array types shared by every room."""

from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

Array: TypeAlias = NDArray[np.float64]
Complex: TypeAlias = NDArray[np.complex128]
Flags: TypeAlias = NDArray[np.bool_]
Codes: TypeAlias = NDArray[np.int8]
Indices: TypeAlias = NDArray[np.intp]
#: One value or one per point: the parts' equations read the same for both.
Number: TypeAlias = float | NDArray[np.floating[Any]]
