(roundwright @VERSION@: circles corrected, case-router, poplar)
G21 G90 G17
T1 M6
M3 S12000
(boss 34, quarter arcs on and off, no straight)
G0 Z5
G0 X124.96 Y105
G1 Z-3 F300
G3 X119.96 Y100 J-5 F1200
G2 X119.96 Y100 I-19.96 J0
G3 X124.96 Y95 I5
G0 Z5
M30
