"""Rig: which lamp sits where, that it answers, and where the packets go."""
