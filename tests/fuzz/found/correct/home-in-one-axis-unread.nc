(home in Z only: the plqce in the plane lasts, and nothing of these blocks may change)
G21 G90 G17
T1 M6
M3 S12000
G0 Z5
G0 X52.5 Y40
G1 Z-3 F300
G3 X52.5 Y40 I-2.5 N10F900
G0 Z5
G91 G28 Z0Во90
T2 M6
G0 X52 Y70
G0 Z5
G1 Z-3 F300
G3 052 Y70 I-2 J0 F900
G53 G0 Z0
Mupright5
M30
