(roundwright @VERSION@: circles corrected, case-router, poplar)
(a call between two holes; behind it the place is given again. The body is left alone)
G21 G90 G17
T1 M6
M3 S12000
G0 Z5
G0 X10 Y10
G1 Z-3 F300
G1 X17.05 F1200
G3 X17.05 Y10 I-7.05 J0
G1 X10
G0 Z5
M98 P200
G90
G0 X50 Y10
G1 Z-3 F300
G1 X57.05 F1200
G3 X57.05 Y10 I-7.05 J0
G1 X50
G0 Z5
M30
O200
G91
G1 Z-8 F300
G1 X5 F1200
G3 I-5 J0
G1 X-5
G0 Z8
G90
M99
