"""What faults of disk, files, power and clock do to a served run."""
