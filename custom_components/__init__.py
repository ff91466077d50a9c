"""Where Home Assistant looks for custom integrations; a package here, so that its tests look here too."""
