(the table has nothing for a conventional boss of the 4 mm cutter)
G21 G90 G17
T2 M6
M3 S12000
G0 Z5
G0 X25 Y0
G1 Z-3 F300
G1 X22 F1200
G3 X22 Y0 I-22 J0
G1 X25
G0 Z5
M30
