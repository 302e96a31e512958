"""Log: takes and changes as they happen."""
