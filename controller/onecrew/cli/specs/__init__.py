"""What can be typed: every command's arguments and help. Light; a body is imported when its command runs."""
