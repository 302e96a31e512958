"""What a lamp gives at a place: direct light, the room's bounce, exposure. Pure; lengths in metres."""
