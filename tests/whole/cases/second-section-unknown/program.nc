(no T word; the run names the tool of the first section, not of the second)
G21 G90 G17
M3 S12000
G0 Z5
G0 X12.5 Y10
G1 Z-3 F300
G3 X12.5 Y10 I-2.5 J0 F1200
G0 Z5
M5
M0
M3 S12000
G0 X52.5 Y10
G1 Z-3 F300
G3 X52.5 Y10 I-2.5 J0 F1200
G0 Z5
M30
