(roundwright @VERSION@: circles corrected, case-router, poplar)
G21 G90 G17
T1 M6
M3 S12000
(a deep hole, then a shallow one of the same size beside it, tool kept low)
G0 Z2
G0 X22.55 Y20
G1 Z-10 F300
G3 X22.55 Y20 I-2.55 J0 F900
G0 Z2
G0 X62.55
G1 Z-4 F300
G3 X62.55 Y20 I-2.55 J0 F900
G0 Z2
M30
