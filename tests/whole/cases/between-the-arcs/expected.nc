(roundwright @VERSION@: circles corrected, case-router, poplar)
(dwell, coolant, a comment, feeds and a line number between the arcs; G3 and axes left out)
G21 G90 G17
T1 M6
M3 S12000
G0 Z5
G0 X10 Y10
G1 Z-3 F300
X17.05 F1200
G3 X10 Y17.05 I-7.05
G4 P0.5
(half way to the left)
F900
X2.95 Y10 J-7.05
M8
N200 X10 Y2.95 I7.05 (bottom)
; and home
M9
F1200 X17.05 Y10 J7.05
G1 X10
G0 Z5
M30
