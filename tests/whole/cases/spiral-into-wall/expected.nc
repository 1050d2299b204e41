(roundwright @VERSION@: circles corrected, case-router, poplar)
(opens in half circles, then goes round once: the last half turn of the spiral ends on the wall)
G21 G90 G17
T1 M6
M3 S12000
G0 Z5
G0 X40 Y40
G1 Z-3 F300
G3 X36 Y40 I-2 J0 F1200
G3 X44 Y40 I4 J0
G3 X31.95 Y40 I-6.025 J0
G3 X48.05 Y40 I8.05 J0
G3 X48.05 Y40 I-8.05 J0
G1 X40
G0 Z5
M30
