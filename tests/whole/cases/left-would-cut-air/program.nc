(roughing leaves 0.02; moving the wall pass alone by -0.05 would put it where nothing is left)
G21 G90 G17
T1 M6
M3 S12000
G0 Z5
G0 X50 Y40
G1 Z-3 F300
G1 X53.50 F1200
G3 X53.50 Y40 I-3.50 J0
G1 X56.980
G3 X56.980 Y40 I-6.980 J0
G1 X57
G3 X57 Y40 I-7 J0
G1 X50
G0 Z5
M30
