"""What stands where in the arrays that Python and the wire process share.

``state`` (float): 0 gap [m], 1 feed speed [m/s], 2 heat of the contact spot (1: melts), 3 heat of the extension (1:
melts), 4 share of the spot, 5 neck of the bridge (1 to 0), 6 melted wire in the drop [m], 7 reach of the drop's
spread (random), 8 contact resistance [ohm], 9 time since the arc was lost, 0 while it lives [s], 10 gap after the next
rupture [m], 11 stub length [m], 12 contact tube resistance [ohm], 13 time in this contact [s], 14 current at the last
tick [A], 15 melted length in all [m], 16 squared current as the melting end feels it [A2], 17 warmth of the extension
(0 cold, 1 as in steady welding), 18 and 19 conductance of an arc with a memory, after Cassie and after Mayr [S] (0: to
be begun), 20 current at its last small tick [A], 21 time of that [quanta], 22 slope of that current [A/s], 23 time
that an arc has spent below its least current [s], 24 voltage at the beginning of this tick [V], or unknown.

``count`` (int64): 0 condition (CLEAR, TOUCHING, BURNING, BRIDGED, OUT), 1 event pending (+1), 2 events of the wire, 3
seed, 4 trial, 5 touches, 6 ruptures, 7 losses, 8 re-ignitions, 9 ticks made, 10 bad ticks within the ring, 11 tick at
which the arc was struck (-1), 12 rows recorded, 13 stubs, 14 bridges, 15 ticks burning or bridged, 16 ticks in short
circuit, 17 ticks out, 18 time of the trigger [quanta],
19 ticks in solid contact.

``told`` (float): 0 largest short-circuit current [A], 1 largest rise in a short [A/s], 2 charge while burning [A s],
3 energy at the arc circuit [J], 4 sum of rupture currents, 5 largest rupture current, 6 charge in shorts [A s], 7
volt-seconds while burning, 8 volt-seconds in shorts, 9 least current while burning [A].
"""

CLEAR, TOUCHING, BURNING, BRIDGED, OUT = 0, 1, 2, 3, 4
TRIAL_OVER, NEED_ROWS, TOO_MANY_LOSSES = 10, 11, 12
OPEN, CONTACT, FALLING, ARC = 0, 1, 2, 3  # kinds of segments; contact levels are CONTACT + 10 * level

# Places in ``constants``; runs/wire_runs.py fills them from parts/wire.py.
(
    DIAMETER,
    SECTION,
    FEED,
    RUN_IN,
    MOTOR_TAU,
    HEIGHT,
    ARC_VOLTAGE,
    ARC_GRADIENT,
    ARC_RESISTANCE,
    FALLING_VOLTAGE,
    FALLING_CURRENT,
    MELT_ALPHA,
    MELT_BETA,
    RESISTIVITY,
    TUBE,
    TUBE_SPREAD,
    COLD_LOW,
    COLD_HIGH,
    SPOT_LOW,
    SPOT_HIGH,
    ACTION,
    SPOT_TAU,
    BRIDGE_RESISTANCE,
    DRAIN_BASE,
    DRAIN_CURRENT,
    GAP_BRIDGE_LOW,
    GAP_BRIDGE_HIGH,
    GAP_SPOT_LOW,
    GAP_SPOT_HIGH,
    GAP_LONG_LOW,
    GAP_LONG_HIGH,
    REACH_BASE,
    REACH_GROWTH,
    REACH_SPREAD,
    REIGNITE_FIRST,
    REIGNITE_LATER,
    REIGNITE_TIME,
    REIGNITE_LOST,
    DEAD_TIME,
    LEAST_CURRENT,
    STUB_LENGTH,
    FIRST_GAP_LOW,
    FIRST_GAP_HIGH,
    HEAT_TAU,
    DROP_LIMIT,
    GAP_RISE_TIME,
    RESISTIVITY_COLD,
    ARC_MEMORY,
    ARC_TAU,
    ARC_POWER,
    ARC_LEVEL,
    STRUCK_SPAN,
    STRUCK_BAD,
    TRIAL_LENGTH,
    FEED_DELAY,
    RELEASE,
) = range(56)
CONSTANTS = 56
STATES = 25
NO_MEMORY, CASSIE, MAYR, BOTH = 0, 1, 2, 3  # values of ARC_MEMORY
SMALL_TICKS = 6  # an arc with a memory advances 2^6 times in a tick of the process
LOST_SHARE = 0.2  # of the hold limit: a memory that falls below it is over
OFF_VOLTAGE = 200.0  # [V] that then brings the last of its current to zero, within microseconds
# What a random number is for; with seed, trial and number of the event it says which number it is.
PHASE, FIRST_GAP, TUBE_DRAW, SPOT_DRAW, CONTACT_DRAW, GAP_DRAW, REACH_DRAW = range(7)
