(an eight: the path goes from one hole into the other at one point)
G21 G90 G17
T1 M6
M3 S12000
G0 Z5
G0 X40 Y40
G1 Z-3 F300
G3 X40 Y40 I-10 J0 F1200
G2 X40 Y40 I10 J0
G0 Z5
M30
