"""What faults of disk, files, power, clock, network, desks and contacts do to a served run."""
