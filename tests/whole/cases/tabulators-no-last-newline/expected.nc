%
O1001 (HOLE)
(roundwright @VERSION@: circles corrected, case-router, poplar)
G21 G90 G17
T1 M6
M3 S12000
G0	Z5.
X12.55	Y10. (start)
G1	Z-3.	F300.
G03	X12.55	Y10.	I-2.55	J0. ; once
G00	Z5.
M30
%