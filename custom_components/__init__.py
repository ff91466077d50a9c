"""Home Assistant's folder of custom integrations."""
