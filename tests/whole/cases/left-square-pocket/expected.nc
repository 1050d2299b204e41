(a square pocket that is roughed out in full circles)
G21 G90 G17
T1 M6
M3 S12000
G0 Z5
G0 X0 Y0
G1 Z-3 F300
G1 X2 F1200
G3 I-2
G1 X4
G3 I-4
G1 X7 Y-7
G1 Y7
G1 X-7
G1 Y-7
G1 X7
G0 Z5
M30
