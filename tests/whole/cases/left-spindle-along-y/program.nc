(the spindle of this machine points along Y: a circle in XY is no hole of it)
G21 G90 G17
T1 M6
M3 S12000
G0 Z5
G0 X12.5 Y10
G1 Z-3 F300
G3 X12.5 Y10 I-2.5 J0 F1200
G0 Z5
M30
