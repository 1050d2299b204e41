(roundwright @VERSION@: circles corrected, case-router, poplar)
(home and machine coordinates between two depths of one hole, and straight from its wall)
G21 G90 G17
T1 M6
M3 S12000
G0 Z5
G0 X10 Y10
G1 Z-3 F300
G1 X17.05 F1200
G3 X17.05 Y10 I-7.05 J0
G1 X10
G53 G0 Z0
G53 G0 X0 Y0
M0
G0 Z5
G0 X10 Y10
G1 Z-6 F300
G1 X17.05 F1200
G3 X17.05 Y10 I-7.05 J0
G91 G28 Z0
G28 X0 Y0
G90
G0 Z5
G0 X40 Y10
G1 Z-3 F300
G1 X47.05 F1200
G3 X47.05 Y10 I-7.05 J0
G1 X40
G0 Z5
G30
M30
