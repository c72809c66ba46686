package main

// brief holds the demands and the fixed things of the job.
const brief = `# The brief: an active sibling for a passive two-way stand-mount that sells.
# Invented, as are all files here; no real product.
# key = value unit          # where a value has no unit, it is a plain number

# --- What it must do ---------------------------------------------------------

# Low end: the frequency that is 6 dB below the mean of the reference band, half
# space, filters included.
corner_6dB_at_most = 35.5 Hz
corner_reference_from = 100 Hz
corner_reference_to = 200 Hz

# Low-frequency plateau: the level of the flat part, the mean of the reference
# band of the corner, below which it falls to the corner; rms, half space, 1 m, one loudspeaker.
plateau_at_least = 98.5 dB
plateau_distance = 1 m
excursion_at_most = 6 mm            # peak, at that level
vent_air_at_most = 20 m/s           # peak, at that level

group_delay_low_at_most = 28 ms
group_delay_low_at = 38.5 Hz
group_delay_high_at_most = 15 ms
group_delay_high_at = 50 Hz

# Voicing: active over passive, both measured at the same position with the same
# gate, smoothed in power, one fitted level.
voicing_from = 250 Hz               # or the limit of the gate, if higher
voicing_to = 12 kHz
voicing_within = 0.75 dB            # either way
voicing_fit_within = 0.25 dB        # what the fit aims at; the rest is for spread and heat
voicing_level_from = 300 Hz
voicing_level_to = 3 kHz
voicing_smoothing = 12              # parts of an octave

idle_noise_at_most = 0 dB           # A-weighted, 1 m, sum of the ways
latency_at_most = 3 ms

# --- What is fixed: cabinet and stand ----------------------------------------

box_volume = 15.2 L                 # before the vent tube
baffle_width = 190 mm
baffle_height = 330 mm
cabinet_depth = 378 mm
edge_radius = 8 mm                  # around the front; sharp at the back
woofer_to_tweeter = 145 mm
woofer_above_lower_edge = 125 mm
tweeter_above_lower_edge = 270 mm
vent_above_lower_edge = 230 mm      # in the back, in the middle
vent_room = 250 mm                  # straight room for a tube
vent_pipe_at_least = 600 Hz         # first pipe resonance of the vent
stand_height = 0.62 m
stand_plate_width = 150 mm          # on which the cabinet stands, in the middle of its bottom
stand_plate_depth = 220 mm
stand_column_radius = 40 mm
woofer_height = 0.79 m              # above the floor, on the stand
tweeter_height = 0.935 m
listening_distance = 2.6 m

active_vent_diameter = 52 mm        # inside
active_vent_wall = 3 mm
passive_vent_diameter = 54 mm
passive_vent_wall = 3 mm
passive_tuning = 49 Hz
passive_choke_resistance = 0.32 ohm
passive_crossover = 2.3 kHz

# --- What is fixed: electronics ----------------------------------------------

woofer_amplifier_volts = 26 V       # peak
woofer_amplifier_amperes = 12 A     # short-term, at least
tweeter_amplifier_volts = 20 V      # peak
amplifier_gain = 20 dB
converter_range = 112 dB            # A-weighted, re converter_full_scale
converter_full_scale = 2 V          # rms
sample_rate = 96 kHz
`
