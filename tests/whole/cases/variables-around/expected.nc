(roundwright @VERSION@: circles corrected, case-router, poplar)
(variables before, between and behind: what meets none of them is corrected)
G21 G90 G17
T1 M6
M3 S12000
#100=40
G0 Z5
G0 X#100 Y10
G0 X10 Y10
G1 Z-3 F300
G1 X17.05 F1200
G3 X2.95 Y10 I-7.05 J0
#101=[#100+1]
G3 X17.05 Y10 I7.05 J0
G1 X10
G0 Z5
G0 X[#100+10] Y90
G1 Z-3 F300
G3 I-7 J0 F1200
G0 Z5
G0 X#100 Y60
G0 X90 Y10
G1 Z-3 F300
G1 X97.05 F1200
G3 X97.05 Y10 I-7.05 J0
G1 X90
G0 Z5
M30
