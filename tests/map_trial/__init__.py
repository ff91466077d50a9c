"""The command that tries a register map against a simulated inverter made from it."""
