"""Plans as they are made: their text changed key by key, checked, compared and kept."""
