"""The virtual room: the lamps' light on the plan, as it arrives."""
