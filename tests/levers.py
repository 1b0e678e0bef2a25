"""Bundled designs with a lever escapement, on stones or on pins: for tests of what only these have, or of stacks."""

import oscsim
from oscsim.parts.escapement import Escapement

LEVERS = [name for name in oscsim.bundled() if isinstance(oscsim.load(name).escapement, Escapement)]
