(the body says neither G90 nor G91, and it is called in G91: no number of it is a place)
G21 G90 G17
T1 M6
M3 S12000
G0 Z5
G0 X50 Y10
G91
M98 P200
G90
G0 Z5
M30
O200
G1 X7 Y0 F1200
G1 Z-8 F300
G3 I-7 J0
G1 X-7 Y0 F1200
G0 Z8
M99
