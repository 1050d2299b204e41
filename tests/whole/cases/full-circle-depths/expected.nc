(roundwright @VERSION@: circles corrected, case-router, poplar)
(full circles, plunge on the ring, three depths)
G21 G90 G17
T1 M6
S16000 M3
G0 Z5
G0 X22.05 Y20
G0 Z1
G1 Z-4 F400
G3 X22.05 Y20 I-2.05 J0 F1200
G1 Z-8 F400
G3 X22.05 Y20 I-2.05 J0 F1200
G1 Z-12 F400
G3 X22.05 Y20 I-2.05 J0 F1200
G0 Z5
G0 X0 Y0
M30
