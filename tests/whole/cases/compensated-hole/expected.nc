(roundwright @VERSION@: circles corrected, case-router, poplar)
(G41: the path is the contour itself)
G21 G90 G17
T1 M6
M3 S12000
G0 Z5
G0 X50 Y40
G1 Z-3 F300
G41 D1 G1 X60.05 Y40 F1200
G3 X39.95 Y40 I-10.05 J0
G3 X60.05 Y40 I10.05 J0
G40 G1 X50 Y40
G0 Z5
M30
