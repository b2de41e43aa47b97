"""A shoot day as plain values: kit, setups, hours, power, units, geometry."""
