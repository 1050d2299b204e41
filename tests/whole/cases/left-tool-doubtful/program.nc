(stops, with nothing to say whether the spindle runs: is a tool changed here?)
G21 G90 G17
G0 Z5
G0 X12.5 Y10
G1 Z-3 F300
G1 X20 F600
G0 Z5
M0
G0 X52.5 Y10
G1 Z-3 F300
G3 X52.5 Y10 I-2.5 J0 F1200
G0 Z5
M30
