(a loop and a test round holes: positions are given anew inside and behind)
G21 G90 G17
T1 M6
M3 S12000
G0 Z5
O100 while [#1 LT 3]
G0 Z5
G0 X10 Y10
G1 Z-3 F300
G1 X17 F1200
G3 X17 Y10 I-7 J0
G1 X10
#1=[#1+1]
O100 endwhile
G0 Z5
G0 X50 Y10
G1 Z-3 F300
G1 X57 F1200
G3 X57 Y10 I-7 J0
G1 X50
G0 Z5
M30
