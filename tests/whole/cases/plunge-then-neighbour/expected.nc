(roundwright @VERSION@: circles corrected, case-router, poplar)
G21 G90 G17
T1 M6
M3 S12000
(holes that follow each other; each rapid goes to the next ring)
G0 Z5
G0 X12.05 Y10
G1 Z-3 F300
G3 I-2.05 J0 F1200
G0 Z5
G0 X30 Y12.05
G1 Z-3 F300
G3 I0 J-2.05 F1200
G0 Z5
G0 X48 Y12.
G0 X47.95 Y10
G1 Z-3 F300
G3 I2.05 J0 F1200
G0 Z5
M30
