"""A simulated inverter made from a register map: it serves the map's registers and shows which windows would act."""
