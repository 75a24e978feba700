"""What a run is made on, and the guard in front of it. :func:`stagecall.rigs.registry.open_rig` is the only door."""
