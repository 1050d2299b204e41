(roundwright @VERSION@: circles corrected, case-router, poplar)
(each depth runs the other way: down on the wall, back)
G21 G90 G17
T1 M6
M3 S12000
G0 Z5
G0 X10 Y10
G1 Z-2 F300
G1 X17.03 F1200
G2 X2.97 Y10 I-7.03 J0
G2 X17.03 Y10 I7.03 J0
G1 Z-4 F300
G3 X2.97 Y10 I-7.03 J0 F1200
G3 X17.03 Y10 I7.03 J0
G1 Z-6 F300
G2 X2.97 Y10 I-7.03 J0 F1200
G2 X17.03 Y10 I7.03 J0
G1 X10
G0 Z5
M30
