"""The commented study file a designer starts from."""

_STARTER = """\
# A study for trivet. Every dimension is a text with its unit: "30 mm", "134.2 kHz", "350 degC", "20 mil".
# Lengths are sizes of the parts as they are; heights count from the top surface of the plate (0) upward.
# Voltages and currents are peak values unless a line says otherwise. All numbers below are examples: put in your own.
#
# A heated plate, mains parts beside a low-voltage coil, hundreds of volts across a tuned coil, and a magnetic field
# near implants and magnetic media can hurt someone. What is computed is a calculation, not a safety or compliance
# approval; local codes and qualified practice decide.

[study]
name = "@name@"
frequency = "134.2 kHz"
# accuracy = 1e-3               # relative, on M and L

# The layers, from the top surface downward, each under the one before. The layers below the one the base coil lies
# under move down: by the winding's length and a clearance on either side of it.
[[layers]]
name = "plate"
material = "glass-ceramic"      # or constants: { conductivity = "1e6 S/m", relative_permeability = 1 }
thickness = "4 mm"
outer_diameter = "180 mm"

[[layers]]
name = "heater"
kind = "meander"                # solid | gap | foil (a closed sheet) | meander | open spiral
rated_power = "500 W"           # the ribbon's thickness follows, or is given: thickness = "0.02 mm"
rated_voltage = "230 V"         # rms
outer_diameter = "140 mm"
# material = "nickel-chromium 80/20"
# ribbon_width = "2.5 mm"
# pitch = "4 mm"
# temperature = "350 degC"

# Anything else that is round about the axis, by the corners [r, z] of its half section.
# [[solids]]
# name = "pan"
# material = "aluminium"
# outline = [["0 mm", "-40 mm"], ["80 mm", "-40 mm"], ["80 mm", "-38 mm"], ["0 mm", "-38 mm"]]

[base_coil]
inductance = "390 uH"           # as installed; or turns = 64
mean_diameter = "44 mm"
# radial_build = "3 mm"         # these two together, or as large as the turns need
# winding_length = "3 mm"
under = "heater"                # the layer the coil lies under
# clearance = "0.5 mm"
# laying = "layers"             # to and fro; or "layers with return", "random"

[base_coil.wire]
diameter = "0.25 mm"            # bare; or gauge = "AWG 30"
overall_diameter = "0.30 mm"    # with its covering
# temperature = "150 degC"
# rated_temperature = "200 degC"
# rated_voltage = "150 V"
# rated_current_density = "6 A/mm2"     # rms
# minimum_bend_radius = "5 mm"

# [base_coil.capacitor]         # exactly resonant where none is given
# capacitance = "3.6 nF"
# dielectric = "C0G"            # C0G | U2J | X7R | X5R | polypropylene | polyester | polyphenylene sulphide | mica
# temperature = "40 degC"

[tag]                           # a stock part by its data sheet; or its construction: turns, core, sizes
part = { inductance = "2.7 mH", dc_resistance = "11 ohm", diameter = "6 mm", height = "5 mm" }
chip = { load_resistance = "25 kohm", minimum_voltage = "3 V" }
# temperature = "20 degC"       # of core and winding
# correction = { inductance = 0.99, coupling = 1.01, added_resistance = "3 ohm" }     # as solve --whole-space prints it

# Magnets and other blocks fixed to the tag; x, y, z are the tag's axes, z along its coil. What the currents in their
# material do is for solve --whole-space alone; their remanence biases the tag's core.
# [[magnets]]
# name = "bar"
# material = "sintered neodymium-iron-boron"
# size = ["4 mm", "4 mm", "12 mm"]
# place = ["6 mm", "0 mm", "0 mm"]
# remanence = "1.2 T"           # no steady field without it
# direction = [0, 0, 1]         # from its south pole to its north pole
# Magnets of a drive stay below: z goes up from the plate's top surface.
# [[magnets]]
# name = "drive north"
# fixed_to = "drive"
# shape = "cylinder"            # its axis along z; or "block", with size
# diameter = "12 mm"
# height = "8 mm"
# place = ["20 mm", "0 mm", "-60 mm"]
# remanence = "1.2 T"
# direction = [0, 0, 1]

[drive]
bridge = "full"                 # full | half | sine (source_voltage, peak, instead of supply)
supply = "5 V"
resistance = "6 ohm"
current_limit = "150 mA"
# duty = 1.0                    # share of the time that it is on

# [link]
# mode = "half-duplex"          # or "full-duplex"
# tuning = "series"             # or "parallel"
# tuned_in = "as given"         # or "cold", or a state named below: where turns and capacitors are found
# storage = { capacitance = "150 nF", charge_time = "35 ms" }
# receiver = { minimum_voltage = "1 mV", dynamic_range = "70 dB" }

# [map]                         # where the tag is tried: a value, a list, or a range
# height = { from = "5 mm", to = "60 mm", count = 56 }
# offset = { from = "0 mm", to = "30 mm", count = 31 }
# tilt = ["0 deg", "20 deg", "90 deg"]

# [neighbour]                   # a second station like this one: what it hears while this one is driven
# spacing = "200 mm"            # from axis to axis
# level = "0 mm"                # how much higher it stands

[sweep]                         # any key above by its path; the product of all lists is run, the last one fastest
"base_coil.mean_diameter" = { from = "30 mm", to = "60 mm", count = 4 }

# States in each of which every design is judged, besides the one above and a cold one with every part at 20 degC.
# Each names parts and their temperatures, the others keep their own.
# [temperatures.hot]
# "layers.heater" = "350 degC"
# "base_coil.wire" = "150 degC"
# tag = "60 degC"

[require]                       # what a good design must do
places = [{ height = "20 mm", offset = "5 mm", tilt = "10 deg" }]
at_least = { margin = "3 dB", read_height = "30 mm" }
at_most = { coil_voltage = "300 V", current = "150 mA" }
"""


def starter_text(name: str = "my-study") -> str:
    """A commented study file that can be run as it is.

    Parameters
    ----------
    name : str
        Name of the study: letters, digits, - and _.

    Returns
    -------
    str
        TOML.
    """
    return _STARTER.replace("@name@", name)
