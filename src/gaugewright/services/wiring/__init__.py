"""Circuits on channels in time: plugs, shunts, identity, connection sheets."""
