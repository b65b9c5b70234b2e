"""A small study that solves in a fraction of a second a candidate, and one candidate of it that cannot be built."""

SMALL = """
[study]
name = "small"
frequency = "134.2 kHz"
accuracy = 0.02

[[layers]]
name = "plate"
material = "glass-ceramic"
thickness = "4 mm"

[base_coil]
turns = 40
mean_diameter = "40 mm"
radial_build = "3 mm"
winding_length = "3 mm"
under = "plate"
clearance = "0.5 mm"
wire = { diameter = "0.25 mm", overall_diameter = "0.30 mm" }

[tag]
turns = 300
core = "none"
winding_inner_diameter = "4 mm"
winding_outer_diameter = "8 mm"
winding_length = "2 mm"
series_resistance = "30 ohm"
chip = { load_resistance = "25 kohm", minimum_voltage = "0.2 V" }

[drive]
bridge = "full"
supply = "5 V"
resistance = "6 ohm"

[map]
height = { from = "6 mm", to = "30 mm", count = 4 }
offset = ["0 mm", "8 mm"]
tilt = ["0 deg", "20 deg"]

[require]
places = [{ height = "15 mm", offset = "2 mm", tilt = "5 deg" }]
at_most = { coil_voltage = "200 V" }

[sweep]
"base_coil.turns" = [40, 60, 300]
"base_coil.mean_diameter" = ["30 mm", "44 mm"]
"""
"""300 turns do not fit: two of the six candidates fail."""
