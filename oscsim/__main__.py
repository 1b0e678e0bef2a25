"""``python -m oscsim``: the same as the command ``oscsim``."""

import sys

from oscsim.cli import main

sys.exit(main())
