"""What gauges of one bar say together: force, bond, slip, bending."""
