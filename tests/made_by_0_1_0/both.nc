%
(drip groove round a roof board, print side down)
(tool 3, 8 mm)
(Z0 is the bed surface, the top of the board is Z21)
(repeat of program roof-groove at roof a C7EE-615E, shelf a 9DA2-972A)
(section 1 of 2, station roof a C7EE-615E)
M5
G21 G90
G17 G40 G80
G53 G0 Z-5.000
(setup roof a C7EE-615E from here)
(bed long-bench, jig bare stock, edge G6 J6, stop F8, F6 stays empty)
(Z NOT SET BY THIS BLOCK, SET IT IN G59, NOT BY G92)
(G59 Z0 IS 0.000 MM ABOVE THE BED SURFACE)
(TOOL TIP ON THE BED SURFACE MUST READ Z0.000)
(NOTE pin peg-20 of station end-bars in I8 stands under or in the way of bare stock)
G21 G90
G17 G40 G80
G92.1
G10 L2 P6 X566.000 Y561.000
G59
(MM STAYS ACTIVE, setup C7EE-615E to here)
G21
G0 X32.000 Y18.000
G21 G17 G90 G40 G80
G59
T3 M6
S16000 M3
G0 Z65
(round 1 of 2)
G0 X32 Y18
G0 Z23
G1 Z18.5 F500
G1 X468 F2600
G3 X482 Y32 I0 J14
G1 Y198
G3 X468 Y212 I-14 J0
G1 X32
G3 X18 Y198 I0 J-14
G1 Y32
G3 X32 Y18 I14 J0
(round 2 of 2)
G1 Z16 F500
G1 X468 F2600
G3 X482 Y32 I0 J14
G1 Y198
G3 X468 Y212 I-14 J0
G1 X32
G3 X18 Y198 I0 J-14
G1 Y32
G3 X32 Y18 I14 J0
G0 Z65
M5
(section 1 to here)
(section 2 of 2, station shelf a 9DA2-972A)
M5
G21 G90
G17 G40 G80
G53 G0 Z-5.000
(setup shelf a 9DA2-972A from here)
(bed long-bench, jig bare stock, edge J1 N1, stop I2, I1 stays empty)
(Z NOT SET BY THIS BLOCK, SET IT IN G59.3, NOT BY G92)
(G59.3 Z0 IS 0.000 MM ABOVE THE BED SURFACE)
(TOOL TIP ON THE BED SURFACE MUST READ Z0.000)
(NOTE pin peg-20 of station right in L2 stands under or in the way of bare stock)
(NOTE pin peg-20 of station right in N3 stands under or in the way of bare stock)
G21 G90
G17 G40 G80
G92.1
G10 L2 P9 X866.000 Y61.000
G59.3
(MM STAYS ACTIVE, setup 9DA2-972A to here)
(IS STATION shelf LOADED, IS IT CLAMPED, ARE ALL HANDS CLEAR)
M0
G21
G0 X32.000 Y18.000
G21 G17 G90 G40 G80
G59.3
T3 M6
S16000 M3
G0 Z65
(round 1 of 2)
G0 X32 Y18
G0 Z23
G1 Z18.5 F500
G1 X468 F2600
G3 X482 Y32 I0 J14
G1 Y198
G3 X468 Y212 I-14 J0
G1 X32
G3 X18 Y198 I0 J-14
G1 Y32
G3 X32 Y18 I14 J0
(round 2 of 2)
G1 Z16 F500
G1 X468 F2600
G3 X482 Y32 I0 J14
G1 Y198
G3 X468 Y212 I-14 J0
G1 X32
G3 X18 Y198 I0 J-14
G1 Y32
G3 X32 Y18 I14 J0
G0 Z65
M5
(section 2 to here)
M30
%
