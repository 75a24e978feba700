"""What is talked about: sequences, systems, kits, equipment, faults, events, verdicts. Values only."""
