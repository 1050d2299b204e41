(roundwright @VERSION@: circles corrected, case-router, poplar)
(from the roughing ring to the wall ring in a half circle)
G21 G90 G17
T1 M6
M3 S12000
G0 Z5
G0 X50 Y40
G1 Z-3 F300
G1 X53.022 F1200
G3 X53.022 Y40 I-3.022 J0
G3 X42.95 Y40 I-5.036 J0
G3 X42.95 Y40 I7.05 J0
G1 X50
G0 Z5
M30
