G21 G90 G17
T1 M6
M3 S12000
(where the tool stands is known to nobody but the one who jogged it there)
G1 Z-3 F300
G3 I-2.5 J0 F1200
G0 Z5
M30
