(roundwright @VERSION@: circles corrected, case-router, poplar)
(down along the ring in halves, then a flat turn and an overlap of a quarter)
G21 G90 G17
T1 M6
M3 S12000
G0 Z5
G0 X10 Y10
G0 Z0.5
G1 X17.05 F600
G3 X2.95 Y10 Z-1 I-7.05 J0
G3 X17.05 Y10 Z-2.5 I7.05 J0
G3 X2.95 Y10 Z-4 I-7.05 J0
G3 X17.05 Y10 I7.05 J0
G3 X2.95 Y10 I-7.05 J0
G3 X17.05 Y10 I7.05 J0
G3 X10 Y17.05 I-7.05 J0
G1 X10 Y10
G0 Z5
M30
