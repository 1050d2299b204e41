(roundwright @VERSION@: circles corrected, case-router, poplar)
G21 G90 G17
T1 M6
M3 S12000
G0 Z5
G0 X42.55 Y40
G1 Z-3 F300
G2 X42.55 Y40 I-2.55 J0 F1200
G1 Z-6 F300
G2 X42.55 Y40 I-2.55 J0 F1200
(last one the other way)
G3 X42.55 Y40 I-2.55 J0
G0 Z5
M30
