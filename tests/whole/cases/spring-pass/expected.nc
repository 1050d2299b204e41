(roundwright @VERSION@: circles corrected, case-router, poplar)
G21 G90 G17
T1 M6
M3 S12000
G0 Z2
G0 X40 Y40
G1 Z-5 F300
G1 X42.75 F900
G3 I-2.75 J0
G3 I-2.75 J0
G3 I-2.75 J0
G1 X40
G0 Z2
M30
