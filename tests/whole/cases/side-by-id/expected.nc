(roundwright @VERSION@: circles corrected, case-router, poplar)
G21 G90 G17
T1 M6
M3 S12000
G0 Z5
G0 X20.01 Y0
G1 Z-1 F300
G3 X20.01 Y0 I-20.01 J0 F1200
G0 Z5
M30
