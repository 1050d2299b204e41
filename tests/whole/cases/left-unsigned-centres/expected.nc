(I J without signs: quarters show it, so that the full circle's I is believed no more than theirs)
G21 G90 G17
T1 M6
M3 S12000
G0 Z5
G0 X10 Y10
G1 Z-3 F300
G1 X17 F1200
G3 X10 Y17 I7 J0
G3 X3 Y10 I0 J7
G3 X10 Y3 I7 J0
G3 X17 Y10 I0 J7
G1 X10
G0 Z5
G0 X50 Y10
G1 Z-3 F300
G1 X57 F1200
G3 X57 Y10 I7 J0
G1 X50
G0 Z5
M30
