(the call is made from the wall itself: a body in increments would start beside its place)
G21 G90 G17
T1 M6
M3 S12000
G0 Z5
G0 X10 Y10
G1 Z-3 F300
G1 X17 F1200
G3 X17 Y10 I-7 J0
G0 Z5
M98 P200
G90
G0 Z5
M30
O200
G91
G1 Z-8 F300
G1 X5 F1200
G1 X-5
G0 Z8
G90
M99
