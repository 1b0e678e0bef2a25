"""A world of its own, against which the diagnosis is measured: movements, faults and an instrument that are not the
tool's priors. Only the engine is shared, so this holds the inference, not the physics."""
