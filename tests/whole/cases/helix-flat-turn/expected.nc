(roundwright @VERSION@: circles corrected, case-router, poplar)
G21 G90 G17
T1 M6
M3 S12000
G0 Z4
G0 X60 Y40
G1 Z0.2 F300
G1 X68.55 F900
G3 Z-2 I-8.55
G3 Z-4 I-8.55
G3 Z-6 I-8.55
G3 I-8.55
G1 X60
G0 Z4
M30
